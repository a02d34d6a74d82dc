#!/bin/sh
# On a terminal a live session shows a level meter that keeps to one line, and what it hears above
# it. The device is a recording in PortAudio's place.
command -v script >/dev/null || exit 77
case $TOOLS in */asan/* | */tsan/* | */fuzz/*) exit 77 ;; esac
[ -f "$TOOLS/day.so" ] || exit 77
export DAY_SOUND="$FIXTURES/demo-6-E2.flac" DAY_SECONDS=40
unset DAY_REPORT
# on COLUMNS COMMAND...
on() {
  columns=$1
  shift
  TERM=xterm script -qec "stty cols $columns; LD_PRELOAD=$TOOLS/day.so $*" /dev/null </dev/null |
    tr '\r' '\n' | sed 's/\x1b\[[0-9;?]*[A-Za-z]//g' >screen
}
# What each redrawn line holds, once.
meter() {
  sed -n 's/^\(.*\)  \([=.]\{16\}\) *-\{0,1\}[0-9]* dB .*/\1, a bar of 16/p' screen | grep "$1" | head -n 1
}
on 80 setback measure --scale 25.5in --plucks 2 --timeout 60
meter '^pluck\|^enough' | sed 's/^[^,]*/what to do/'
grep -c '^listening to a long day at 24000 Hz' screen
grep -q '^open .* Hz' screen && grep -q '^fretted .* Hz' screen && echo 'both notes named'
grep 'move the saddle' screen | head -n 1
awk 'length($0) > 80' screen | grep -c 'dB '
on 30 setback listen --save take.wav --seconds 30
grep '^recording; ' screen | awk '{ if (length($0) > long) long = length($0) } END { print (long > 20 && long < 30 ? "cut to the terminal" : long " columns") }'
grep -c 'good plucks in take.wav' screen
