#!/bin/sh
# The strings' balance of an invented instrument; $TOOLS/mksignal makes the sound: each string at so
# many dBFS in its first second, plucks scattered by 1 dB.
[ -x "$TOOLS/mksignal" ] || exit 77
# Strings 6 to 1 at these levels, so many plucks each.
strings() {
  "$TOOLS/mksignal" "$1" -80 -70 50 silence:0.5 "pluck:82.41:$3:$2" "pluck:110:$4:$2" \
    "pluck:146.83:$5:$2" "pluck:196:$6:$2" "pluck:246.94:$7:$2" "pluck:329.63:$8:$2"
}
strings tilted.wav 3 -30 -28 -27 -25 -24 -22
strings even.wav 3 -30 -30 -30 -23 -30 -30
strings once.wav 1 -30 -30 -30 -30 -30 -30
setback book add practice --scale 25.5in --strings E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w
setback balance practice --take bridge=tilted.wav
setback balance practice --take even.wav
setback balance practice --take tilted.wav --order 6,5,4,3,2,1 --height 2.4mm | head -n 3
setback balance practice --take neck=even.wav --json |
  sed 's/-\{0,1\}[0-9][0-9]*\.[0-9]*/N/g'
# Where a ruler's height is in the book it is used.
height() { setback balance practice --take bridge=tilted.wav | tail -n 2; }
setback specs practice pickup-treble=3mm pickup-bridge-treble=2.1mm >/dev/null
height
setback specs practice pickup-bridge-treble= >/dev/null # it is taken back
height
setback book show practice --log | awk '$3 == "measured"' | cut -c 19-80 | head -n 3
# What cannot be.
setback balance practice --take once.wav
echo "exit $?"
setback balance practice --take once.wav --order 6,5,4
echo "exit $?"
setback balance practice --take once.wav --order 7
setback balance practice --order 6
setback balance practice --take once.wav --position neck
setback balance practice --take no.wav --take even.wav >some
echo "exit $?"
