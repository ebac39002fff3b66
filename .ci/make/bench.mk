# How fast and how large, beside peers run in the same call. BENCH_SIZES="1000 10000" BENCH_RUNS=1 for a short run. The table is
# printed and kept in build/bench/ratios.txt. R takes part up to BENCH_R_MOST implants.
.PHONY: bench
BENCH_SIZES  ?= 1000 10000 100000 1000000
BENCH_RUNS   ?= 3
BENCH_R_MOST ?= 100000
BENCH        := $(B)/bench-practice $(B)/bench-measure $(B)/bench-parts

$(B)/obj/tests/bench/practice.o: OUR_CPPFLAGS += -Isample-data/generator
$(B)/obj/tests/bench/parts.o: OUR_CPPFLAGS += -Isrc/intake -Isrc/store

$(B)/bench-practice: $(B)/obj/tests/bench/practice.o $(B)/lib/libsample.a $(B)/lib/libbase.a
	$(call Q,LD $@)$(CC) $(OUR_LDFLAGS) $^ -lm -o $@

$(B)/bench-measure: $(B)/obj/tests/bench/measure.o $(B)/lib/libbase.a
	$(call Q,LD $@)$(CC) $(OUR_LDFLAGS) $^ -lm -o $@

$(B)/bench-parts: $(B)/obj/tests/bench/parts.o $(ARCHIVES)
	$(call Q,LD $@)$(CC) $(OUR_LDFLAGS) $^ $(LIBRARIES) -o $@

bench: $(PROGRAM) $(BENCH)
	@DEPS=$(DEPS) sh .ci/deps oracle
	@mkdir -p $(BUILD)/bench
	@PROGRAMS="$(abspath $(B))" FOLDER="$(abspath $(BUILD)/bench)" SIZES="$(BENCH_SIZES)" RUNS="$(BENCH_RUNS)" \
		R_MOST="$(BENCH_R_MOST)" sh tests/bench/run.sh

# Instructions of the hot paths against tests/bench/instructions.txt; store-instructions accepts those of today.
.PHONY: check-instructions store-instructions
check-instructions store-instructions: %-instructions: $(PROGRAM) $(B)/bench-practice
	@PROGRAMS="$(abspath $(B))" sh tests/bench/instructions.sh $* $(BUILD)/instructions
