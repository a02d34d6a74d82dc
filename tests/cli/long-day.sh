#!/bin/sh
# Some minutes of a long day; `make long` has the whole one. What time it takes is not judged here,
# since other work on the machine counts, too.
# Sanitizers want to be loaded before anything else.
case $TOOLS in */asan/* | */tsan/* | */fuzz/*) exit 77 ;; esac
[ -f "$TOOLS/day.so" ] && [ -r /proc/self/status ] || exit 77
sh "$FIXTURES/../tests/long" "${TOOLS%/tests}" 180 120 2>figures | grep -v 'time a second'
