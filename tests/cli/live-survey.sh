#!/bin/sh
# A neck played through a sound server is surveyed live, hands-free, and ends by itself with the
# verdict that its recording gives.
for tool in pulseaudio pactl paplay; do command -v $tool >/dev/null || exit 77; done
[ -x "$TOOLS/mkneck" ] || exit 77
# shellcheck disable=SC1091 # found at run time
. "$FIXTURES/../tests/support/pulse.sh"
pulse_start || exit 1

"$TOOLS/mkneck" neck.wav 196.0 -1.5 0 0 0 0 3 5 7 12
setback survey --scale 647.7mm --take neck.wav | head -n 1 | sed 's/[0-9.]* mm/N mm/'
: >words # there to be searched before the program begins
setback survey --scale 647.7mm --frets 0,3,5,7,12 --timeout 60 >heard 2>words &
surveying=$!
pulse_await 'pluck the open string' words $surveying
pulse_play "$PWD/neck.wav"
wait $surveying
echo "exit $?"
head -n 1 heard | sed 's/[0-9.]* mm/N mm/'
grep -c 'fret .* Hz' words
head -n 2 words | tail -n 1
tail -n 1 words | sed "s/ [0-9].*/ N/"
