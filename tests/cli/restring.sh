#!/bin/sh
# A new set on an invented instrument, from takes: what it changes, the stretch, the measurement.
# Figures are rounded.
setback book add practice --scale 25.5in --strings "E4:10,B3:13,G3:17,D3:26w" --thread 4-40
"$TOOLS/mkstring" one.wav 329.7 1.1e-5 1.97 0 0 ofofofo 5
"$TOOLS/mkstring" two.wav 246.8 2.9e-5 -0.45 -4 0 ofofofo 5
"$TOOLS/mkstring" again.wav 246.9 2.9e-5 -0.45 0 0 ofofofo 5
"$TOOLS/mkstring" short.wav 196.1 1.0e-4 0.3 0 0 oof 2.3

rounded() { sed 's/ ± [0-9.]*//; s/\(\.[0-9]\)[0-9]*/\1/g; s/-0\.0/+0.0/g'; }

echo '== a lighter set'
setback restring practice --string E4:9,B3:11 --string G3:16,D3:24w --action 12:1.8mm \
  --take one.wav --take two.wav >said
echo "exit $?"
sed '/^restring/,$d' said
sed -n '/^restring/,$p' said | grep -v ' Hz' | rounded | uniq

echo '== it goes on with the same set'
setback restring practice --take again.wav --take short.wav --json >lines
echo "exit $?"
sed 's/.*"event":"\([a-z ]*\)".*/\1/' lines | sort | uniq -c | awk '{ print $1, $2, $3 }'
tail -n 1 lines | tr '{' '\n' | sed -n 's/^"string":\([0-9]\).*"state":"\([a-z ]*\)".*"settled":\([a-z]*\).*/\1 \2 \3/p'
setback book show practice --log | sed -n 's/.*\(string [0-9]\) *{"what":"settled","verdict":"\([a-z ]*\)".*/\1 \2/p'
setback book show practice | grep -A 5 gauge

echo '== the same again, as JSON'
setback restring practice --same --json --commands </dev/null |
  sed 's/.*"\(schema\)":"\([^"]*\)","event":"\([a-z]*\)".*/\2 \3/'
setback restring practice --string E4:10,B3:13,G3:17,D3:26w --json --commands </dev/null |
  sed 's/.*"schema":"\([^"]*\)".*/\1/' | sort | uniq -c | awk '{ print $1, $2 }'
setback book show practice --log | awk '{ print $3 }' | grep -c strings

echo '== what cannot be predicted is fitted all the same'
setback book add bare --scale 25.5in --strings E4,B3
setback restring bare --string E4:10,B3:13 --plain --commands </dev/null | tail -n 2

echo '== heights from the book, or assumed'
setback restring practice --string E4:9,B3:11,G3:16,D3:24w --plain --commands </dev/null | grep 'mm high'
setback specs practice action17-treble=1.8mm action17-bass=2mm relief=0.25mm >/dev/null
setback restring practice --string E4:9,B3:11,G3:16,D3:24w --plain --commands </dev/null | grep Measured

echo '== wrong use'
setback restring practice --string E4:10
setback restring practice --string E4:10,B3:13,G3:17,D3:26w --same
setback restring practice --string E4:10,B3:13,G3:17,D3:26x
setback restring practice --same --take none.wav
setback restring practice --same --plain --json
setback restring practice --string E4:10+B3:13,G3:17,D3:26w
setback restring nobody --same
setback book add idle --scale 25.5in --strings E4:10
setback restring idle --commands --plain </dev/null
echo "exit $?"
setback book show idle --log | awk '{ print $3 }' | grep -c visit

echo '== what still stretches is said on the sheet'
setback book add both --scale 25.5in --strings E4:10,B3:13
setback restring both --same --plain --take one.wav --take two.wav >said
setback handover both --text | sed -n '/^String by/,/^What to/p' | sed -n '/^ /p; /^- /p'
