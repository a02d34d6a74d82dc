#!/bin/sh
# Two recordings played through a sound server and captured live give the error that they
# give as files, within 0.1 cent; nothing but the tool's own words comes out.
for tool in pulseaudio pactl paplay; do command -v $tool >/dev/null || exit 77; done
# shellcheck disable=SC1091 # found at run time
. "$FIXTURES/../tests/support/pulse.sh"
pulse_start || exit 1

error() {
  sed -n 's/.*"octave_error_cents":\([-0-9.e]*\),.*/\1/p' "$1"
}

setback measure --scale 25.5in --json --open "$FIXTURES/clean-open.flac" \
  --fretted "$FIXTURES/clean-fret12.flac" >filed
: >words # there to be searched before the program begins
setback measure --scale 25.5in --json --timeout 40 >heard 2>words &
measuring=$!
pulse_await 'pluck the open string' words $measuring
pulse_play "$FIXTURES/clean-open.flac"
wait $!
pulse_play "$FIXTURES/clean-fret12.flac"
wait $!
wait $measuring
echo "exit $?"
awk -v a="$(error filed)" -v b="$(error heard)" 'BEGIN {
  print (a != "" && b != "" && a - b < 0.1 && b - a < 0.1) ? "same error" : a " " b }'
sed 's/to .* at [0-9]* Hz/to X/; s/[0-9.]* Hz ± [0-9.e-]* /N Hz ± N /
  s/[+-][0-9.]* ± [0-9.]* cents/N/' words
