#!/bin/sh
# An invented guitar through a visit at the ruler and the meter: the trade's own figures (common
# practice, no source) must be judged as the trade judges them.
undated() { sed -E 's/"at_ms":[0-9]+/"at_ms":0/g'; }
setback book add practice --kind electric
setback specs practice
setback specs practice relief=0.008in first-fret-treble=0.017in first-fret-bass=.022in \
  action17-treble=4/64in action17-bass=5/64in crown=0.050in pickup-neck-treble=3/32in \
  pickup-neck-bass='1/8"' radius=9.5in --unit 64ths
echo '-- in other units of the trade; only the relief changed by more than a ruler tells'
setback specs practice relief=11thou first-fret-treble=0.46mm action17-bass='4½/64in' --unit thou
echo '-- 6.87 and 19.5 kohm: in parallel 5.08, in series 26.37'
setback specs practice resistance-neck=6.87k resistance-bridge='19.5 kΩ' \
  resistance-neck+bridge=5kohm | sed -n '/^coils/,/^$/p'
for meter in 26.1k 6.9k 19.4k open 0.5ohm 11k; do
  setback specs practice resistance-neck+bridge=$meter | sed -n 's/^neck+bridge *//p'
done
setback specs practice resistance-neck=open resistance-neck+bridge=19.5k | sed -n '/^coils/,$p'
echo '-- crowns'
for crown in 0.028in 0.024in 0.031in; do
  setback specs practice crown=$crown | sed -n '/^crown/p; /^Worn/,/^$/p'
done
echo '-- even from string to string'
setback specs practice action17-3=2.4mm | grep '^action'
setback specs practice action17-3= action17-treble=1.6mm action17-bass=2.2mm --unit 64ths |
  grep '^action'
echo '-- words'
setback specs practice 'buzz-7=string 3, gone' 'screws=two, of the bridge pickup' \
  "note=$(printf 'evil \033[31m')" | sed -n '/^buzz/,/^$/p'
setback specs practice --json | undated
setback book show practice --log --json | grep -o '"string":.*"what".*' | head -n 4
echo '-- a change makes readings stale, told or measured; one told first was measured after it'
state() { tail -n 1 | grep -o '"string":6[^}]*"state":"[a-z ]*"' | sed 's/.*state/state/'; }
look() { setback bench practice --json --commands </dev/null 2>/dev/null | state; }
setback bench practice --take "$FIXTURES/demo-6-E2.flac" --json 2>/dev/null | state
setback specs practice relief=0.285mm >/dev/null && look
setback specs practice relief=0.33mm | grep Changed && look
setback bench practice --changed nut --take "$FIXTURES/demo-6-E2.flac" --json 2>/dev/null | state
setback specs practice | sed -n '/^first/p'
setback specs practice first-fret-treble=0.55mm first-fret-bass=0.4mm | sed -n '/^first/p' && look
setback specs practice crown=0.7mm --changed | grep -c Changed
setback specs practice action12-1=1.5mm --changed | grep Changed && look
