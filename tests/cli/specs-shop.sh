#!/bin/sh
# A shop's own unit and bands: kept in the book, taken along by an export, never put over another
# shop's own.
setback specs --bands --kind electric --unit thou
setback book add practice --kind electric
setback book add deep --kind bass-4
setback book add plain --scale 25.5in --strings E4:10,B3:13
setback specs --unit 64ths
setback specs --band relief=0.2mm..0.25mm --band action17=5/64in..6/64in --band crown=none \
  --kind electric
setback specs --band relief=0.30mm..0.4mm --band resistance=6kohm.. --kind any
for name in practice deep plain; do
  setback specs $name relief=0.25mm action17-2=5.5/64in crown=0.6mm resistance-neck=5k
done
setback specs --bands --kind electric
setback specs --bands --kind bass-4 --unit mm
echo '-- judged as another kind'
setback specs deep kind=electric | sed -n '1p; /^relief/p'
setback specs deep kind= | sed -n '1p; /^relief/p'
echo '-- the shipped band again'
setback specs practice --band relief= --kind any
setback specs practice --band relief= | sed -n '/^relief/p'
echo '-- elsewhere'
setback book export >kept
grep setting kept
setback specs --unit thou --book other.db
setback book import --book other.db kept
setback specs practice --book other.db | sed -n '/^action/p'
setback book import --book third.db kept
setback book export --book third.db >again
cmp again kept && echo same
sed 's/"64ths"/""/' kept >wrong && setback book import --book fourth.db wrong
echo "$?"
{ grep -v '"unit"\|"end"' kept && grep '"unit"\|"end"' kept; } >late
setback book import --book fourth.db late
echo "$?"
setback book list --book fourth.db
