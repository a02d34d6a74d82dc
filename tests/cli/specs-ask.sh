#!/bin/sh
# On a terminal a value in no plausible range is asked for again; what is given twice is meant.
# The terminal is script's.
command -v script >/dev/null || exit 77
HOME=home
export HOME
mkdir home
keys() {
  sleep 1
  printf '%s\n' "$@"
  sleep 1
}
on_terminal() { script -qec "stty -echo; $1" /dev/null | tr -d '\r' | sed 's/] /]\n/g'; }
setback book add practice --kind electric
export TERM=dumb
keys 3.5 3.5mm | on_terminal 'setback specs practice action17-bass=35mm; echo exit $?'
keys 6.87 6.87ohm 6.87ohm | on_terminal 'setback specs practice resistance-neck=6.87; echo exit $?'
keys '' | on_terminal 'setback specs practice relief=35mm; echo exit $?'
setback book show practice --log --json | grep -o '"what":.*'
