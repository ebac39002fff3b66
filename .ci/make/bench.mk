# How fast and how large, beside peers run in the same call: make bench. BENCH_SIZES="1000 10000" for a short run; the table goes
# to build/bench/ratios.txt.
.PHONY: bench
BENCH_SIZES ?= 1000 10000 100000 1000000
BENCH_RUNS  ?= 3

$(B)/obj/tests/bench/practice.o: OUR_CPPFLAGS += -Isample-data/generator

$(B)/bench-practice: $(B)/obj/tests/bench/practice.o $(B)/lib/libsample.a $(B)/lib/libbase.a
	$(call Q,LD $@)$(CC) $(OUR_LDFLAGS) $^ -lm -o $@
