#!/bin/sh
# What zsh offers: a shell on a terminal of its own is given each line and a tab, and tells what
# its completion adds.
command -v zsh >/dev/null || exit 77
zsh -fc 'zmodload zsh/zpty && autoload -Uz compinit && [[ -n $^fpath/compinit(#qN) ]]' || exit 77
script=$TOOLS/../share/_setback
zsh -n "$script" && head -n 1 "$script"
mkdir takes && touch takes/one.wav 'takes/two three.wav'
setback book add practice --kind electric
setback book add 'blue bass' --kind bass-4
setback book add elsewhere --kind ukulele --book other.db
cat >inner <<'END'
LISTMAX=100000
fpath=($TOOLS/../share $fpath)
autoload -Uz compinit && compinit -u -d "$PWD/dump"
setopt no_beep
compadd() {
  local -a added
  if [[ ${@[1,(i)-]} != *-[a-zA-Z]#[OAD]* ]]; then
    builtin compadd -O added "$@"
    print -rl -- '<'$^added'>' >>offered
  fi
  builtin compadd "$@"
}
END
cat >drive <<'END'
zmodload zsh/zpty
zpty inner zsh -f -i
zpty -w inner 'setopt extended_glob; source ./inner; print ready >>told'
await() {
  local tries=300
  while [[ "$(tail -n 1 told 2>/dev/null)" != $1 ]] && (( tries-- )); do
    zpty -r -t inner >/dev/null
    sleep 0.05
  done
}
await ready
case=0
try() {
  rm -f offered
  zpty -w -n inner "$1"$'\t'
  zpty -w -n inner $'\025'"print $(( ++case )) >>told"$'\n'
  await $case
  print -r -- "$1 -> ${(j: :)${(ou)${(f)$(cat offered 2>/dev/null)}}}"
}
try 'setback m'
try 'setback --'
try 'setback bo'
try 'setback book e'
try 'setback measure --th'
try 'setback measure --screw '
try 'setback measure --screw=pul'
try 'setback measure --take takes/'
try 'setback measure --thread 4-'
try 'setback measure --scale '
try 'setback book add new --kind bas'
try 'setback book show '
try 'setback book show b'
try 'setback book show --book other.db '
try 'setback bench pr'
try 'setback bench practice --json --js'
try 'setback book export --'
zpty -d inner
END
TERM=dumb zsh -f drive 2>&1
