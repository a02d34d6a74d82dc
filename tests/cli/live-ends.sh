#!/bin/sh
# How listening ends when nothing is played: time, signals, a server that dies, none at all.
for tool in pulseaudio pactl paplay; do command -v $tool >/dev/null || exit 77; done
# shellcheck disable=SC1091 # found at run time
. "$FIXTURES/../tests/support/pulse.sh"
pulse_start || exit 1

# begin ARGUMENTS: in the background, until it says that it listens.
begin() {
  : >err # it must be there before it is looked into
  setback "$@" >out 2>err &
  running=$!
  pulse_await 'listening\|recording' err $running
}

# end WHAT: how it ended, and whether within 3 s of now.
end() {
  from=$(date +%s)
  wait $running
  status=$?
  [ $(($(date +%s) - from)) -le 3 ] || echo 'too late'
  echo "$1: exit $status"
  sed 's/from .* at [0-9]* Hz/from X/; s/to .* at [0-9]* Hz/to X/; s/^[0-9.]* s with/N s with/; s/first [0-9.]* s/first N s/' err
  cat out
}

setback inputs --json | sed 's/.*"name":"default".*/the default input is listed/'
begin measure --scale 25.5in --timeout 2
end 'time is up'
begin measure --scale 25.5in
kill -INT $running
end 'interrupted'
begin measure --scale 25.5in --json
kill -TERM $running
end 'terminated'
begin measure --scale 25.5in --input nothing-like-that
end 'no such input'
begin listen --save timed.wav --seconds 1
end 'recorded'
wc -c <timed.wav | awk '{ print ($1 > 100000 ? "a second of sound" : $1) }'
begin listen --save stopped.flac
sleep 1
kill -INT $running
end 'stopped'
begin listen --save timed.wav --force --seconds 1
end 'replaced'
: >err
(ulimit -f 200 && exec setback listen --save cut.wav --seconds 20) >out 2>err &
running=$!
pulse_await 'recording' err $running
end 'the disk is full'
setback measure --scale 25.5in --take cut.wav 2>&1
begin listen --save lost.wav
sleep 1
pulse_signal KILL
end 'server died while recording'
pulse_stop
ls -A
pulse_start || exit 1
begin measure --scale 25.5in
pulse_signal KILL
end 'server died while measuring'
begin measure --scale 25.5in
end 'no server'
setback inputs
echo "exit $?"
