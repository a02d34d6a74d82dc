#!/bin/sh
# The saddle's calculus without sound, as people and as scripts read it.
setback move --cents +4.6 --scale 25.5in --thread 4-40
echo
setback move --cents=-4.6 --scale '25 1/2in' --thread 4-40 --screw pushes
echo
setback move --cents 0.7 --std-error 0.2 --scale 648mm
echo
setback move --cents -3 --scale 34in --fret 7 --speaking 866mm
echo
setback move --cents +5 --scale 64.77cm --thread M3 --json
setback move --cents -12 --scale 647.7mm --speaking 651.2mm --json
setback move --cents 0 --scale 647.7mm --thread M3 --json
