#!/bin/sh
# Two visits of an invented instrument with two strings on a saddle, from an empty book: what is
# heard first and last in a visit belongs to it, and nothing that is heard after its end.
[ -x "$TOOLS/mksignal" ] || exit 77
"$TOOLS/mksignal" hum.wav -72 -58 50.03 silence:5 pluck:110:-18:1
"$TOOLS/mksignal" better.wav -72 -70 49.81 silence:5 pluck:110:-18:1
"$TOOLS/mksignal" dead.wav -75 -60 50 silence:1 tap:-62:3 tap:-30:3
"$TOOLS/mksignal" mended.wav -75 -60 50 silence:1 tap:-31:3 tap:-30:3
"$TOOLS/mkstring" one.wav 109.9985 6e-5 1.4 0 0 offoof
"$TOOLS/mkstring" two.wav 82.41 8e-5 -1.4 0 0 offoof
"$TOOLS/mkstring" high.wav 110 6e-5 3.4 0 0 offoof
"$TOOLS/mkstring" low.wav 82.41 8e-5 0.6 0 0 offoof
setback book add practice --scale 25.5in --strings A2:36w,E2:46w --saddles pairs
visits() { setback book show practice --log | sed -n 's/.* visit *{"what":"\([a-z]*\)"}/\1/p' | tr '\n' ' '; echo; }
heard() { setback handover practice --text "$@" | grep -A 1 -E '^- (Noise|Pickups|Heard)'; }

echo '== a visit that begins with the lead'
setback quiet practice --take 1=hum.wav >said
setback taps practice --order neck,bridge --meant 1=neck+bridge --take 1=dead.wav >said
setback bench practice --plain --take one.wav --take two.wav >said
tail -n 1 said
grep -c -e '-0\.0 ' said # it is a little flat, and not by minus nothing
setback taps practice --order neck,bridge --meant 1=neck+bridge --take 1=mended.wav >said
setback taps practice --order neck,bridge --meant 1=neck+bridge --take 1=mended.wav >said
setback quiet practice --take 1=better.wav >said
heard
visits
setback handover practice -o sheet.html
setback handover practice --end

echo '== heard again after its end: the same, and the sheet too'
setback recheck practice --take one.wav --take two.wav >said
echo "exit $?"
tail -n 1 said
setback recheck practice --take high.wav --take low.wav >said
echo "exit $?"
tail -n 1 said
setback handover practice -o again.html
cmp sheet.html again.html && echo same

echo '== the next visit'
setback quiet practice --take 1=better.wav >said
heard --draft
visits
