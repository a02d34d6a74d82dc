#!/bin/sh
# Noise and hum of an invented instrument, by position, before and after; $TOOLS/mksignal makes the
# sound: -72 dBFS of white noise, hum as told, then a pluck.
[ -x "$TOOLS/mksignal" ] || exit 77
"$TOOLS/mksignal" hum.wav -72 -58 50.03 silence:5 pluck:110:-18:1
"$TOOLS/mksignal" noise.wav -72 -300 50 silence:4 pluck:110:-18:1
"$TOOLS/mksignal" better.wav -72 -70 49.81 silence:5 pluck:110:-18:1
"$TOOLS/mksignal" mute.wav -72 -58 60.02 silence:4
"$TOOLS/mksignal" busy.wav -72 -58 60.02 pluck:110:-18:2
"$TOOLS/mksignal" dead.wav -300 -300 50 silence:4
setback book add practice --kind electric
setback quiet practice --take mute.wav
echo "exit $?"
setback quiet practice --take 1=hum.wav --take 2=noise.wav
setback quiet practice --take 1=better.wav
setback quiet practice --take 2=noise.wav --json |
  grep -Eo '"(schema|instrument|position|when|hum_dbfs|hum_hz|mains_hz|band_to_hz|take)":[^,}]*|"before":.'
setback quiet practice --take 1=better.wav --when before | tail -n 6 | head -n 1
setback book show practice --log | awk '$3 == "measured"' | grep -Eo '"what":"quiet".*"when":"[a-z]*"'
# What cannot be.
for take in 3=busy.wav 3=dead.wav 3=none.wav; do
  setback quiet practice --take $take
  echo "exit $?"
done
setback quiet practice --take 4=busy.wav --take 5=noise.wav | head -n 1
setback quiet practice --take 1=hum.wav --take 1=noise.wav
setback quiet practice --take 1,2=hum.wav
setback quiet practice --take 1=hum.wav --positions 1
setback quiet practice --take 1:neck=hum.wav
setback quiet nobody --take hum.wav
echo "exit $?"
