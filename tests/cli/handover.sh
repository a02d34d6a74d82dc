#!/bin/sh
# A visit of an invented instrument with two strings on its last saddle, from recordings of before
# and after, to the sheet. Days are left out.
[ -x "$TOOLS/mkneck" ] || exit 77
day() { sed -e 's/[0-9]* [A-Z][a-z]* 20[0-9][0-9]/DAY/' -e 's/"day":"[0-9-]*"/"day":"DAY"/'; }
# A recording of string $1 at $2 Hz, its saddle $3 mm too far back: open, fret 12, open.
play() { "$TOOLS/mkneck" "$1" "$2" "$3" 0 0 0 0 12; }
play 1.wav 246.9 0.515 && play 2.wav 196.0 -2.48 && play 3.wav 146.8 -0.12 && play 4.wav 110.0 -1.975
play 2b.wav 196.0 -0.11 && play 3b.wav 146.8 0.78 && play 4b.wav 110.0 -1.01
setback book add practice --scale 25.5in --strings 'B3:13,G3:17,D3:26w,A2:36w' --saddles 1,2,3-4 \
  --owner 'J-17 & Co'

echo '== nothing measured'
setback handover practice --text
echo "exit $?"
setback bench practice --plain --take 1.wav --take 2.wav --take 3.wav --take 4.wav >heard

echo '== saddles moved and not heard again'
setback bench practice --plain --commands --moved 2=2.4 --moved 3=1.0 >heard </dev/null
setback handover practice -o sheet.html --end
echo "exit $?"
[ -e sheet.html ] || echo 'no sheet'
setback handover practice --end
echo "exit $?"
setback handover practice --draft --text | day | sed -n '1,/^String by/p'
echo 'note the third slot bound' |
  setback bench practice --plain --commands --take 2b.wav --take 3b.wav --take 4b.wav >heard

echo '== the sheet, twice'
setback handover practice --draft --json | sed 's/.*"draft":\([a-z]*\).*/draft \1/'
setback book show practice --log | grep -c ended
setback handover practice --text | day
setback handover practice -o look.html
setback book show practice --log | grep -c ended
setback handover practice -o sheet.html --end && setback handover practice --end -o again.html
cmp look.html sheet.html && cmp sheet.html again.html && echo same
setback book show practice --log | grep -c ended
setback handover practice --json | day | sed 's/\("[a-z_]*_\(cents\|mm\)":\)-\{0,1\}[0-9.e-]*/\1N/g'

echo '== wrong use'
setback handover practice -o sheet.html
setback handover practice
setback handover practice --text --json
setback handover practice --draft --end
setback handover nobody --text
setback handover practice -o nowhere/sheet.html
echo "exit $?"
setback handover practice -o . --force
echo "exit $?"
mkfifo pipe && setback handover practice -o pipe --force
[ -p pipe ] && echo 'still a pipe'
# shellcheck disable=SC2012 # only their number
ls -A | wc -l | tr -d ' '
printf x >sheet.html && setback handover practice -o sheet.html --force && cmp sheet.html again.html
