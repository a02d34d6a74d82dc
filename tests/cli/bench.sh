#!/bin/sh
# An instrument through the bench, driven as a script would: takes, moves told, changes, and
# what is typed. Figures are rounded.
setback book add practice --scale 25.5in --strings "E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w" \
  --saddles 1,2,3,4,5-6 --thread 4-40

# The last object's strings and saddles, a line each.
summary() {
  tail -n 1 | sed 's/{"string":/\n&/g; s/{"strings":\[/\n&/g' | awk -F'"' '
    function field(name) {
      return match($0, "\"" name "\":[^,}]*") ? substr($0, RSTART + length(name) + 3, RLENGTH - length(name) - 3) : "?"
    }
    function rounded(name) { v = field(name); return v == "null" ? v : sprintf("%+.1f", v) }
    /^{"string":/ { print field("string"), field("note"), rounded("octave_error_cents"), field("state"),
      rounded("needed_move_mm"), field("spoiled_by") }
    /^{"strings"/ { match($0, /\[[0-9,]*\]/); print substr($0, RSTART, RLENGTH), field("fit"), rounded("move_mm"), field("due") }'
}

echo '== all strings'
set --
for take in "$FIXTURES"/demo-*.flac; do set -- "$@" --take "$take"; done
setback bench practice --json "$@" >first
echo "exit $?"
summary <first
head -n 1 first
echo '== what was heard narrows what is predicted of each string'
for how in '' '--from-readings book'; do
  # shellcheck disable=SC2086
  setback predict practice --action17 1.8mm --first-fret 0.5mm --relief 0.25mm $how --json |
    sed 's/"bending_from":"[a-z]*"/\n&\n/g' | grep bending_from | sort | uniq -c | awk '{ print $1, $2 }'
done
sed 's/.*"event":"\([a-z ]*\)".*/\1/' first | sort | uniq -c | awk '{ print $1, $2, $3 }'

echo '== moves told, then nothing heard'
setback bench practice --json --commands --moved 1=0.78mm --moved '2=0.5 forward' \
  --moved '3=4 turns clockwise' --moved 5 </dev/null >second
echo "exit $?"
summary <second

echo '== a change spoils readings'
printf 'changed relief\nnote the neck was flat\nshow\nmoved 4\nquit\n' |
  setback bench practice --plain --commands | sed 's/: [+-][0-9.]* ± [0-9.]*/: N/'
setback book show practice --log | awk '{ print $3 }' | grep -c -e move -e measured -e note

echo '== typed takes'
printf 'take %s\ntake none.wav\nmove it\n' "$FIXTURES/demo-6-E2.flac" |
  setback bench practice --json --commands >third
echo "exit $?"
summary <third | sed -n 6p

echo '== wrong use'
setback bench
setback bench nobody --take "$FIXTURES/demo-6-E2.flac"
setback bench practice --take none.wav
setback bench practice --take "$FIXTURES/demo-6-E2.flac" --plain --json
setback bench practice --moved 4 --json --commands </dev/null
setback bench practice --changed weather --json --commands </dev/null
echo "exit $?"
setback book show practice --log | awk '{ print $3 }' | grep -c move
