# What goes wrong outside the program: signals, others at work, a full or refusing disk, a cut of the power, no memory.
.PHONY: check-kill check-outputs check-full-disk check-malloc check-power-cut check-io-errors check-flipped check-signals
check-fault: check-malloc check-full-disk check-power-cut check-io-errors check-flipped check-signals check-kill check-outputs

check-kill: $(PROGRAM)
	@sh tests/fault/kill-load.sh $(PROGRAM) sample-data

check-outputs: $(PROGRAM)
	@sh tests/fault/outputs.sh $(PROGRAM) sample-data

check-signals: $(PROGRAM)
	@sh tests/fault/signals.sh $(PROGRAM) sample-data

check-full-disk: $(PROGRAM)
	@sh tests/fault/full-disk.sh $(PROGRAM) sample-data

# Programs on a disk that is recorded or refuses (tests/fault/disk.h).
FAULT_DISK_WRAPS := -Wl,--wrap=mkstemp,--wrap=rename,--wrap=link,--wrap=unlink,--wrap=fsync,--wrap=write,--wrap=sqlite3_exec
FAULT_DISK := $(patsubst %,$(B)/obj/tests/fault/%.o,disk disk_model scenes)
$(B)/tests/fault/power_cut $(B)/tests/fault/io_errors $(B)/tests/fault/flipped: $(B)/tests/fault/%: $(B)/obj/tests/fault/%.o $(FAULT_DISK) $(ARCHIVES)
	@mkdir -p $(@D)
	$(call Q,LD $@)$(CC) $(OUR_LDFLAGS) $(FAULT_DISK_WRAPS) $^ $(LIBRARIES) -o $@

check-power-cut: $(B)/tests/fault/power_cut
	@$<

check-io-errors: $(B)/tests/fault/io_errors
	@$<

check-flipped: $(B)/tests/fault/flipped
	@$<

FAULT_MALLOC := $(patsubst tests/%.c,$(B)/tests/%,$(sort $(wildcard tests/fault/test_*.c)))
check-malloc: $(FAULT_MALLOC)
	@sh .ci/run-tests $(FAULT_MALLOC)

# This one runs whole verbs, as the programs above do.
$(B)/tests/fault/test_malloc_verbs: $(B)/obj/tests/fault/scenes.o $(B)/obj/tests/fault/disk_model.o

$(FAULT_MALLOC): $(B)/tests/fault/%: $(B)/obj/tests/fault/%.o $(TEST_SUPPORT) $(ARCHIVES)
	@mkdir -p $(@D)
	$(call Q,LD $@)$(CC) $(OUR_LDFLAGS) -Wl,--wrap=malloc,--wrap=calloc,--wrap=realloc $(filter %.o,$^) $(filter %.a,$^) -lcmocka $(LIBRARIES) -o $@

# A sheet of 200 MB in bounded memory: takes minutes, so it is not among check-fault.
.PHONY: check-large-sheet
check-large-sheet: $(PROGRAM) $(B)/bench-practice $(B)/bench-measure
	@sh tests/fault/large-sheet.sh $(B)
