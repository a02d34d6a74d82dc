#!/bin/sh
# A book that cannot be used, and a command that cannot be obeyed: a line and an exit code,
# and the file as it was.
HOME=home
export HOME
mkdir home
try() {
  setback "$@" </dev/null
  echo "$? setback $*"
}
try book add
try book add one two
try book add practice
try book add practice --scale 25.5in
try book add practice --kind harp
try book add practice --scale 25.5in --strings E4:10,H3:13
try book add practice --kind electric --saddles 1-2,4-6
try book add practice --kind electric --scale 25.5in,26in
try book add practice --kind electric --travel 1mm
try book add practice --kind electric --thread M99
try book add "$(printf 'x\377')" --kind electric
try book add '' --kind electric
try book show practice
try book list --book nowhere.db
find . -type f
try book add practice --kind electric --book book.db
try book add PRACTICE --kind electric --book book.db
try book remove practice --book book.db
try book remove other --yes --book book.db
try book edit practice --strings E4,B3 --saddles 1-3 --book book.db
try book edit practice --name '' --book book.db
for size in 100 4096 5000 20000; do
  head -c $size book.db >cut.db && cp cut.db was.db
  try book list --book cut.db
  try book add more --kind electric --book cut.db
  cmp cut.db was.db
done
echo 'no book at all, only words, and more of them than a header has bytes: one hundred' >words.db
try book list --book words.db
try book add practice --kind electric --book words.db
try book list --book .
{ head -c 60 book.db && printf '\0\0\0\143' && tail -c +65 book.db; } >newer.db
try book list --book newer.db
try book add more --kind electric --book newer.db
: >empty.db
try book list --book empty.db
unset HOME
try book list
