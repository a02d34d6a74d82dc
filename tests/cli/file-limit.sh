#!/bin/sh
# A limit to the size of files: the line that says so in place of a death by a signal; what was there
# is kept.
SETBACK_BOOK=book.db
export SETBACK_BOOK
setback book add one --kind electric
ulimit_run() { (ulimit -f 16 && "$@" 2>&1); }
for i in 1 2 3 4 5 6 7 8; do
  setback book import - <<END >/dev/null
$(setback book export | sed -n 1p)
{"instrument":"many-$i","added_ms":1}
$(setback book export | sed -n 3p)
{"end":"setback.book/1","instruments":1,"events":1}
END
done
ulimit_run setback book add two --kind electric --owner "$(printf '%0199d' 7)"
echo "$?"
setback book list | wc -l
(ulimit -f 1 && setback book export >out) 2>&1
echo "$?"
(ulimit -f 1 && setback survey --scale 650mm --readings - --svg neck.svg) 2>&1 >/dev/null <<END
1	2.1	0.2
5	1.7	0.2
12	4	0.2
END
echo "$?"
ls -A
