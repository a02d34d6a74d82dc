#!/bin/sh
# An invented instrument heard again: the same, worse, a saddle that slipped, a false string, and
# nothing to compare with. Figures are rounded.
setback book add practice --scale 25.5in --strings "E4:10,B3:13,G3:17,D3:26w"

# takes NAME ERROR LUMP ODD: all four strings, one of them otherwise.
takes() {
  set -- "$1" "$2" "$3" "$4" 329.7 1.35e-5 246.8 4.1e-5 196.1 1.1e-4 146.8 4.6e-5
  name=$1 error=$2 lump=$3 odd=$4
  shift 4
  for string in 1 2 3 4; do
    if [ $string = "$odd" ]; then
      "$TOOLS/mkstring" "$name$string.wav" "$1" "$2" "$error" 0 "$lump" offoof
    else
      "$TOOLS/mkstring" "$name$string.wav" "$1" "$2" 0.25 0 0 offoof
    fi
    shift 2
  done
}
all() {
  command=$1 take=$2
  shift 2
  setback "$command" practice --take "${take}1.wav" --take "${take}2.wav" --take "${take}3.wav" \
    --take "${take}4.wav" "$@"
}
# Without the day, the errors' errors and last digits.
rounded() {
  sed '1,/^kept/s/ of 20[0-9-]*$/ of N/; s/\(\.[0-9]\)[0-9]* ± [0-9.]*/\1/g; s/[-+]0\.0 /0.0 /g; s/[-+]0\.0)/0.0)/g; s/  */ /g'
}

echo '== nothing kept'
takes before 0.25 0 0
all recheck before
echo "exit $?"
all bench before --plain | tail -n 4 | sed 's/: .* cents/: N cents/'

echo '== the same'
all recheck before >said
echo "exit $?"
sed -n '/^kept/,$p' said | rounded

echo '== a saddle has slipped'
takes slipped 2.72 0 2
all recheck slipped >said
echo "exit $?"
sed -n '/^kept/,$p' said | rounded

echo '== a false string'
takes false 0.25 0.003 3
all recheck false >said
echo "exit $?"
sed -n '/^suspect/,$p' said | rounded
all recheck false --json >object
echo "exit $?"
tr '{' '\n' <object | sed -n 's/^"string":\([0-9]\).*"verdict":"\([a-z ]*\)".*"inside":\([a-z]*\).*"suspect":\(\[[^]]*\]\).*/\1 \2 \3 \4/p'
sed 's/"strings":\[.*\],"suspects"/"suspects"/; s/"kept_ms":[0-9]*/"kept_ms":N/' object
setback measure --scale 25.5in --take false3.wav | sed -n '/^ *string /,/^$/p'

echo '== strings not heard are not known to be inside'
setback recheck practice --take before1.wav >said
echo "exit $?"
sed -n '/^string/,$p' said | rounded

echo '== the recheck is noted, and takes no reading'\''s place'
setback book show practice --log | sed -n 's/.*\(string [0-9]\) *{"what":"recheck".*"verdict":"\([a-z ]*\)".*/\1 \2/p' | sort | uniq -c | awk '{ print $1, $2, $3, $4, $5 }'
setback book show practice --log | awk '{ print $3 }' | grep -c -e reading -e visit -e pluck
setback bench practice --plain --commands </dev/null | tail -n 4 | sed 's/: .* cents/: N cents/'

echo '== two strings that sound the same'
setback book add pair --scale 25.5in --strings "E4:10+E4:10"
printf 'take before1.wav\nstring 2\ntake before1.wav\n' | setback bench pair --plain --commands >said
printf 'take before1.wav\nmoved 1 0.5 back\nstring 2\ntake before1.wav\nquit\n' |
  setback recheck pair --commands --take before1.wav >said
echo "exit $?"
sed -n '/^string  /,$p' said | rounded

echo '== a wider tolerance'
all recheck slipped --tolerance 3 >/dev/null
echo "exit $?"

echo '== what was changed since'
setback bench practice --changed relief --plain --commands </dev/null >/dev/null
setback recheck practice --take before1.wav >said
echo "exit $?"
sed -n '/^kept/,$p' said | rounded

echo '== wrong use'
setback recheck
setback recheck nobody --take before1.wav
setback recheck practice --take none.wav
printf 'noise' >noise.wav
setback recheck practice --take noise.wav
echo "exit $?"
