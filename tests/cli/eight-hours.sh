#!/bin/sh
# Eight hours of silence are read to the end in little memory.
# shellcheck disable=SC1091 # found at run time
. "$FIXTURES/../tests/support/wav.sh"
bytes=$((8 * 3600 * 8000))
wav long.wav 8000 1 16 1 $((2 * bytes))
hole long.wav $((2 * bytes))
# Sanitizers reserve address space of their own, and not every shell knows -v; then there is
# no limit.
limit() {
  # shellcheck disable=SC3045
  ulimit -v 200000 2>/dev/null
}
(limit && setback --version || exit 1) >/dev/null 2>&1 && limit
setback measure --scale 25.5in --take long.wav 2>&1
echo $?
