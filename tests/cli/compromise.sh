#!/bin/sh
# Worked cases of a saddle under several strings: figures from closed forms (two strings:
# the middle; three on a slanted line: Chebyshev alternation; least squares: the mean).
setback compromise --scale 647.7mm --needed 1.2,3.2
echo
setback compromise --scale 647.7mm --needed 1.5,2.9,2.1 --shape slant --spacing 10.5mm
echo
setback compromise --scale 650mm --needed 1.48,1.69,2.33,1.49,1.83,2.46 --json
setback compromise --scale 650mm --needed 1.48,1.69,2.33,1.49,1.83,2.46 --fit squares --json
setback compromise --scale 647.7mm,628.65mm,647.7mm --needed 2.0,3.2,2.6 --weights 1,1,2 --json
setback compromise --scale 647.7mm --needed 2,4mm --travel 1mm,1/32in --json
setback compromise --scale 647.7mm --needed=-1.2,-0.2
