#!/bin/sh
# What `make install` puts where, also in folders with names of their own; it runs from there,
# its pages are found, and `make uninstall` leaves no file.
command -v make >/dev/null || exit 77
build=${TOOLS%/tests}
# What was set for the suite holds for this make too, but not its jobs.
settings=$(printf '%s' "${MAKEFLAGS-}" | sed -n 's/.* -- / -- /p')
goal() {
  env -u MAKELEVEL MAKEFLAGS="$settings" make -s -C "$FIXTURES/.." NODEPS=1 MODE="${build##*/}" \
    -o "build/${build##*/}/setback" "$@" || echo "make: $?"
}
listed() {
  find "$1" -type f -printf '%m %P\n' | sort -k 2
}
stage="$PWD/a place"
goal install DESTDIR="$stage" PREFIX=/usr
listed "$stage"
"$stage/usr/bin/setback" move --cents 4.6 --scale 25.5in | head -n 1
cmp "$stage/usr/bin/setback" "$build/setback"
grep -l @ "$stage"/usr/share/man/man*/*
if command -v man >/dev/null; then
  for page in 1/setback.1 5/setback-book.5; do
    MANROFFSEQ='' man --warnings -E UTF-8 -l "$stage/usr/share/man/man$page" 2>&1 >/dev/null | head -n 3
  done
fi
goal uninstall DESTDIR="$stage" PREFIX=/usr >/dev/null
listed "$stage"
goal install prefix="$PWD/own" bindir="$PWD/own/tools" mandir="$PWD/own/pages"
listed own
