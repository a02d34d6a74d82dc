#!/bin/sh
# The manual page says of every command what its help says, word for word, and nothing else; all
# exit codes are in both.
setback --man | sed 's/\\-/-/g; s/\\&//g; s/\\e/\\/g' >page
# Words with single spaces, a line an option: "--name VALUE explanation".
section() {
  awk -v name="$1" '
    function flush() { if (key != "") print key " " text; key = text = "" }
    /^\.S[SH] / { flush(); on = $0 == ".SS setback " name; next }
    !on { next }
    /^\.TP/ || /^\.PP/ || /^\.I / { flush(); next }
    /^\.B / { key = substr($0, 4); next }
    key != "" { text = text (text == "" ? "" : " ") $0 }
    END { flush() }' page
}
help() {
  # shellcheck disable=SC2086 # words are wanted
  setback $1 --help | awk '
    function flush() { if (line != "") print line; line = "" }
    /^  --/ { flush(); line = substr($0, 3); next }
    /^   / && line != "" { line = line " " $0; next }
    { flush() }
    END { flush() }'
}
# Of both: one space between words. The last group of the page runs on; its paragraphs are few.
words() {
  tr -s ' ' | sed 's/ $//'
}
setback --help | sed -n 's/^  \([a-z][a-z]*\( [a-z][a-z]*\)\{0,1\}\)  .*/\1/p' >commands
while read -r command; do
  section "$command" | words >in-page
  help "$command" | words >in-help
  diff in-page in-help || echo "^ $command"
  [ -s in-help ] || echo "no options of $command"
  grep -c "^setback $command\( \|$\)" page | grep -q '^0$' && echo "no usage of $command"
done <commands
awk 'END { if (NR > 10) print "all commands compared" }' commands
setback --help | sed -n '/^exit codes/,$s/^  \([0-9][0-9]*\) .*/\1/p' >codes
sed -n '/^.SH EXIT STATUS/,/^.SH ENV/s/^.B \([0-9]*\)$/\1/p' page | diff - codes && wc -l <codes | sed 's/[0-9][0-9]/all/'
sed -n 's/^.SH //p' page
