#!/bin/sh
# What cannot be kept has its line, its advice and its exit code, and nothing of it is kept.
try() {
  setback specs "$@"
  echo "$? setback specs $*"
}
setback book add practice --kind electric
try
try nobody
try practice relief
try practice releif=0.01in
try practice action17=1.6mm
try practice pickup=1mm
try practice resistance=1k
try practice action17-7=1.6mm
try practice crown-23=1mm
try practice relief=0.01
try practice resistance-neck=6.87
try practice crown=1.1mm relief=3.5mm
try practice action17-bass=35mm
try practice action17-bass=0.0625mm
try practice action17-bass=1.6in
try practice resistance-neck=6.87ohm
try practice relief=0.2mm relief=0.3mm
try practice crown=
try practice --changed
try practice kind='six strings'
try practice "note=$(printf '\377')"
try practice --kind electric
try --changed
try --band relief=0.1mm..0.2mm
try --band relief=0.2mm..0.1mm --kind electric
try --band relief=.. --kind electric
try --band buzz=1mm --kind electric
try --band relief --kind electric
try --bands
setback book show practice --log --json | grep -c measured
try practice action17-bass=35mm --insist
