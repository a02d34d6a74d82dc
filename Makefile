# setback: build, test, install. `make help` lists the goals.

# --- settings; each can be given on the command line --------------------------------------
VERSION = 0.1.0
# Where `install` puts things; the names in small letters that other makefiles use will do too.
PREFIX  = $(or $(prefix),/usr/local)
BINDIR  = $(or $(bindir),$(PREFIX)/bin)
DATADIR = $(or $(datarootdir),$(PREFIX)/share)
MANDIR  = $(or $(mandir),$(DATADIR)/man)
BASHDIR = $(DATADIR)/bash-completion/completions
ZSHDIR  = $(DATADIR)/zsh/site-functions
DESTDIR =
INSTALL = install
# release, asan, tsan, coverage or fuzz; any other name is a release build in its own folder.
MODE    = release
CC      = cc
CFLAGS  = -O2 -g
LDFLAGS =
# V=1 shows commands and passing tests; WERROR=1 makes warnings errors; NODEPS=1 neither looks
# for packages nor installs any; T='saddle ring' runs only the tests with such names, and
# NOT='capture' leaves such out.
V       =
WERROR  =
NODEPS  =
T       =
NOT     =
# How long `fuzz` runs each target.
SECONDS = 60

PACKAGES      = portaudio-2.0 kissfft-float sndfile jansson sqlite3 ncursesw
TEST_PACKAGES = cmocka aubio
# ------------------------------------------------------------------------------------------

SYSTEM  := $(shell uname)
WARNINGS = -pedantic -Wall -Wextra -Wconversion -Wsign-conversion -Wshadow -Wdouble-promotion \
  -Wstrict-prototypes -Wmissing-prototypes -Wold-style-definition -Wvla -Wwrite-strings \
  -Wformat=2 -Wundef -Wcast-qual -Wpointer-arith $(if $(filter 1,$(WERROR)),-Werror)
# -ffp-contract=off: the same figures from every compiler and machine.
# -ffile-prefix-map: the same bytes from every folder.
BASE = -std=c11 $(WARNINGS) -I. -D_POSIX_C_SOURCE=200809L -DSB_VERSION='"$(VERSION)"' -pthread \
  -fno-common -fPIE -fstack-protector-strong $(CLASH_$(SYSTEM)) -ffp-contract=off \
  '-ffile-prefix-map=$(CURDIR)=.'
TRACED = -O1 -fno-omit-frame-pointer -fno-sanitize-recover=all
MODE_asan     = $(TRACED) -fsanitize=address,undefined
MODE_tsan     = $(TRACED) -fsanitize=thread
MODE_fuzz     = $(TRACED) -fsanitize=fuzzer-no-link,address,undefined
MODE_coverage = -O0 --coverage
MODE_FLAGS   := $(or $(MODE_$(MODE)),-U_FORTIFY_SOURCE -D_FORTIFY_SOURCE=2)
CLASH_Linux   = -fstack-clash-protection
HARD_Linux    = -pie -Wl,-z,relro -Wl,-z,now -Wl,-z,noexecstack -Wl,--as-needed
# ar: no times and no owners.
PLAIN_Linux   = D
COMPILE = $(CC) $(BASE) $(CFLAGS) $(MODE_FLAGS) $(PKG_CFLAGS)
LINK    = $(CC) -pthread $(CFLAGS) $(filter-out -D% -U%,$(MODE_FLAGS)) $(HARD_$(SYSTEM)) $(LDFLAGS)

# Asked once, and only when a recipe needs it: `deps` may just have installed the answer.
lazy = $(eval $1 := $$(shell $2))$($1)
# The feature macros are ours alone (BASE).
PKG_CFLAGS  = $(call lazy,PKG_CFLAGS,pkg-config --cflags $(PACKAGES) | \
  sed 's/-I/-isystem /g; s/-D_[A-Z_]*SOURCE[=0-9L]*//g')
PKG_LIBS    = $(call lazy,PKG_LIBS,pkg-config --libs $(PACKAGES)) -lm
TEST_CFLAGS = $(call lazy,TEST_CFLAGS,pkg-config --cflags $(TEST_PACKAGES) | sed 's/-I/-isystem /g')
TEST_LIBS   = $(call lazy,TEST_LIBS,pkg-config --libs $(TEST_PACKAGES))

B       := build/$(MODE)
BIN     := $(B)/setback
LIB     := $(B)/libsetback.a
SRC     := $(sort $(wildcard core/*.c audio/*.c cli/*.c))
TESTSRC := $(wildcard tests/*.c tests/bench/*.c tests/support/*.c tests/preload/*.c tests/fuzz/*.c)
OBJ     := $(SRC:%.c=$(B)/%.o)
TESTOBJ := $(TESTSRC:%.c=$(B)/%.o)
SUPPORT := $(patsubst %.c,$(B)/%.o,$(wildcard tests/support/*.c))
TOOLS   := $(patsubst %.c,$(B)/%,$(filter-out tests/test_%,$(wildcard tests/*.c)))
TESTS   := $(patsubst %.c,$(B)/%,$(wildcard tests/test_*.c)) $(if $(wildcard tests/cli/*.sh),cli)
named    = $(foreach t,$2,$(if $(strip $(foreach w,$1,$(findstring $w,$t))),$t))
TESTS   := $(filter-out $(call named,$(NOT),$(TESTS)),$(if $(T),$(call named,$(T),$(TESTS)),$(TESTS)))
PROGRAMS := $(filter-out cli,$(TESTS)) $(TOOLS)
PRELOADS := $(patsubst tests/preload/%.c,$(B)/tests/%.so,$(wildcard tests/preload/*.c))
BENCHES := $(patsubst %.c,$(B)/%,$(wildcard tests/bench/*.c))
SHARE   := $(patsubst %,$(B)/share/%,setback.1 setback-book.5 setback.bash _setback)
FUZZERS := $(patsubst %.c,$(B)/%,$(wildcard tests/fuzz/fuzz_*.c))
FUZZERS := $(if $(T),$(call named,$(T:%=fuzz_%),$(FUZZERS)),$(FUZZERS))
SCRIPTS := cli/share/setback.bash $(wildcard .ci/* tests/run tests/leaks tests/long tests/bare-root tests/bare-deb tests/*/run tests/*/*.sh)

# What a goal needs beyond what `all` needs, in the words of .ci/deps.
NEEDS_test = test
NEEDS_programs = test
NEEDS_fixtures = test
NEEDS_faults = test
NEEDS_bench = test
NEEDS_long = test
NEEDS_check-leaks = test leaks
NEEDS_lint = lint
NEEDS_test-bare = bare
NEEDS_deb = deb
NEEDS_test-deb = deb bare
NEEDS_reproducible = deb lintian
NEEDS := build $(sort $(foreach goal,$(MAKECMDGOALS),$(NEEDS_$(goal))) $(findstring clang,$(CC)))

MAKEFLAGS += --no-print-directory
Q   := $(if $(filter 1,$(V)),,@)
say  = $(if $(filter 1,$(V)),,@printf '  %-7s%s\n' $1 $@)

all: $(BIN) ## build build/MODE/setback (the default)

programs: all $(PROGRAMS) $(PRELOADS) $(BENCHES) ## build the test programs and benchmarks too

deps:
	@test -n '$(NODEPS)' || sh .ci/deps $(NEEDS)

# Rewritten only when the command changes, so that everything is rebuilt then.
$(B)/flags: FORCE | deps
	@mkdir -p $(@D)
	@echo '$(COMPILE)' | cmp -s - $@ || echo '$(COMPILE)' >$@

$(TESTOBJ): EXTRA = $(TEST_CFLAGS)
$(PRELOADS:$(B)/tests/%.so=$(B)/tests/preload/%.o): EXTRA = -fPIC -fno-builtin
$(OBJ) $(TESTOBJ): $(B)/%.o: %.c $(B)/flags
	$(call say,CC)
	@mkdir -p $(@D)
	$(Q)$(COMPILE) $(EXTRA) -MMD -MP -c -o $@ $<

$(LIB): $(filter-out $(B)/cli/main.o,$(OBJ))
	$(call say,AR)
	@rm -f $@
	$(Q)$(AR) rc$(PLAIN_$(SYSTEM)) $@ $^

$(BIN): $(B)/cli/main.o $(LIB)
	$(call say,LINK)
	$(Q)$(LINK) -o $@ $^ $(PKG_LIBS)

$(FUZZERS): LINK += -fsanitize=fuzzer
$(PROGRAMS) $(BENCHES) $(FUZZERS): $(B)/%: $(B)/%.o $(SUPPORT) $(LIB)
	$(call say,LINK)
	$(Q)$(LINK) -o $@ $^ $(TEST_LIBS) $(PKG_LIBS)

# What stands in for a library of the program's.
$(PRELOADS): $(B)/tests/%.so: $(B)/tests/preload/%.o
	$(call say,LINK)
	$(Q)$(CC) -shared -pthread -o $@ $^ $(PKG_LIBS)

test: all $(PROGRAMS) $(PRELOADS) $(SHARE) ## run the whole suite
	@V='$(V)' WRAP='$(WRAP)' sh tests/run $(B) $(TESTS)

demo: all ## measure the six strings of an invented guitar from shipped recordings
	$(BIN) measure --scale 25.5in --thread 4-40 $(addprefix --take ,$(wildcard fixtures/demo-*))

bench: all $(BENCHES) ## measure accuracy and speed
	@for bench in $(BENCHES); do echo "== $${bench##*/}"; $$bench || exit; done

long: all $(PRELOADS) ## eight hours live and two of a recording: memory, time, drift
	@sh tests/long $(B) 28800 7200

check-leaks: WRAP = sh tests/leaks
check-leaks: test ## run the test programs under valgrind

sanitize: ## run the suite with the address and undefined-behaviour sanitizers
	@$(MAKE) MODE=asan test

tsan: ## run the tests of the capture path with the thread sanitizer
	@$(MAKE) MODE=tsan T='$(or $(T),ring capture)' test

coverage: ## run the suite and say what share of the lines it reaches
	@rm -rf build/coverage
	@$(MAKE) MODE=coverage test; status=$$?; sh .ci/coverage build/coverage && exit $$status

faults: all $(PROGRAMS) $(PRELOADS) ## fail every allocation and write in turn, kill 1000 sessions
	@for test in no_memory no_room killed; do SB_EVERY=1 SB_KILLS=1000 $(B)/tests/test_$$test || exit; done

fuzz: ## run each fuzz target for SECONDS
	@$(MAKE) MODE=fuzz CC=clang fuzz-run

fuzz-run: $(FUZZERS)
	@sh tests/fuzz/run $(SECONDS) $(FUZZERS)

lint: layers ## formatting, clang-tidy and its analyzer, cppcheck, shellcheck, layers
	$(Q)shellcheck $(SCRIPTS)
	$(Q)clang-format --dry-run -Werror $(SRC) $(TESTSRC) $(wildcard */*.h tests/*/*.h)
	$(Q)cppcheck -q --std=c11 --enable=warning,performance,portability --error-exitcode=1 \
	  --suppress=uninitvar --suppress=arrayIndexThenCheck -I. $(SRC)
	$(Q)printf '%s\n' $(SRC) | xargs -P 2 -n 1 sh -c 'clang-tidy --quiet "$$@" -- \
	  $(subst ',,$(subst ",\",$(BASE))) $(PKG_CFLAGS) 2>/dev/null' clang-tidy

layers: $(OBJ) ## includes go down only; core and the capture callback call almost nothing
	@sh .ci/layers $(B)

fixtures: $(B)/tests/mkfixtures ## write the recordings of fixtures/ anew
	$< fixtures

test-bare: deps ## prove `make demo` and `make test` in a bare Debian root (root only)
	@sh tests/bare-root

# The manual pages and the completions; all but the text of the second page is the program's.
$(B)/share/setback.1: $(BIN)
	@mkdir -p $(@D)
	$(Q)$(BIN) --man >$@

$(B)/share/setback-book.5: cli/share/setback-book.5 Makefile
	@mkdir -p $(@D)
	$(Q)sed 's/@VERSION@/$(VERSION)/' $< >$@

$(B)/share/setback.bash $(B)/share/_setback: $(B)/share/%: cli/share/% $(BIN)
	@mkdir -p $(@D)
	$(Q)$(BIN) --table | sed -e '/^@TABLE@$$/ { r /dev/stdin' -e 'd; }' $< >$@

test-deb: deb ## prove that the package installs and runs in a bare Debian root (root only)
	@sh tests/bare-deb

install: all $(SHARE) ## install under DESTDIR and PREFIX
	$(Q)$(INSTALL) -d '$(DESTDIR)$(BINDIR)' '$(DESTDIR)$(MANDIR)/man1' '$(DESTDIR)$(MANDIR)/man5' \
	  '$(DESTDIR)$(BASHDIR)' '$(DESTDIR)$(ZSHDIR)'
	$(Q)$(INSTALL) -m 755 $(BIN) '$(DESTDIR)$(BINDIR)/setback'
	$(Q)$(INSTALL) -m 644 $(B)/share/setback.1 '$(DESTDIR)$(MANDIR)/man1/setback.1'
	$(Q)$(INSTALL) -m 644 $(B)/share/setback-book.5 '$(DESTDIR)$(MANDIR)/man5/setback-book.5'
	$(Q)$(INSTALL) -m 644 $(B)/share/setback.bash '$(DESTDIR)$(BASHDIR)/setback'
	$(Q)$(INSTALL) -m 644 $(B)/share/_setback '$(DESTDIR)$(ZSHDIR)/_setback'

uninstall: ## remove what `install` put there
	rm -f '$(DESTDIR)$(BINDIR)/setback' '$(DESTDIR)$(MANDIR)/man1/setback.1' \
	  '$(DESTDIR)$(MANDIR)/man5/setback-book.5' '$(DESTDIR)$(BASHDIR)/setback' '$(DESTDIR)$(ZSHDIR)/_setback'

deb: deps ## build a Debian package in build/
	@rm -rf build/deb build/setback_*.deb
	@$(MAKE) DESTDIR=build/deb/root PREFIX=/usr ZSHDIR=/usr/share/zsh/vendor-completions install
	@sh .ci/deb build/deb $(VERSION)

reproducible: deps ## build the package here and in another folder, and compare byte for byte
	@+sh .ci/reproducible

clean: ## remove build/
	rm -rf build

help: ## this list
	@sed -n 's/^\([a-z-]*\):.*## \(.*\)/  \1@\2/p' Makefile | awk -F@ '{ printf "%-14s%s\n", $$1, $$2 }'

FORCE:
.PHONY: all programs deps test demo bench long check-leaks sanitize tsan coverage faults fuzz \
  fuzz-run lint layers fixtures test-bare test-deb install uninstall deb reproducible clean help FORCE
.SECONDARY:
.DELETE_ON_ERROR:
-include $(OBJ:.o=.d) $(TESTOBJ:.o=.d)
