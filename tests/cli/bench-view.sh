#!/bin/sh
# The session on the whole screen, in a terminal of 80 x 24 and one of 200 x 60; and the
# terminal given back on every way out.
command -v tmux >/dev/null || exit 77
export TMUX_TMPDIR="$PWD" LC_ALL=C.UTF-8
in_tmux() { tmux -u -L view "$@"; }
trap 'in_tmux kill-server 2>/dev/null' EXIT
setback book add practice --scale 25.5in --strings "E4:10,B3:13,G3:17,D3:26w,A2:36w,E2:46w" \
  --thread 4-40

# Waits until the command succeeds, ten seconds at most.
until_true() {
  tries=100
  until "$@"; do
    tries=$((tries - 1))
    if [ $tries -eq 0 ]; then
      echo "never: $*"
      return 1
    fi
    sleep 0.1
  done
}
shows() { in_tmux capture-pane -p | grep -q "$1"; }
# The first line reaches so far and no further, and nothing is being drawn.
fills() {
  before=$(in_tmux capture-pane -p)
  sleep 0.2
  [ "$before" = "$(in_tmux capture-pane -p)" ] &&
    [ "$(printf '%s\n' "$before" | head -n 1 | sed 's/ *$//' | wc -m)" -eq $(($1 + 1)) ]
}
type_line() { in_tmux send-keys "$1" Enter; }

in_tmux -f /dev/null new-session -d -x 80 -y 24 'PS1="$ " sh'
in_tmux set-option -g default-size 80x24 2>/dev/null
until_true shows '\$'
type_line "setback bench practice --take '$FIXTURES/demo-6-E2.flac' --pace 0"
until_true shows 'recording is over'
until_true shows 'move due'
until_true fills 80
echo '== 80 x 24'
in_tmux capture-pane -p

in_tmux send-keys e
in_tmux send-keys 'moved 6 3.3 back' Enter
until_true shows 'TUNE\|moved: tune'
in_tmux send-keys Up
until_true shows '> 5 A2'
in_tmux resize-window -x 200 -y 60
until_true fills 200
echo '== 200 x 60, a move told, another string looked at'
in_tmux capture-pane -p | sed 's/ *$//'
in_tmux resize-window -x 50 -y 12
until_true fills 50
echo '== 50 x 12'
in_tmux capture-pane -p
in_tmux resize-window -x 80 -y 24
until_true shows 'q end'
in_tmux send-keys q
until_true shows '^string 6 E2: '
echo '== when it is over'
in_tmux capture-pane -p | sed -n '/string 1/,/string 6/p' | sed 's/: [+-][0-9.]* ± [0-9.]*/: N/'

echo '== given back'
type_line 'clear; stty -g >before'
until_true test -s before
for signal in INT TERM HUP QUIT ABRT SEGV; do
  type_line "clear; sh -c 'echo \$\$ >pid; exec setback bench practice --commands --take $FIXTURES/demo-4-D3.flac'; echo ended >ended"
  until_true shows 'q end'
  alternate=$(in_tmux display-message -p '#{alternate_on}')
  kill -s "$signal" "$(cat pid)"
  until_true test -s ended
  type_line 'stty -g >after'
  until_true test -s after
  cmp -s before after && same=same || same=changed
  echo "$signal: alternate screen $alternate then $(in_tmux display-message -p '#{alternate_on}'), modes $same"
  rm -f ended after pid
done
