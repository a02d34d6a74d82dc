#!/bin/sh
# Silence and a pluck, taps, and two strings' plucks, played through a sound server: each is asked
# for, heard hands-free, and ends by itself.
for tool in pulseaudio pactl paplay; do command -v $tool >/dev/null || exit 77; done
[ -x "$TOOLS/mksignal" ] || exit 77
# shellcheck disable=SC1091 # found at run time
. "$FIXTURES/../tests/support/pulse.sh"
pulse_start || exit 1

"$TOOLS/mksignal" quiet.wav -72 -58 50.03 silence:6.5 pluck:110:-18:1
"$TOOLS/mksignal" taps.wav -75 -60 50 silence:1 tap:-60:3 tap:-30:3
"$TOOLS/mksignal" balance.wav -80 -70 50 silence:0.5 pluck:110:-28:2 pluck:196:-25:2
setback book add practice --scale 25.5in --strings G3:17,A2:36w
# WORDS FILE COMMAND...: plays the file to the command once it has asked so.
play_to() {
  words=$1 file=$2
  shift 2
  : >words # there to be searched before the program begins
  setback "$@" --timeout 60 >heard 2>words &
  listening=$!
  pulse_await "$words" words $listening
  pulse_play "$PWD/$file"
  wait $listening
  echo "exit $?"
}
play_to 'hands off' quiet.wav quiet practice --positions 2
grep position words
sed -n '/^position/s/[0-9]* ± 2/N/p; /mains/s/strongest.*//p' heard
play_to 'tap neck' taps.wav taps practice --order neck,bridge --meant 1=bridge
sed -n '2p' heard | sed 's/-\{0,1\}[0-9.]* ± [0-9.]*/N/g'
grep -c '^position 1: tap bridge' words
play_to 'pluck string' balance.wav balance practice --plucks 2
grep -c '^string [12] .*dBFS' words
head -n 1 heard
