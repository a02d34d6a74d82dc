#!/bin/sh
# What bash offers: the words of the command table and no others. Each case is a line up to the
# cursor, cut into words as readline cuts it.
bash -c '((BASH_VERSINFO[0] >= 4))' 2>/dev/null || exit 77
mkdir takes && touch takes/one.wav 'takes/two three.wav' takes.txt
setback book add practice --kind electric
setback book add 'blue bass' --kind bass-4
setback book add elsewhere --kind ukulele --book other.db
cat >drive <<'END'
source "$TOOLS/../share/setback.bash"
# WORD... : the last is the one to be completed.
try() {
  COMP_WORDS=("$@")
  COMP_CWORD=$(($# - 1))
  _setback setback "${COMP_WORDS[COMP_CWORD]}" "${COMP_WORDS[COMP_CWORD - 1]}"
  printf '%s ->' "$*"
  [ ${#COMPREPLY[@]} -eq 0 ] || printf '<%s>\n' "${COMPREPLY[@]}" | LC_ALL=C sort | sed 's/^/ /' | tr -d '\n'
  echo
}
try setback m
try setback --
try setback book re
try setback measure --t
try setback measure --screw ''
try setback measure --screw = pu
try setback measure --screw =
try setback measure --take takes/
try setback measure --take = takes/t
try setback measure --json --p
try setback measure --scale ''
try setback measure --thread 4
try setback book add new --kind bas
try setback book add new --saddles ''
try setback book add '' | wc -w | sed 's/[0-9][0-9].*/many/'
try setback book show ''
try setback book show b
try setback book show 'blue\ '
try setback book show --book other.db ''
try setback book import ta
try setback bench pr
try setback predict practice --from-readings ''
try setback inputs ''
try setback specs --unit ''
try setback nonsense ''
try setback book nonsense ''
# Every command is offered, and after each every option of its help and no other.
offers() {
  try "$@" | tr ' ' '\n' | sed -n 's/^<\(.*\)>$/\1/p'
}
setback --help | sed -n 's/^  \([a-z][a-z]*\( [a-z][a-z]*\)\{0,1\}\)  .*/\1/p' >commands
while read -r command; do
  words=(setback $command)
  offers setback '' | grep -qx "${command%% *}" || echo "$command is not offered"
  offers "${words[@]}" | grep -qx "${command##* }" || echo "$command is not offered"
  offers "${words[@]}" -- | sort >offered
  { echo --help && setback $command --help | sed -n 's/^  \(--[a-z0-9-]*\).*/\1/p'; } | sort >known
  diff offered known
done <commands
awk 'END { if (NR > 10) print "all commands looked at" }' commands
END
bash --norc --noprofile drive 2>&1
