#!/bin/sh
# On a terminal the instrument is asked for, a wrong answer again; removal asks too. The terminal is
# script's.
command -v script >/dev/null || exit 77
HOME=home
export HOME
mkdir home
# Without echo the order of typing and printing does not matter.
keys() {
  sleep 1
  printf '%s\n' "$@"
  sleep 1
}
on_terminal() { script -qec "stty -echo; $1" /dev/null | tr -d '\r' | sed 's/] /]\n/g'; }
keys 'blue bass' bass-4 '34' '34in' '' pairs '' M3 'J-17' | on_terminal 'setback book add'
setback book show 'blue bass' | sed 's/20..-..-.. ..:../DATE/'
keys no | on_terminal "setback book remove 'blue bass'; echo exit \$?"
keys yes | on_terminal "setback book remove 'blue bass'; echo exit \$?"
setback book list
eof=$(printf '\004')
keys harp "$eof" | on_terminal "setback book add unfinished; echo exit \$?"
setback book list
