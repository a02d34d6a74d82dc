#!/bin/sh
# The shipped recordings give the errors that they were made with, within the tolerances
# beside them in truth.tsv.
cd "$FIXTURES" || exit 1

# error ARGUMENTS: the octave error that a measurement gives.
error() {
  setback measure --scale 25.5in --json "$@" |
    sed -n 's/.*"octave_error_cents":\([-0-9.e]*\),.*/\1/p'
}

# judge NAME GOT WANT TOLERANCE
judge() {
  awk -v name="$1" -v got="$2" -v want="$3" -v tolerance="$4" 'BEGIN {
    off = got - want
    good = got != "" && off <= tolerance && -off <= tolerance
    print name, good ? "is right" : "is wrong: " got " for " want
  }'
}

grep -v '^[#f]' truth.tsv | while read -r file what _ want tolerance _; do
  case $what in
  take) judge "$file" "$(error --take "$file")" "$want" "$tolerance" ;;
  open)
    pair=${file%-open.flac}
    judge "$pair" "$(error --open "$file" --fretted "$pair-fret12.flac")" "$want" "$tolerance"
    ;;
  esac
done
