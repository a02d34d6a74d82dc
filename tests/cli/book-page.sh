#!/bin/sh
# The page on the book's format names every field that the program writes into a book.
page=$FIXTURES/../cli/share/setback-book.5
setback book add practice --kind electric --owner J-17 --travel 3mm,4mm --thread 4-40
setback bench practice --take "$FIXTURES/demo-6-E2.flac" --moved 6=1.7mm --changed relief --plain >/dev/null
printf 'note brass nut fitted\nchanged strings\nmoved 6 1/4 turn clockwise\n' |
  setback bench practice --take "$FIXTURES/demo-5-A2.flac" --commands --plain >/dev/null
setback book edit practice --frets 21
setback specs practice relief=0.25mm resistance-neck=6.87k >/dev/null
setback book export >whole.jsonl
sed -n 's/.*"event":"\([a-z]*\)".*/\1/p' whole.jsonl | sort -u | tr '\n' ' '
grep -o '"[a-z_0-9]*":' whole.jsonl | tr -d '":' | sort -u >fields
while read -r field; do
  sed 's/\\-/-/g' "$page" | grep -q "\(^\|[^a-z_]\)$field\($\|[^a-z_]\)" || echo "$field is not in the page"
done <fields
awk 'END { print (NR > 30 ? "many fields" : "too few fields") }' fields
