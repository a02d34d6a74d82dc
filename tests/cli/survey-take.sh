#!/bin/sh
# A survey from a recording of an invented neck, and its place in the book. $TOOLS/mkneck makes
# the sound: open string, then saddle, nut and slot too far back or high, a bad fret.
[ -x "$TOOLS/mkneck" ] || exit 77
"$TOOLS/mkneck" saddle.wav 111.2 -1.5 0 0 0 0
"$TOOLS/mkneck" fret.wav 146.0 0 0 0 7 3
setback survey --scale 647.7mm --take saddle.wav --note A2 | sed -n '1,4p;9,20p'
setback survey --scale 647.7mm --take fret.wav --svg two.svg --json |
  sed 's/.*"hz":\([0-9]*\).*"outlier_frets":\(.*\),"faults".*/\1 \2/'
setback survey --scale 647.7mm --take saddle.wav --note E2
setback book add bench --kind electric
setback survey bench --take saddle.wav --take fret.wav --svg both.svg | grep '^string'
grep -o '<text[^>]*>[^<]*' both.svg | sed 's/<[^>]*>//' | grep bench
setback book show bench --log | grep -c 'reading *string [45].*setback.survey/1'
printf '1\t0.1\t0.2\n3\t0\t0.2\n5\t0.2\t0.2\n12\t0.1\t0.2\n' >true.tsv
setback survey bench --string 6 --readings true.tsv | head -n 1
