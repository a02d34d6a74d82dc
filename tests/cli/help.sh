#!/bin/sh
# Help goes to standard output with 0; the manual page has every option that help has.
setback --help
for command in measure move compromise predict survey bench restring recheck inputs listen; do
  setback $command --help >help || echo "no help for $command"
  sed -n 's/^  \(--[a-z0-9-]*\).*/\1/p' help | sort -u >>options
  head -n 1 help
done
setback --man >page
sort -u options | while read -r option; do
  sed 's/\\-/-/g' page | grep -q "^.B $option" || echo "$option is not in the manual page"
done
setback --version | sed 's/[0-9.]*$/N/'
head -n 3 page | sed 's/setback [0-9.]*"/setback N"/'
setback measure --take --help | head -n 1
