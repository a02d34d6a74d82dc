#!/bin/sh
# A disk that is full, a real one of 200 kB, where this may be mounted: all that was told as added
# is there, and when there is room again, work goes on.
[ "$(id -u)" = 0 ] && unshare -m true 2>/dev/null || exit 77
# shellcheck disable=SC2016 # for the inner shell
unshare -m sh -c '
  mkdir disk && mount -t tmpfs -o size=200k none disk 2>/dev/null || exit 77
  cp "$FIXTURES/demo-1-E4.flac" take.flac
  head -c 100000 /dev/zero >disk/ballast
  added=0 code=0
  while [ $code = 0 ] && [ $added -lt 300 ]; do
    setback book add "number $added" --kind 12-string --book disk/book.db 2>words
    code=$?
    added=$((added + (code == 0)))
  done
  echo "$code"
  cat words
  echo "$((added > 3)) $(($(setback book list --book disk/book.db | wc -l) - added)) lost"
  head -c 300000 /dev/zero >disk/filled 2>/dev/null
  setback bench "number 1" --plain --take take.flac --book disk/book.db 2>&1 >/dev/null
  echo "$?"
  setback survey --scale 650mm --svg disk/neck.svg --readings - 2>&1 >/dev/null <<END
1	2.1	0.2
5	1.7	0.2
12	4	0.2
END
  echo "$?"
  ls -A disk
  rm disk/filled disk/ballast
  setback bench "number 1" --plain --take take.flac --book disk/book.db >/dev/null
  echo "$? when there is room again"
  cd / && umount "$OLDPWD/disk"
'
