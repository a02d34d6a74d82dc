#!/bin/sh
# Every wrong command line has its line, its advice and exit 64.
try() {
  setback "$@"
  echo "$? setback $*"
}
try
try mesure
try banjo
try book
try book ad
try "$(printf 'mo\033[31mve')"
try move
try move --cents 4
try move --cents
try move --cents --scale 25.5in
try move --cents 4 --scale=
try move --cents 4 --scale 25.5
try move --cents 4 --scale 25.5furlongs
try move --cents 4 --scale 5mm
try move --cents nan --scale 25.5in
try move --cents inf --scale 25.5in
try move --cents 1e999 --scale 25.5in
try move --cents 101 --scale 25.5in
try move --cents 4 --scale 25.5in --fret 0
try move --cents 4 --scale 25.5in --fret 12.5
try move --cents 4 --scale 25.5in --thread M99
try move --cents 4 --scale 25.5in --screw sideways
try move --cents 4 --scale 25.5in --tolerance -1
try move --cents 4 --scale 25.5in --speaking 300mm
try move --cents 4 --scale 25.5in --tolerence 2
try move --cents 4 --scale 25.5in --json=yes
try move --cents 4 --scale 25.5in sharp
try measure
try measure --scale 25.5in a.wav b.wav
try measure --scale 25.5in --open a.wav
try measure --scale 25.5in --fretted a.wav
try measure --scale 25.5in --open a.wav --fretted b.wav --take c.wav
try measure --scale 25.5in --take a.wav --note H2
try measure --scale 25.5in --take a.wav --take b.wav --note E2
try measure --scale 25.5in --take a.wav --a4 0
try measure --scale 25.5in --plucks 0
try measure --scale 25.5in --timeout never
try listen
try listen --save take.mp3
try listen --save take.wav --seconds 0
try compromise --needed 1,2
try compromise --scale 25.5in --needed 1,,2
try compromise --scale 25.5in,25in --needed 1,2,3
try compromise --scale 25.5in --needed 1,2,3 --weights 1,2
try compromise --scale 25.5in --needed 1,2 --travel 3
try compromise --scale 25.5in --needed 1,2 --shape round
echo kept >take.wav
try listen --save take.wav
cat take.wav
