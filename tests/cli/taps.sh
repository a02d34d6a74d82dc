#!/bin/sh
# The map of an invented instrument's selector by taps; $TOOLS/mksignal makes the sound.
[ -x "$TOOLS/mksignal" ] || exit 77
quiet=-62
"$TOOLS/mksignal" one.wav -75 -60 50 silence:1 tap:$quiet:3 tap:$quiet:3 tap:-30:3
"$TOOLS/mksignal" two.wav -75 -60 50 silence:1 tap:$quiet:3 tap:$quiet:3 tap:-36:3
"$TOOLS/mksignal" both.wav -75 -60 50 silence:1 tap:$quiet:3 tap:-35:3 tap:-36:3
"$TOOLS/mksignal" three.wav -75 -60 50 silence:1 tap:$quiet:3 tap:-29:3 tap:$quiet:3
"$TOOLS/mksignal" gap.wav -75 -60 50 silence:1 none:3 tap:-29:3 tap:$quiet:3
"$TOOLS/mksignal" silent.wav -75 -60 50 silence:3
"$TOOLS/mksignal" string.wav -75 -60 50 silence:1 tap:-30:2 pluck:110:-20:1
"$TOOLS/mksignal" plucks.wav -75 -60 50 silence:1 pluck:110:-20:2
setback book add practice --kind electric
meant=1=bridge,2=bridge+middle,3=middle
taps() { setback taps practice --order neck,middle,bridge "$@"; }
taps --meant $meant --take 1=one.wav --take 2=two.wav --take 3=three.wav
echo "exit $?"
taps --meant $meant --take 1=one.wav --take 2=both.wav --take 3=three.wav | head -n 6 | tail -n 1
taps --meant 1=middle,2=bridge+middle,3=bridge --take 1=one.wav --take 2=both.wav --take 3=three.wav |
  sed -n '6,7p'
# 0 as it is meant, or where that is not told.
taps --meant $meant --take 1=one.wav --take 2=both.wav --take 3=three.wav >heard
echo "exit $?"
taps --take 1=one.wav --take 2=two.wav --take 3=three.wav --json >heard
echo "exit $?"
taps --meant $meant --take 1=one.wav --take 2=two.wav --take 3=three.wav --json >heard
echo "exit $?"
setback taps practice --take 2:neck=silent.wav --take 2:bridge=string.wav --meant 2=neck+bridge
setback taps practice --take 2:neck=silent.wav --take 2:bridge=string.wav --meant 2=neck+bridge --json |
  sed 's/-\{0,1\}[0-9][0-9]*\.[0-9]*/N/g'
setback book show practice --log | grep -c '"what":"taps","position":"[123]"'
setback taps practice --take 1:neck=plucks.wav --take 1:bridge=string.wav | head -n 2
# What cannot be.
taps --take 3=gap.wav
echo "exit $?"
taps --take 3=silent.wav
echo "exit $?"
setback taps practice --take 1:neck=plucks.wav
echo "exit $?"
taps --take 3=gap.wav --take 3:neck=one.wav
setback taps practice --take 3=one.wav
setback taps practice
taps --meant 1=bridge+,2=neck --take 1=one.wav
taps --meant 1=bridge,1=neck --take 1=one.wav
taps --weak -30 --take 1=one.wav
setback taps practice --order neck,neck
