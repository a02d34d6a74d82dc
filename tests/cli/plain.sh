#!/bin/sh
# Where the locale's characters are not UTF-8 nothing but ASCII is printed, in the same words and
# columns; what a person wrote stays as it is, and a file is UTF-8.
bytes() { LC_ALL=C grep -c "$(printf '[\200-\377]')"; }
ask() { setback measure --scale 25.5in --thread 4-40 "$@"; }
ask --take "$FIXTURES/demo-6-E2.flac" | bytes
for locale in C POSIX xx_YY; do
  echo "== $locale"
  LC_ALL=$locale ask --take "$FIXTURES/demo-6-E2.flac" | head -n 4
done
LC_ALL=xx_YY.UTF-8 ask --take "$FIXTURES/demo-6-E2.flac" | bytes
echo '== several'
LC_ALL=C ask --take "$FIXTURES/demo-6-E2.flac" --take "$FIXTURES/demo-5-A2.flac" | head -n 3
echo '== messages, and what the program did not write'
LC_ALL=C setback measure --scale 25.5in --take 'no ±½ Größe.wav' 2>&1
LC_ALL=C setback book add 'Größe' --kind electric --owner ±½
LC_ALL=C setback book list | cut -d ' ' -f 1-3
printf 'note 3½ turns, ±¼\n' | LC_ALL=C setback bench Größe --plain --commands | tail -n 1
LC_ALL=C setback handover Größe --draft --text | sed -n '/^Notes/,/^- /p'
LC_ALL=C setback handover Größe --draft --text -o sheet.txt && grep -c '3½ turns, ±¼' sheet.txt
