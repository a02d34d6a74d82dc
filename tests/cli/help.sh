#!/bin/sh
# Help goes to standard output with 0.
setback --help
for command in measure move compromise predict survey bench restring recheck inputs listen; do
  setback $command --help | head -n 1
done
setback book --help | sed -n 5p
setback --version | sed 's/[0-9.]*$/N/'
setback --man | head -n 3 | sed 's/setback [0-9.]*"/setback N"/'
setback measure --take --help | head -n 1
