# Fuzzing with clang's libFuzzer: the reader, workbooks, cells (dates, numbers, codes), column maps, a damaged store.
# make fuzz takes ten minutes on two processors: each target runs for FUZZ_SECONDS from the seeds in tests/fuzz/seeds; found inputs are kept in build/fuzz.
.PHONY: fuzz
FUZZ_SECONDS  ?= 200
FUZZ_CC       := clang
FUZZ_FLAGS    := -fsanitize=fuzzer-no-link,address,undefined -fno-sanitize-recover=all -O1 -g
FUZZ_SOURCES  := $(foreach l,base store intake,$(call layer_sources,$(l)))
FUZZ_OBJECTS  := $(patsubst %.c,$(BUILD)/fuzz/obj/%.o,$(FUZZ_SOURCES))
FUZZ_PROGRAMS := $(patsubst tests/fuzz/%.c,$(BUILD)/fuzz/%,$(sort $(wildcard tests/fuzz/fuzz_*.c)))

$(BUILD)/fuzz/obj/%.o: %.c Makefile src/version
	@mkdir -p $(@D)
	$(call Q,CC $<)$(FUZZ_CC) $(OUR_CPPFLAGS) $(WARNINGS) $(FUZZ_FLAGS) -c $< -o $@

$(FUZZ_PROGRAMS): $(BUILD)/fuzz/%: $(BUILD)/fuzz/obj/tests/fuzz/%.o $(FUZZ_OBJECTS) $(B)/embedded/resources.o \
                  $(B)/embedded/bytes.o
	$(call Q,LD $@)$(FUZZ_CC) -fsanitize=fuzzer,address,undefined $^ $(LIBRARIES) -o $@

fuzz:
	@DEPS=$(DEPS) sh .ci/deps fuzz
	@$(MAKE) DEPS=no $(FUZZ_PROGRAMS)
	@sh tests/fuzz/run.sh $(FUZZ_SECONDS) $(BUILD)/fuzz $(FUZZ_PROGRAMS)

-include $(shell find $(BUILD)/fuzz -name '*.d' 2>/dev/null)
