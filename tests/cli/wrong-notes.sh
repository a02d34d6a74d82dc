#!/bin/sh
# Sound that is fine but not what was asked for. Figures without decimals: the notes are
# tenths of a hertz from where they would round the other way.
ln -s "$FIXTURES" f
try() {
  setback measure --scale 25.5in "$@" 2>&1 | sed 's/\([0-9]*\)\.[0-9]* Hz/\1 Hz/'
  setback measure --scale 25.5in "$@" >/dev/null 2>&1
  echo "$? $*"
}
try --open f/clean-open.flac --fretted f/clean-open.flac
try --open f/clean-fret12.flac --fretted f/clean-open.flac
try --open f/clean-open.flac --fretted f/hum-open.flac
try --open f/clean-open.flac --fretted f/weak-fret12.flac
try --open f/weak-open.flac --fretted f/weak-fret12.flac --note E2
try --take f/demo-5-A2.flac --note E2
try --take f/demo-5-A2.flac --fret 7
try --take f/clean-open.flac
try --take f/clean-open.flac --note E2
try --take f/clean-fret12.flac --note E2
# A bad take among good ones does not keep those from being measured.
setback measure --scale 25.5in --take f/absent.flac --take f/demo-5-A2.flac --json >both 2>&1
echo $?
cut -d : -f 1-3 both
