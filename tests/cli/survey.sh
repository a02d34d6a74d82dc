#!/bin/sh
# A survey from readings made elsewhere, for people and for scripts; the drawing.
tab=$(printf '\t')
readings() {
  while read -r fret cents error; do printf '%s\t%s\t%s\n' "$fret" "$cents" "$error"; done
}
# At 650 mm the nut 0.50 mm too far back and the saddle 1.20 mm too near, and some scatter.
readings >both.tsv <<END
1 1.65 0.2
3 1.80 0.2
5 2.55 0.2
7 2.80 0.2
9 3.60 0.2
12 4.45 0.2
END
# To what is the same on every machine.
rounded() { sed -E 's/([0-9]\.[0-9]{4})[0-9]*/\1/g'; }
setback survey --scale 650mm --readings both.tsv
echo
setback survey --scale 650mm --readings both.tsv --weights 1-5:3,12:0 --json | rounded
printf 'fret\tcents\tstd_error\n# fret 7 is sharp\n1\t0.1\t0.2\n2\t-0.1\t0.2\n3\t0\t0.2\n5\t0.2\t0.2\n7\t3.1\t0.2\n9\t-0.2\t0.2\n12\t0.1\t0.2\n\n' >fret.tsv
LC_ALL=C setback survey --scale 25.5in --readings fret.tsv
readings <<END | setback survey --scale 650mm --string 'G3:17' --action 12:1.6mm --first-fret 1mm --readings - | head -n 8
1 5.56 0.2
2 3.70 0.2
3 3.05 0.2
5 2.55 0.2
7 2.40 0.2
9 2.25 0.2
12 2.15 0.2
END
printf '5\t2.2\t0.2\n12\t5.4\t0.2\n' | setback survey --scale 650mm --readings - | head -n 1
printf '7%s1.6\n9 1.5\n12 1.7\n15 1.6\n17 1.5\n' "$tab" | setback survey --scale 650mm --readings - | head -n 1
# The drawing appears whole, and never over another.
setback survey --scale 650mm --readings both.tsv --svg neck.svg >/dev/null
head -n 1 neck.svg && tail -n 1 neck.svg && grep -c '<circle' neck.svg && ls -A
echo kept >neck.svg
setback survey --scale 650mm --readings both.tsv --svg neck.svg
cat neck.svg
setback survey --scale 650mm --readings both.tsv --svg neck.svg --force | head -n 1
grep -c '</svg>' neck.svg
