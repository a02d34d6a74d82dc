#!/bin/sh
# One voice: what the cases of the command line have on standard error begins in lower case, has
# no full stop, and a failure is followed by what to do.
awk '
  function bad(why) { print FILENAME ": " why ": " $0 }
  /^setback: / {
    n++
    if ($0 ~ /^setback: [A-Z]/) bad("upper case")
    if ($0 ~ /[.!]$/) bad("full stop")
    after = 1
    next
  }
  after && /^  [^ ]/ { advice++; if ($0 ~ /[.!]$/) bad("full stop") }
  { after = 0 }
  END { print (n > 150 && advice > 0.9 * n ? "many messages, nearly all with advice" : n " messages, " advice " with advice") }
' "$FIXTURES"/../tests/cli/*.err | sed 's/.*\/tests/tests/'
