#!/bin/sh
# Compensation from the strings: the published setting of a nylon string (Anderson & Beausoleil
# 2024: normal E4, saddle 1.48, nut -0.36 mm, 0.143 cent), a steel set, one saddle for all, other
# strings on an instrument of the book, and inharmonicities measured from the shipped recordings
# (whose cores are .014, .014 and .016 in: 0.3556 and 0.4064 mm).
shorten() {
  sed -E 's/(\.[0-9]{4})[0-9]+/\1/g'
}
nylon='--scale 650mm --string E4:0.712mm --unit-mass 0.374g/m --core 0.712mm --modulus 8.33GPa'
# shellcheck disable=SC2086 # words are wanted
setback predict $nylon --nut-height 1mm --rise 4mm --finger 0mm --frets 1-12 --nut --json | shorten
# shellcheck disable=SC2086 # words are wanted
for ends in pinned hybrid clamped; do
  setback predict $nylon --nut-height 1mm --rise 4mm --nut --ends $ends --json |
    sed -E 's/.*("saddle_setback_mm":[0-9.]{5}).*("nut_setback_mm":-[0-9.]{5}).*/\1 \2/'
done
setback predict --scale 25.5in --string E4:10,B3:13,G3:17 --string D3:26w,A2:36w,E2:46w \
  --action17 4.5/64in --first-fret 0.020in --relief 0.010in
setback predict --scale 650mm --string E4:28,B3:32,G3:40,D3:29w,A2:35w,E2:43w \
  --nut-height 1mm --rise 4mm --nut --saddles one --frets 1,5,12
setback predict --scale 650mm --string E4:28,B3:32 --tension 15.4lbf,- --material nylon \
  --action 12:3.2mm --saddles one --shape flat --json | shorten
setback book add practice --kind electric --thread 4-40
setback book add old --kind acoustic
setback predict practice --action17 1.8mm --restring E4:9,B3:11,G3:16,D3:24w,A2:32w,E2:42w
setback predict old --action 12:2.4mm --restring E4:11,B3:15,G3:23w,D3:31w,A2:41w,E2:52w
setback predict old --action 12:2.4mm --restring D4:12,A3:16,G3:24w,D3:32w,A2:42w,D2:53w --json |
  shorten | sed 's/.*"restring"/"restring"/; s/"was":\[.*\],"strings":\[{"string":1,"move/"strings":[{"string":1,"move/'
for string in 4-D3 5-A2 6-E2; do
  setback measure --scale 25.5in --take "$FIXTURES/demo-$string.flac" --json
done >heard
setback predict practice --action17 1.8mm --from-readings heard --json |
  grep -o '"note":"[A-G]*[0-9]"\|"core_mm":[0-9.]\{5\}\|"bending_from":"[a-z]*"' | paste -s -d '  \n'
setback predict practice --action17 1.8mm --from-readings heard | tail -n 6
# The log keeps what was heard of a string; what was heard before it was strung anew does not count.
setback book export >whole
{
  sed '$d' whole
  echo '{"event":"reading","at_ms":1,"string":6,"data":{"open":{"inharmonicity":3e-4}}}'
  sed -n 's/.*"spacing_mm":[0-9.]*,\("strings":\[[^]]*\]\).*/{"event":"strings","at_ms":2,"string":0,"data":{\1}}/p' \
    whole | tail -n 1
  for b in 8.2e-5 8.4e-5; do
    echo '{"event":"reading","at_ms":3,"string":6,"data":{"open":{"inharmonicity":'$b',"inharmonicity_std_error":1e-6}}}'
  done
  echo '{"end":"setback.book/1","instruments":2,"events":6}'
} >longer
setback book import --book heard.db longer
setback predict practice --book heard.db --action17 1.8mm --from-readings book --json |
  grep -o '"inharmonicity":[0-9.]*e-5,"inharmonicity_std_error":[0-9.]*e-[67]' | tail -n 1
