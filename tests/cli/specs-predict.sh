#!/bin/sh
# What was measured stands in for heights that are not told: the same figures come out, and it
# is said where they are from.
only() { sed 's/"strings".*//; s/.*"heights"/"heights"/'; }
setback book add practice --kind electric
setback predict practice
setback predict practice --relief 0.2mm
echo "$?"
setback specs practice action17-treble=1.5mm action17-bass=2mm >/dev/null
setback predict practice --json | only
setback specs practice relief=0.28mm first-fret-treble=0.46mm first-fret-bass=0.56mm >/dev/null
setback predict practice
setback predict practice --json | only
setback predict practice --action17 1.8mm --relief 0 --json | only
setback predict practice --action17 1.8mm --relief 0mm --json | only
setback predict practice --nut-height 1.5mm --rise 3mm --json | only
echo '-- one height for all strings is the same as telling it'
setback specs practice action17-treble=1.8mm action17-bass=1.8mm first-fret-treble=0.5mm \
  first-fret-bass=0.5mm relief=0.25mm >/dev/null
setback predict practice --json | sed 's/"heights.*"strings/"strings/' >book
setback predict practice --action17 1.8mm --first-fret 0.5mm --relief 0.25mm --json |
  sed 's/"heights.*"strings/"strings/' | cmp - book && echo same
setback bench practice --changed relief --json --commands >/dev/null </dev/null
setback predict practice --json | only
echo '-- worn crowns'
setback specs practice crown=0.7mm >/dev/null
setback predict practice 2>/dev/null | sed -n '/^Measured/,$p'
