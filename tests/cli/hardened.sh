#!/bin/sh
# What makes a slip with memory harder to turn to use is in the program that was built.
command -v readelf >/dev/null || exit 77
# The builds for sanitizers and coverage are not for use, and leave some of it out.
case $TOOLS in */asan/* | */tsan/* | */coverage/* | */fuzz/*) exit 77 ;; esac
binary=$(readlink -f "$(command -v setback)")
readelf -hldW "$binary" >parts 2>/dev/null && grep -q 'ELF Header' parts || exit 77
readelf -W --dyn-syms "$binary" | awk '$7 == "UND" { sub("@.*", "", $8); print $8 }' >calls

# has WORDS PATTERN FILE
has() {
  if grep -Eq "$2" "$3"; then echo "$1: yes"; else echo "$1: NO"; fi
}
has 'position independent' 'Type: +DYN' parts
has 'position independent, and a program' 'FLAGS_1.*PIE' parts
has 'all symbols bound before it runs' 'BIND_NOW|FLAGS_1.*NOW' parts
has 'their table read-only from then on' 'GNU_RELRO' parts
has 'stack not to be executed' 'GNU_STACK +(0x[0-9a-f]+ +){5}RW +' parts
has 'stack guarded' '^__stack_chk_fail$' calls
has 'bounds checked in printing' '^__v?snprintf_chk$' calls
has 'bounds checked in copying' '^__(mem|str)[a-z]+_chk$' calls
has 'no part both writable and executable' 'LOAD.* RWE ' parts | sed 's/yes/NEITHER/; s/NO/yes/; s/NEITHER/NO/'
