#!/bin/sh
# A string rechecked live ends by itself; one that sounds no note at all says so.
for tool in pulseaudio pactl paplay; do command -v $tool >/dev/null || exit 77; done
# shellcheck disable=SC1091 # found at run time
. "$FIXTURES/../tests/support/pulse.sh"
pulse_start || exit 1
setback book add lone --scale 25.5in --strings E2:46w
setback bench lone --take "$FIXTURES/demo-6-E2.flac" --json >/dev/null
: >live # so that it can be looked into at once
setback recheck lone --timeout 120 >live 2>words </dev/null &
session=$!
tries=100
while ! grep -q '^recheck' live && [ $tries -gt 0 ]; do
  tries=$((tries - 1))
  sleep 0.1
done
pulse_play "$FIXTURES/demo-6-E2.flac"
wait $session
echo "exit $?"
cat words
grep -c '^string 1: .*still to hear: nothing' live | sed 's/^[1-9].*/it said when all was in/'
sed -n '/^string  /,$p' live | sed 's/  */ /g; s/E2 .* OUTSIDE/E2 N OUTSIDE/'
setback recheck lone --timeout 1 >/dev/null
echo "exit $?"
