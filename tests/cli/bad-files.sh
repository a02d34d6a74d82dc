#!/bin/sh
# Every recording that cannot be measured has its line, its advice and its exit code.
# shellcheck disable=SC1091 # found at run time
. "$FIXTURES/../tests/support/wav.sh"
try() {
  setback measure --scale 25.5in --take "$1"
  echo "$? $1"
}

: >empty.wav
echo 'tune the low string first' >text.wav
mkdir folder.wav
wav stump.wav 48000 1 16 1 96000
dd if=stump.wav of=cut-header.wav bs=1 count=30 2>/dev/null
cp stump.wav no-data.wav
wav one-sample.wav 48000 1 16 1 2
printf 'ab' >>one-sample.wav
wav silent.wav 48000 1 16 1 288000
hole silent.wav 288000
wav constant.wav 48000 1 16 1 96000
repeat constant.wav '\0100\0100\0100\0100\0100\0100\0100\0100' 12000
wav nan.wav 48000 1 32 3 96000
repeat nan.wav '\0000\0000\0300\0177' 24000
wav rate-0.wav 0 1 16 1 96000
hole rate-0.wav 96000
wav rate-2-ghz.wav 2000000000 1 16 1 96000
hole rate-2-ghz.wav 96000
wav rate-6-khz.wav 6000 1 16 1 96000
hole rate-6-khz.wav 96000
dd if="$FIXTURES/demo-6-E2.flac" of=cut-off.flac bs=1000 count=10 2>/dev/null
ln -s loop.wav loop.wav
name=$(printf 'a\033[2Jb.wav')

for file in absent.wav loop.wav folder.wav empty.wav text.wav stump.wav cut-header.wav no-data.wav \
  one-sample.wav silent.wav constant.wav nan.wav rate-0.wav rate-2-ghz.wav rate-6-khz.wav \
  cut-off.flac "$name"; do
  try "$file"
done 2>&1

setback measure --scale 25.5in --open silent.wav --fretted absent.wav 2>&1
echo $?
setback measure --scale 25.5in --open "$FIXTURES/clean-open.flac" --fretted silent.wav 2>&1
echo $?
setback measure --scale 25.5in --take silent.wav --channel 2 2>&1
echo $?
