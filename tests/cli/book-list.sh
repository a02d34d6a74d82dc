#!/bin/sh
# The list on terminals of several widths, which is script's, and whole where it goes elsewhere.
command -v script >/dev/null || exit 77
setback book add practice --kind electric
setback book add 'long-scale bass from the back room, fretless' --kind bass-4 --owner 'J-17, the second of the two'
setback book add '試作のギター三号機' --kind acoustic --owner '山田'
setback book add "$(printf 'Cafe\314\201')" --kind bass-4 --scale 34in,34.5in,35in,35.5in --owner Größe
undated() { sed 's/20..-..-../DATE-HERE-/'; }
list() { script -qec "stty cols $1; setback book list" /dev/null | tr -d '\r' | undated; }
for columns in 40 80 100 200; do
  echo "== $columns columns"
  list $columns
done
echo '== no terminal'
setback book list | undated
echo '== a locale in which every character counts as one column'
LC_ALL=C list 80
