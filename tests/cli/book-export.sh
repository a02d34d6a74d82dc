#!/bin/sh
# What is exported comes back the same; what is not whole or not free changes nothing.
book() { setback book "$@" || echo "exit $?"; }
e=$(printf '\033')
book add practice --kind electric --owner 'J-17 ½'
book add "evil${e}[31m name" --kind ukulele
book edit practice --frets 21
book export >first
book import --book copy.db first
SETBACK_BOOK=copy.db setback book export >second
cmp first second && echo same
# shellcheck disable=SC2012 # the mode is wanted, and stat differs between systems
ls -l copy.db | cut -c 1-10
grep -c "$e" first
book import first
{ head -n 1 first && tail -n +2 first | sed 's/"instrument":"/&new /'; } >renamed
head -n 3 renamed >'cut' && book import cut
sed '$s/"events":[0-9]*/"events":99/' renamed >counts && book import counts
sed '3s/"frets":[0-9]*/"frets":0/' renamed >frets && book import frets
sed '3s/described/danced/' renamed >kind && book import kind
sed '3s/"string":0/"string":4294967296/' renamed >string && book import string
sed '2s/"added_ms"/"more":1,&/' renamed >'more' && book import more
printf '{"schema":"setback.book/1"' >open && book import open
head -c 200000 /dev/zero | tr '\0' x >long && book import long
: >empty && book import empty
book import missing
setback book export | cmp - first && echo unchanged
book import - <renamed
setback book list | sed 's/20..-..-../DATE/'
