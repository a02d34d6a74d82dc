#!/bin/sh
# Nothing is written but the book and what was asked for, nothing over a file that is there, the
# book for its owner alone, whatever the umask; and nobody is called over a network.
umask 022
here=$PWD
cat >readings.tsv <<END
1	2.1	0.2
5	1.7	0.2
12	4	0.2
END
# Every file of the home and of this folder, with its mode and its sum.
tree() {
  (cd / && find "$HOME" "$here" -exec ls -ld {} \; | awk '{ print $1, $NF }' | sort
    find "$HOME" "$here" -type f -exec cksum {} \;)
}
# What running it changes: names alone, and modes of files that are new.
changes() {
  tree >"$top/before"
  "$@" >"$top/out" 2>&1
  code=$?
  tree >"$top/after"
  echo "$code $*" | sed "s|$FIXTURES|FIXTURES|g"
  diff "$top/before" "$top/after" | sed -n "s|^> \\([-d]r.*\\)|  \\1|p" | sed "s|$HOME|HOME|; s|$PWD|.|"
}
top=$(mktemp -d /tmp/setback-surprise.XXXXXX)
trap 'rm -rf "$top"' EXIT

for words in --help --version --man 'move --cents 4.6 --scale 25.5in' 'book list' \
  'compromise --needed 1.2,3.2,2.6 --scale 650mm' 'measure --help' 'mesure' \
  'survey --scale 650mm --readings readings.tsv' \
  'predict --scale 25.5in --string E4:10,B3:13 --action17 1.8mm' \
  "measure --scale 25.5in --take $FIXTURES/demo-1-E4.flac" \
  "measure --scale 25.5in --take absent.wav" 'book show one'; do
  # shellcheck disable=SC2086 # words are wanted
  changes setback $words
done
(umask 000 && changes setback book add one --kind electric)
changes setback bench one --plain --take "$FIXTURES/demo-1-E4.flac"
sum=$(cksum <"$HOME/.local/share/setback/book.db")
for words in 'book show one --log' 'book list' 'book export' 'predict one --action17 1.8mm' \
  'predict one --action17 1.8mm --from-readings book'; do
  # shellcheck disable=SC2086
  changes setback $words
done
[ "$sum" = "$(cksum <"$HOME/.local/share/setback/book.db")" ] && echo 'reading leaves the book as it is'

echo '== what was asked for'
changes setback survey --scale 650mm --readings readings.tsv --svg neck.svg
changes setback survey --scale 650mm --readings readings.tsv --svg neck.svg
echo 'mine' >neck.svg
changes setback survey --scale 650mm --readings readings.tsv --svg neck.svg
cat neck.svg
setback survey --scale 650mm --readings readings.tsv --svg neck.svg --force >/dev/null
grep -c '<svg' neck.svg

echo '== no network'
if strace -o trace true 2>/dev/null; then
  # Leaks are not looked for under a tracer; other cases do.
  export ASAN_OPTIONS="${ASAN_OPTIONS-}:detect_leaks=0"
  strace -f -e trace=socket,connect,bind -o trace setback bench one --plain \
    --take "$FIXTURES/demo-6-E2.flac" >/dev/null
  strace -f -e trace=socket,connect,bind -A -o trace setback book export >/dev/null
  strace -f -e trace=socket,connect,bind -A -o trace setback measure --scale 25.5in \
    --take "$FIXTURES/demo-1-E4.flac" >/dev/null
  # Debian's PortAudio may look for a sound server on this machine, by a local socket.
  grep -c 'AF_INET\|AF_PACKET\|AF_NETLINK' trace || true
else
  echo 0
fi
