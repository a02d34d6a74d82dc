# shellcheck shell=sh
# A private PulseAudio for the tests: no sound card, no session, nothing of the user's touched.
# Two null sinks stand for two microphones; what is played into one can be captured:
#   bench  answers quickly; PortAudio's devices `default` and `pulse` hear it
#   slow   may take 2 s to give its first sample; the device `slow` hears it
#
# To source:   . tests/support/pulse.sh
#   pulse_start            serves, points the environment of this shell there, and stops all
#                          when the shell ends
#   pulse_play FILE [SINK] plays in the background; $! is the player
#   pulse_await WORDS FILE PROCESS  until WORDS stand in FILE or the process has ended, 15 s
#                          at most
#   pulse_signal NAME      KILL, STOP or CONT for the server
#   pulse_stop             ends server and players, removes the folder
# To run:      sh tests/support/pulse.sh serve FOLDER
#   becomes the server, with its socket at FOLDER/native. It dies with the process that
#   started it, where setpriv can arrange that.
#
# Only a function may touch $pulse_folder, $pulse_server and $pulse_players.

pulse_configure() {
  cat >"$1/default.pa" <<END
load-module module-null-sink sink_name=bench format=float32le rate=48000 channels=2 norewinds=1
load-module module-null-sink sink_name=slow format=float32le rate=48000 channels=2
set-default-sink bench
set-default-source bench.monitor
load-module module-native-protocol-unix auth-anonymous=1 auth-cookie-enabled=0 socket=$1/native
END
  cat >"$1/asound.conf" <<END
pcm.pulse { type pulse }
pcm.default { type pulse }
pcm.slow { type pulse device "slow.monitor" }
END
  printf 'autospawn = no\nenable-shm = no\n' >"$1/client.conf"
}

# FOLDER: the variables that send the programs of this shell to the server there.
pulse_point() {
  export PULSE_SERVER="unix:$1/native" PULSE_CLIENTCONFIG="$1/client.conf" \
    PULSE_COOKIE="$1/cookie" ALSA_CONFIG_PATH="$1/asound.conf" XDG_RUNTIME_DIR="$1" \
    JACK_NO_START_SERVER=1
  unset PULSE_SINK PULSE_SOURCE
}

pulse_serve() {
  pulse_configure "$1" || return
  rm -f "$1/native"
  set -- env -u PULSE_SERVER HOME="$1" XDG_RUNTIME_DIR="$1" XDG_CONFIG_HOME="$1" \
    PULSE_RUNTIME_PATH="$1" PULSE_STATE_PATH="$1" DBUS_SESSION_BUS_ADDRESS=disabled: \
    pulseaudio -n -F "$1/default.pa" --daemonize=no --exit-idle-time=-1 --use-pid-file=no \
    --disable-shm=yes --log-target=stderr --log-level=error
  if setpriv --pdeathsig KILL true 2>/dev/null; then set -- setpriv --pdeathsig KILL "$@"; fi
  exec "$@"
}

pulse_start() {
  pulse_folder=$(mktemp -d /tmp/setback-pulse.XXXXXX) || return
  pulse_players=
  trap pulse_stop EXIT
  trap 'exit 1' HUP INT TERM
  pulse_point "$pulse_folder"
  (pulse_serve "$pulse_folder") >/dev/null 2>"$pulse_folder/log" </dev/null &
  pulse_server=$!
  for _ in 1 2 3 4 5 6 7 8 9 10; do
    for _ in 1 2 3 4 5 6 7 8 9 10; do
      if pactl info >/dev/null 2>&1; then return 0; fi
      sleep 0.1
    done
  done
  echo 'pulse.sh: the server does not start' >&2
  cat "$pulse_folder/log" >&2
  return 1
}

pulse_play() {
  paplay --device="${2:-bench}" "$1" >/dev/null 2>&1 </dev/null &
  pulse_players="$pulse_players $!"
}

pulse_await() {
  pulse_tries=0
  until grep -q "$1" "$2" || [ $pulse_tries -ge 50 ] || ! kill -0 "$3" 2>/dev/null; do
    sleep 0.3
    pulse_tries=$((pulse_tries + 1))
  done
}

pulse_signal() {
  kill "-$1" "$pulse_server"
}

pulse_stop() {
  [ -n "${pulse_folder:-}" ] || return 0
  # shellcheck disable=SC2086 # words are wanted
  kill -KILL $pulse_server $pulse_players 2>/dev/null
  # shellcheck disable=SC2086
  wait $pulse_server $pulse_players 2>/dev/null
  rm -rf "$pulse_folder"
  pulse_folder=
}

if [ "${1:-}" = serve ] && [ -n "${2:-}" ]; then pulse_serve "$2"; fi
