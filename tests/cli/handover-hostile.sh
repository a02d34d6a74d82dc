#!/bin/sh
# Names and notes that would be markup, control sequences, or turn the direction of writing, in all
# three forms of the sheet. Bytes that may not appear are counted.
cat >hostile.jsonl <<'EOF'
{"schema":"setback.book/1"}
{"instrument":"<script>alert(1)</script> \"x\" 'y' ]]>","added_ms":1795608341729}
{"event":"described","at_ms":1795608341729,"string":0,"data":{"owner":"\u202e</title><img src=x onerror=alert(1)>\u001b[31m","kind":"","frets":22,"spacing_mm":10,"strings":[{"note":"E4","gauge_mm":0.254,"wound":false,"course":1,"scale_mm":648}],"saddles":[{"strings":[1,1],"way":"screw","shape":"flat","thread_mm":null,"screw":"pulls","travel_mm":null}]}}
{"event":"visit","at_ms":1795608341730,"string":0,"data":{"what":"begun"}}
{"event":"reading","at_ms":1795608341731,"string":1,"data":{"octave_error_cents":1e300,"std_error_cents":1e290}}
{"event":"measured","at_ms":1795608341732,"string":0,"data":{"what":"taps","position":"<b>neck</b>\u2066","pickup":"</table>","verdict":"live","level_dbfs":"x"}}
{"event":"measured","at_ms":1795608341732,"string":0,"data":{"what":"quiet","position":7,"noise_dbfs":-1e99,"hum_hz":1e300,"hum_dbfs":2}}
{"event":"measured","at_ms":1795608341733,"string":9,"data":{"what":"balance","level_dbfs":-20}}
{"event":"measured","at_ms":1795608341733,"string":1,"data":{"what":"recheck"}}
{"event":"measured","at_ms":1795608341733,"string":1,"data":{}}
{"event":"note","at_ms":1795608341734,"string":0,"data":{"text":"two\nlines\tand \u200b\u2028\ufeff\u061c\u009b31m</style></svg>&amp;--><!--"}}
{"event":"note","at_ms":1795608341735,"string":0,"data":{"text":"\u05d2\u05d9\u05d8\u05e8\u05d4 \u05d9\u05e9\u05e0\u05d4"}}
{"event":"note","at_ms":1795608341736,"string":0,"data":{"text":7}}
{"end":"setback.book/1","instruments":1,"events":11}
EOF
setback book import hostile.jsonl
name="<script>alert(1)</script> \"x\" 'y' ]]>"
setback handover "$name" -o sheet.html
setback handover "$name" --text >sheet.txt
setback handover "$name" --json >sheet.json
# Of C0 but the line's end, DEL, C1, and what is unseen; of markup that is not the page's own.
unseen() { LC_ALL=C grep -c "$(printf '[\001-\011\013-\037\177]\\|\302[\200-\237]\\|\342\200[\213-\217\250-\256]\\|\342\201[\240-\257]\\|\330\234\\|\357\273\277')" "$1"; }
unseen sheet.html
unseen sheet.txt
LC_ALL=C grep -c "$(printf '[\200-\377]')" sheet.json
grep -c -i -e '<script' -e '<img' -e '<b>' -e '<[^>]*src=' -e 'url(' -e 'http:' -e 'https:' -e '@import' sheet.html
grep -o '<[/a-z!][a-z0-9]*' sheet.html | sort | uniq -c | awk '{ print $2 }' | tr '\n' ' '
echo
grep -o -e '<h1.*</h1>' -e '<bdi>.*</bdi>' -e '<li dir.*</li>' sheet.html
grep -e lines -e pickup sheet.txt
sed -n '/^String by/,/^$/p' sheet.txt
echo '== the other objects'
plain() { LC_ALL=C grep -c "$(printf '[\200-\377]')" "$1"; }
bidi=$(printf 'bidi \342\200\256 csi \302\2331m') # an override, and C1
setback specs "$name" "note=$bidi" kind=electric --json >object
plain object
cp "$FIXTURES/demo-6-E2.flac" "$bidi.flac"
setback measure --scale 648mm --take "$bidi.flac" --json >object
plain object || true
