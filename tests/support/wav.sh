# shellcheck shell=sh
# WAV files made byte by byte, for the cases of the command line.
#
#   wav FILE RATE CHANNELS BITS TAG BYTES   begins a file with a header for BYTES of data
#                                           (TAG 1 = integers, 3 = floats)
#   repeat FILE TEXT TIMES                  appends a printf text so many times
#   hole FILE BYTES                         makes the file longer by zeros that take no room

# Little-endian NUMBER in SIZE bytes.
bytes() {
  number=$1 size=$2
  while [ "$size" -gt 0 ]; do
    printf '%b' "\\0$(printf '%03o' $((number & 255)))"
    number=$((number >> 8)) size=$((size - 1))
  done
}

wav() {
  frame=$(($3 * $4 / 8))
  {
    printf RIFF && bytes $(($6 + 36)) 4 && printf 'WAVEfmt ' && bytes 16 4 && bytes "$5" 2
    bytes "$3" 2 && bytes "$2" 4 && bytes $((($2 * frame) & 0xffffffff)) 4 && bytes $frame 2
    bytes "$4" 2 && printf data && bytes "$6" 4
  } >"$1"
}

repeat() {
  awk -v n="$3" 'BEGIN { while (n-- > 0) print "" }' | while read -r _; do printf '%b' "$2"; done >>"$1"
}

hole() {
  dd if=/dev/null of="$1" bs=1 seek=$(($(wc -c <"$1") + $2)) 2>/dev/null
}
