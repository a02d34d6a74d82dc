#!/bin/sh
# The terminal is closed under a session: it ends by itself within three seconds, and what it had
# told is kept. On the whole screen, in lines, and with a recording that still plays.
command -v tmux >/dev/null || exit 77
export TMUX_TMPDIR="$PWD" LC_ALL=C.UTF-8
in_tmux() { tmux -u -L gone "$@"; }
trap 'in_tmux kill-server 2>/dev/null' EXIT
setback book add practice --scale 25.5in --strings "E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w"

# Waits until the command succeeds, so many seconds at most.
within() {
  tries=$(($1 * 10))
  shift
  until "$@"; do
    tries=$((tries - 1))
    if [ $tries -eq 0 ]; then
      echo "never: $*"
      return 1
    fi
    sleep 0.1
  done
}
has_ended() { ! kill -0 "$(cat pid)" 2>/dev/null; }
heard() { [ "$(plucks)" -gt "$before" ]; }
plucks() { setback book show practice --log | grep -c ' pluck '; }

# close_under WHAT ARGUMENTS: once something was heard.
close_under() {
  before=$(plucks)
  in_tmux -f /dev/null new-session -d -s work -x 80 -y 24 \
    "echo \$\$ >pid; exec setback bench practice $2"
  within 10 heard
  kept=$(($(plucks) - before))
  in_tmux kill-session -t work
  within 3 has_ended && echo "$1: ended"
  [ $kept -gt 0 ] && [ $(($(plucks) - before)) -ge $kept ] && echo 'what was heard is kept'
  setback book export >/dev/null && echo 'the book is whole'
}
close_under 'the screen' "--take '$FIXTURES/demo-4-D3.flac' --pace 0"
close_under 'a recording still plays' "--take '$FIXTURES/demo-4-D3.flac' --pace 4"
close_under 'lines' "--take '$FIXTURES/demo-4-D3.flac' --plain --commands"
