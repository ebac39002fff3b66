# How often the audit's intervals hold the truth (tests/simulate). `make simulate` writes reports/coverage.csv and
# reports/verdicts.csv, which the report prints; `make simulate-quick` simulates fewer practices and fails when they contradict them;
# `make simulate-truth` goes the whole way from file to figure on 400 practices.
SIMULATE_OBJECTS := $(patsubst %.c,$(B)/obj/%.o,$(sort $(wildcard tests/simulate/*.c)))
SIMULATE         := $(B)/simulate

.PHONY: simulate simulate-quick simulate-truth
simulate: $(SIMULATE)
	$(SIMULATE) --out reports/coverage.csv
	$(SIMULATE) rules --out reports/verdicts.csv

simulate-quick: $(SIMULATE)
	$(SIMULATE) --practices 200 --long-run 10 --published reports/coverage.csv --out $(B)/coverage-quick.csv
	$(SIMULATE) rules --practices 40 --published reports/verdicts.csv --out $(B)/verdicts-quick.csv

simulate-truth: $(SIMULATE)
	$(SIMULATE) truths

$(SIMULATE_OBJECTS): OUR_CPPFLAGS += -Isample-data/generator

$(SIMULATE): $(SIMULATE_OBJECTS) $(SAMPLE_LIBRARY) $(ARCHIVES)
	$(call Q,LD $@)$(CC) $(OUR_LDFLAGS) $^ $(LIBRARIES) -o $@
