#!/bin/sh
# On a terminal a value in no plausible range is asked for again; what is given twice is meant.
# The terminal is script's.
command -v script >/dev/null || exit 77
HOME=home
export HOME
mkdir home
# Typed once the echo is off, and the terminal stays until the command has ended.
wait_for() {
  tries=0
  until [ -e "$1" ] || [ $((tries += 1)) -gt 300 ]; do sleep 0.1; done
}
keys() {
  wait_for ready
  printf '%s\n' "$@"
  wait_for ended
  rm -f ready ended
}
on_terminal() {
  script -qec "stty -echo; : >ready; $1; echo exit \$?; : >ended" /dev/null | tr -d '\r' |
    sed 's/] /]\n/g'
}
setback book add practice --kind electric
export TERM=dumb
keys 3.5 3.5mm | on_terminal 'setback specs practice action17-bass=35mm'
keys 6.87 6.87ohm 6.87ohm | on_terminal 'setback specs practice resistance-neck=6.87'
keys '' | on_terminal 'setback specs practice relief=35mm'
setback book show practice --log --json | grep -o '"what":.*'
