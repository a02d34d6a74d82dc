#!/bin/sh
# What cannot be printed is not passed over; a reader that leaves early is no failure.
setback move --cents 4 --scale 25.5in >&-
echo "$? standard output closed"
if [ -c /dev/full ]; then
  setback move --cents 4 --scale 25.5in >/dev/full
  setback move --cents 4 --scale 25.5in --json >/dev/full
  echo "$? disk full"
fi
{
  sleep 0.2
  setback --man
  echo "$? reader gone" >&2
} | :
setback move --cents 4 --scale 25.5in 2>&- | head -n 1
setback mesure 2>&-
echo "$? standard error closed"
