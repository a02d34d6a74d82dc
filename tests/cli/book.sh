#!/bin/sh
# An instrument's way through the book. Dates and times are taken out.
undated() {
  sed -E 's/[0-9]{4}-[0-9]{2}-[0-9]{2}( [0-9]{2}:[0-9]{2})?/DATE/g; s/_ms":[0-9]+/_ms":0/g'
}
setback book list && ls -A "$HOME"
setback book add practice --scale 25.5in --strings "E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w" \
  --saddles 1-2,3-4,5-6 --thread 4-40 --travel 2mm,1/8in
# shellcheck disable=SC2012 # the mode is wanted, and stat differs between systems
ls -ld "$HOME/.local/share/setback" "$HOME/.local/share/setback/book.db" | cut -c 1-10
setback book add 'two necks' --kind mandolin --owner J-17
setback book add fan --kind bass-4 --scale 34in,34.5in,35in,35.5in --screw pushes --thread M3
setback book list | undated
for name in practice 'TWO NECKS' fan; do setback book show "$name" | undated; done
setback book show practice --json | undated
setback book edit practice --strings E4:9,B3:11,G3:16,D3:24w,A2:32w,E2:42w --name 'practice 9s'
setback book show 'practice 9s' --log | undated
setback book remove 'two necks' --yes
setback book list | undated
