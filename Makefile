# ridgetally: outcome audit for one implant practice.
# make demo | make check set up what they need first (DEPS=no leaves the machine alone).

CC      ?= cc
CFLAGS  ?= -O2 -g
PREFIX  ?= /usr/local
DESTDIR ?=
BUILD   ?= build
DEPS    ?= yes
V       ?= 0
ifeq ($(V),0)
Q = @echo "  $(1)" && 
endif

VERSION := $(shell cat src/version)

# SANITIZE=yes builds everything with AddressSanitizer and UBSan in a folder of its own.
SANITIZE ?= no
ifeq ($(SANITIZE),yes)
B := $(BUILD)/sanitized
SANITIZE_FLAGS := -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer
else
B := $(BUILD)/plain
endif

WARNINGS := -std=c11 -Wall -Wextra -Wconversion -Wshadow -Wstrict-prototypes -Wmissing-prototypes \
            -Wpointer-arith -Wvla -Wformat=2 -Wundef -Werror
# No fused multiply-add: the same records give the same figures on every machine.
OUR_CPPFLAGS := -D_GNU_SOURCE -DRT_VERSION='"$(VERSION)"' -Iinclude -MMD -MP
# Paths of this folder stay out of the program, and __DATE__ is an error: two builds are the same bytes.
OUR_CFLAGS   := $(WARNINGS) -Wdate-time '-ffile-prefix-map=$(CURDIR)=.' -ffp-contract=off $(SANITIZE_FLAGS) $(CFLAGS)
OUR_LDFLAGS  := $(SANITIZE_FLAGS) $(LDFLAGS)
LIBRARIES    := -lsqlite3 -lgsl -lgslcblas -lcsv -lzip -lexpat -lglpk -lpthread -lm

# The layers, lowest first; the link order is the reverse (see DEVELOPERS.md, "The house").
LAYERS := base stats store intake figure audit chart output page cli

layer_sources = $(sort $(wildcard src/$(1)/*.c) $(wildcard src/$(1)/*/*.c))
layer_objects = $(patsubst %.c,$(B)/obj/%.o,$(call layer_sources,$(1)))
ARCHIVES      := $(foreach l,cli page output chart audit figure intake store stats base,$(B)/lib/lib$(l).a)
EMBEDDED      := $(sort $(wildcard sql/*.sql) $(wildcard sql/*/*.sql) $(wildcard reports/*) $(wildcard reports/*/*) \
                 $(wildcard sample-data/*.csv) $(wildcard sample-data/README.md))
EMBEDDED      := $(foreach f,$(EMBEDDED),$(if $(wildcard $(f)/.),,$(f)))
PROGRAM       := $(B)/ridgetally

.DELETE_ON_ERROR:
.SECONDARY:
.PHONY: all deps demo check check-unit check-cli check-reference check-layers check-format check-tidy \
        check-sanitized check-valgrind check-oracle check-fault install install-files uninstall clean

all: $(PROGRAM)

# --- the program -----------------------------------------------------------------------------------------
$(B)/obj/%.o: %.c Makefile src/version
	@mkdir -p $(@D)
	$(call Q,CC $<)$(CC) $(OUR_CPPFLAGS) $(CPPFLAGS) $(OUR_CFLAGS) -c $< -o $@

define layer_archive
$(B)/lib/lib$(1).a: $(call layer_objects,$(1)) $(if $(filter base,$(1)),$(B)/embedded/resources.o $(B)/embedded/bytes.o)
	@mkdir -p $$(@D)
	@rm -f $$@
	@ar rcsD $$@ $$^
endef
$(foreach l,$(LAYERS),$(eval $(call layer_archive,$(l))))

$(B)/embedded/names: FORCE
	@mkdir -p $(@D)
	@printf '%s\n' $(EMBEDDED) > $@.new; cmp -s $@.new $@ && rm -f $@.new || mv $@.new $@
.PHONY: FORCE
FORCE:

$(B)/embedded/bytes.S: $(B)/embedded/names $(EMBEDDED) .ci/embed
	sh .ci/embed $(B)/embedded < $(B)/embedded/names

$(B)/embedded/resources.c: $(B)/embedded/bytes.S ;

$(B)/embedded/%.o: $(B)/embedded/%.S
	$(call Q,AS $<)$(CC) -c $< -o $@

$(B)/embedded/%.o: $(B)/embedded/%.c
	$(call Q,CC $<)$(CC) $(OUR_CPPFLAGS) $(CPPFLAGS) $(OUR_CFLAGS) -c $< -o $@

$(PROGRAM): $(B)/obj/src/main.o $(ARCHIVES)
	$(call Q,LD $@)$(CC) $(OUR_LDFLAGS) $^ $(LIBRARIES) -o $@

# --- tests -----------------------------------------------------------------------------------------------
# One program per tests/unit/LAYER/test_*.c; tests/unit/support/*.c is linked into each.
UNIT_SOURCES  := $(sort $(wildcard tests/unit/*/test_*.c))
UNIT_PROGRAMS := $(patsubst tests/%.c,$(B)/tests/%,$(UNIT_SOURCES))
TEST_SUPPORT  := $(patsubst %.c,$(B)/obj/%.o,$(sort $(wildcard tests/unit/support/*.c)))

$(B)/tests/unit/%: $(B)/obj/tests/unit/%.o $(TEST_SUPPORT) $(ARCHIVES)
	@mkdir -p $(@D)
	$(call Q,LD $@)$(CC) $(OUR_LDFLAGS) $^ -lcmocka $(LIBRARIES) -o $@

-include $(wildcard .ci/make/*.mk)

check: deps
	$(MAKE) DEPS=no check-layers check-unit check-reference check-cli

VALGRIND := valgrind --quiet --error-exitcode=99 --leak-check=full --errors-for-leak-kinds=definite

check-unit: $(UNIT_PROGRAMS)
	@sh .ci/run-tests $(UNIT_PROGRAMS)

check-layers:
	@sh .ci/check-layers

check-format:
	clang-format --dry-run -Werror $(shell git ls-files '*.c' '*.h')

check-tidy:
	clang-tidy --quiet $(shell git ls-files 'src/*.c') -- -std=c11 -D_GNU_SOURCE -DRT_VERSION='""' -Iinclude

check-sanitized:
	$(MAKE) DEPS=no SANITIZE=yes check-unit check-reference check-cli

# valgrind computes long double in 64 bits, so the hardest reference sets lose digits there.
check-valgrind: $(UNIT_PROGRAMS) $(PROGRAM)
	@RUNNER="$(VALGRIND)" sh .ci/run-tests $(UNIT_PROGRAMS)
	@printf '#!/bin/sh\nexec $(VALGRIND) "%s" "$$@"\n' "$(abspath $(PROGRAM))" > $(B)/under-valgrind
	@chmod +x $(B)/under-valgrind
	@REFERENCE_LEAST_ERROR=1e-5 RIDGETALLY="$(abspath $(B)/under-valgrind)" sh tests/reference/run

# --- set-up, demo, install -------------------------------------------------------------------------------
deps:
	@DEPS=$(DEPS) sh .ci/deps build

demo: deps
	$(MAKE) DEPS=no all
	@$(PROGRAM) demo --out $(BUILD)/demo

# ZSH_FUNCTIONS is where zsh looks; Debian's looks at this one below /usr/local, and at vendor-completions below /usr.
ZSH_FUNCTIONS ?= $(PREFIX)/share/zsh/site-functions
INSTALLED = $(PREFIX)/bin/ridgetally $(PREFIX)/share/man/man1/ridgetally.1 \
            $(PREFIX)/share/bash-completion/completions/ridgetally $(ZSH_FUNCTIONS)/_ridgetally \
            $(addprefix $(PREFIX)/share/doc/ridgetally/,README.md LICENSE)

install: all
	@$(MAKE) DEPS=no install-files

# The same without building: packages bring a program of their own.
install-files:
	umask 022; install -d $(sort $(addprefix $(DESTDIR),$(dir $(INSTALLED))))
	install -m 755 $(PROGRAM) $(DESTDIR)$(PREFIX)/bin/ridgetally
	install -m 644 reports/ridgetally.1 $(DESTDIR)$(PREFIX)/share/man/man1/ridgetally.1
	install -m 644 reports/completion/ridgetally.bash $(DESTDIR)$(PREFIX)/share/bash-completion/completions/ridgetally
	install -m 644 reports/completion/_ridgetally $(DESTDIR)$(ZSH_FUNCTIONS)/_ridgetally
	install -m 644 README.md LICENSE $(DESTDIR)$(PREFIX)/share/doc/ridgetally

uninstall:
	rm -f $(addprefix $(DESTDIR),$(INSTALLED))
	@rmdir $(DESTDIR)$(PREFIX)/share/doc/ridgetally 2>/dev/null || true

clean:
	rm -rf $(BUILD)

-include $(shell find $(B) -name '*.d' 2>/dev/null)
