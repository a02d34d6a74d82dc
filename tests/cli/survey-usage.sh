#!/bin/sh
# Every wrong survey has its line, its advice and its exit code.
try() {
  setback survey "$@"
  echo "$? setback survey $*"
}
printf '12\t4.6\t0.2\n' >one.tsv
try --readings one.tsv
try --scale 25.5in --readings one.tsv --take a.wav
try --scale 25.5in --readings none.tsv
try --scale 25.5in --readings .
: >empty.tsv
try --scale 25.5in --readings empty.tsv
for line in '0 0 0.1' '12' '12 4.6 0.2 x' '1.5 4.6' '37 1' '12 sharp' '12 101' '12 1 0' '12 1 -2' 'twelve 1'; do
  echo "$line" >bad.tsv
  try --scale 25.5in --readings bad.tsv
done
try --scale 25.5in --readings one.tsv --frets 1-40
try --scale 25.5in --readings one.tsv --frets 1,,2
try --scale 25.5in --readings one.tsv --weights 12
try --scale 25.5in --readings one.tsv --weights 12:-1
try --scale 25.5in --readings one.tsv --string H3:10
try --scale 25.5in --readings one.tsv --material glass
try --scale 25.5in --readings one.tsv --action 1.6mm
try --scale 25.5in --readings one.tsv --action 12:1.6mm --action17 2mm
try --scale 25.5in --take a.wav --take b.wav --note E2
setback book add bench --kind electric
try nobody --take a.wav
try bench --readings one.tsv
try bench --scale 25.5in --take a.wav
try bench --string 7 --take a.wav
printf 'a scale\n3\n9/8\n5/4\n' >short.scl
try --scale 25.5in --readings one.tsv --scl short.scl
printf 'a scale\n2\n5/4\n9/8\n' >down.scl
try --scale 25.5in --readings one.tsv --scl down.scl
printf 'fifths\n2\n3/2\n2/1\n' >two.scl
printf '1 0.4 0.2\n2 1.1 0.2\n3 1.4 0.2\n4 3.2 0.2\n' >two.tsv
setback survey --scale 25.5in --readings two.tsv --scl two.scl | head -n 4
