#!/bin/sh
# On a terminal the instrument is asked for, a wrong answer again; removal asks too. The
# terminal is script's; keys come one answer at a time, as a person's would.
command -v script >/dev/null || exit 77
HOME=home
export HOME
mkdir home
keys() {
  for line in "$@"; do
    sleep 0.3
    printf '%s\n' "$line"
  done
  sleep 0.3
}
on_terminal() { script -qec "$1" /dev/null | tr -d '\r'; }
keys 'blue bass' bass-4 '34' '34in' '' pairs '' M3 'J-17' | on_terminal 'setback book add'
setback book show 'blue bass' | sed 's/20..-..-.. ..:../DATE/'
keys no | on_terminal "setback book remove 'blue bass'; echo exit \$?"
keys yes | on_terminal "setback book remove 'blue bass'; echo exit \$?"
setback book list
keys harp | on_terminal "timeout 5 setback book add unfinished; echo exit \$?"
setback book list
