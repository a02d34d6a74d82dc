#!/bin/sh
# Every wrong prediction has its line, its advice and its exit code.
try() {
  setback predict "$@"
  echo "$? setback predict $*"
}
some='--scale 650mm --string E4:10'
# shellcheck disable=SC2086 # words are wanted
{
  try
  try $some
  try $some --nut-height 1mm
  try $some --nut-height 1mm --rise 4mm --action17 2mm
  try $some --action17 2mm --action 12:2mm
  try $some --action 1:2mm
  try $some --action 12
  try $some --nut-height 1mm --rise 4mm --first-fret 0.5mm
  try --scale 650mm --string E4:10,H3:13 --action17 2mm
  try --scale 650mm,640mm,630mm --string E4:10,B3:13 --action17 2mm
  try --string E4:10 --action17 2mm
  try --scale 650mm --string E4 --action17 2mm
  try $some --action17 2mm --frets 0-12
  try $some --action17 2mm --frets 5-1
  try $some --action17 2mm --frets 12 --nut
  try $some --action17 2mm --ends loose
  try $some --action17 2mm --unit-mass 0.374
  try $some --action17 2mm --unit-mass -1g/m
  try $some --action17 2mm --unit-mass 1g/m,2g/m
  try $some --action17 2mm --unit-mass 0.4g/m --tension 70N
  try $some --action17 2mm --modulus 203
  try $some --action17 2mm --core 0.3mm
  try $some --action17 2mm --material silk
  try $some --action17 2mm --saddles 1-2
  try $some --action17 2mm --restring E4:9,B3:11
  try $some --action17 2mm --from-readings book
  try $some --action17 2mm --from-readings absent.jsonl
  try --scale 650mm --string E2:46w --nut-height 0mm --rise 0mm
  try practice $some --action17 2mm
}
setback book add practice --kind electric
try practice --action17 2mm --frets 12,23
try nowhere --action17 2mm
try practice --action17 2mm --from-readings book
try practice --action17 2mm --string E4:10
echo '{"open":{"note":"C8","inharmonicity":1e-4}}' >other
echo 'no measurement' >none
try practice --action17 2mm --from-readings other
try practice --action17 2mm --from-readings none
echo '{"open":{"note":"E2","inharmonicity":0.09}}' |
  setback predict practice --action17 2mm --from-readings -
echo $?
