#!/bin/sh
# Next to nothing to run in: no environment, no home, no working directory, a terminal that is
# unknown, descriptors closed, a reader that leaves.
setback=$(command -v setback)
try() {
  what=$1
  shift
  "$@"
  echo "$? $what"
}
first() { "$@" | sed -n 1p; }

try 'no environment' first env -i "$setback" move --cents 4.6 --scale 25.5in
try 'no environment' first env -i "$setback" measure --scale 25.5in --take "$FIXTURES/demo-1-E4.flac"
try 'no environment' env -i "$setback" book list 2>&1
try 'no home' env -u HOME setback book add one --kind electric 2>&1
try 'a home that cannot be' env HOME=/dev/null setback book add one --kind electric 2>&1
try 'a relative data folder is none' env XDG_DATA_HOME=here setback book add one --kind electric
find . -type f
try 'no such locale' env LC_ALL=xx_YY.nothing setback book list | sed 's/20..-..-..$/DATE/'
try 'the C locale' env LC_ALL=C setback predict --json --scale 25.5in --string E4:10 --action17 1.8mm >predicted
grep -c '"saddle_setback_mm"' predicted
try 'standard input closed' setback bench one --plain --take "$FIXTURES/demo-1-E4.flac" <&- >closed
grep -c 'string 1 E4' closed

echo '== a reader that leaves'
for words in 'book export' '--man' 'book show one --log' '--help'; do
  # shellcheck disable=SC2086 # words are wanted
  { setback $words; echo "$? $words" >&2; } | head -n 1 >/dev/null
done 2>&1
events() { setback book show one --log | grep -c ' pluck \| reading '; }
before=$(events)
{ setback bench one --json --take "$FIXTURES/demo-6-E2.flac"; echo "$?" >code; } | :
echo "$(cat code) bench; $(($(events) > before)) all kept"

echo '== the working directory is gone'
mkdir gone
cd gone && rmdir ../gone
try 'the book is elsewhere' setback book list | sed 's/20..-..-..$/DATE/'
try 'no such file' setback measure --scale 25.5in --take x.wav 2>&1
try 'nowhere to write' setback survey --scale 650mm --svg x.svg --readings - 2>&1 >/dev/null <<END
1	2.1	0.2
5	1.7	0.2
12	4	0.2
END
