#!/bin/sh
# Six takes make one table, one string a row; the cells that depend on the last digit of a
# measurement are left out.
cd "$FIXTURES" || exit 1
set --
for take in demo-*.flac; do set -- "$@" --take "$take"; done
setback measure --scale 25.5in --thread 4-40 "$@" >"$HOME/table"
echo $?
awk 'NR == 1 || NF == 0 || NR > 7 { print; next } { print $1, $5 == "leave" ? $5 : $6 }' \
  "$HOME/table" | sed 's/[0-9.]* mm/N mm/'
setback measure --scale 25.5in --json "$@" | sed 's/"take":"\([^"]*\)".*"verdict":"\([a-z ]*\)".*/\1 \2/; s/.*1",//'
