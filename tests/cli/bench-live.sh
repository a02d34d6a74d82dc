#!/bin/sh
# A string played through a sound server to a live session, which is then told to quit; two
# more sessions on the same instrument at the same time lose nothing.
for tool in pulseaudio pactl paplay; do command -v $tool >/dev/null || exit 77; done
# shellcheck disable=SC1091 # found at run time
. "$FIXTURES/../tests/support/pulse.sh"
pulse_start || exit 1
setback book add practice --scale 25.5in --strings "E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w"

mkfifo orders
: >live # so that it can be looked into at once
setback bench practice --plain --timeout 120 <orders >live 2>words &
session=$!
exec 3>orders
# Waits for so many lines of the live session, half a minute at most.
await() {
  tries=100
  while [ "$(grep -c "$1" live)" -lt "$2" ] && [ $tries -gt 0 ]; do
    tries=$((tries - 1))
    sleep 0.3
  done
}
await '^bench' 1
pulse_play "$FIXTURES/demo-6-E2.flac"
player=$!
setback bench practice --json --take "$FIXTURES/demo-5-A2.flac" >first &
one=$!
setback bench practice --json --take "$FIXTURES/demo-4-D3.flac" >second &
two=$!
wait $one && wait $two
echo "exit $?"
wait $player
await 'string 6 E2 open' 3
echo quit >&3
wait $session
echo "exit $?"
cat words
sed -n '/^$/,$p' live | sed 's/: [+-][0-9.]* ± [0-9.]*/: N/'
told=$(($(grep -c '"event":"note"' first) + $(grep -c '"event":"note"' second) + $(grep -c ' Hz' live)))
kept=$(setback book show practice --log | awk '$3 == "pluck"' | wc -l)
echo "$((told - kept)) notes lost"
