# What goes wrong outside the program: a kill, a full disk, no memory.
.PHONY: check-kill check-full-disk check-malloc
check-fault: check-malloc check-full-disk check-kill

check-kill: $(PROGRAM)
	@sh tests/fault/kill-load.sh $(PROGRAM) sample-data

check-full-disk: $(PROGRAM)
	@sh tests/fault/full-disk.sh $(PROGRAM) sample-data

FAULT_MALLOC := $(patsubst tests/%.c,$(B)/tests/%,$(sort $(wildcard tests/fault/test_*.c)))
check-malloc: $(FAULT_MALLOC)
	@sh .ci/run-tests $(FAULT_MALLOC)

$(FAULT_MALLOC): $(B)/tests/fault/%: $(B)/obj/tests/fault/%.o $(TEST_SUPPORT) $(ARCHIVES)
	@mkdir -p $(@D)
	$(call Q,LD $@)$(CC) $(OUR_LDFLAGS) -Wl,--wrap=malloc,--wrap=calloc,--wrap=realloc $^ -lcmocka $(LIBRARIES) -o $@
