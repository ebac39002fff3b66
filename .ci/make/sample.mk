# The invented practice: build/.../generate-practice makes the files of sample-data/; the library without its
# main program serves tests, simulations and benchmarks.
SAMPLE_SOURCES := $(sort $(filter-out sample-data/generator/main.c,$(wildcard sample-data/generator/*.c)))
SAMPLE_OBJECTS := $(patsubst %.c,$(B)/obj/%.o,$(SAMPLE_SOURCES))
SAMPLE_LIBRARY := $(B)/lib/libsample.a
GENERATOR      := $(B)/generate-practice

.PHONY: generator sample
generator: $(GENERATOR)

# Write the committed files anew, and the README's count of mistakes, which is its last table (they must not change
# unless the generator does).
sample: $(GENERATOR)
	$(GENERATOR) --out sample-data
	{ sed '/^| file | column | what |/,$$d' sample-data/README.md; echo '| file | column | what | how often |'; \
	    echo '| --- | --- | --- | --- |'; $(GENERATOR) --dirt-counts; } > $(B)/sample-readme && \
	    mv $(B)/sample-readme sample-data/README.md

$(SAMPLE_LIBRARY): $(SAMPLE_OBJECTS)
	@mkdir -p $(@D)
	@rm -f $@
	@ar rcsD $@ $^

$(GENERATOR): $(B)/obj/sample-data/generator/main.o $(SAMPLE_LIBRARY) $(B)/lib/libbase.a
	$(call Q,LD $@)$(CC) $(OUR_LDFLAGS) $^ -lm -o $@

# Unit tests of the generator link it too.
SAMPLE_TESTS := $(patsubst tests/%.c,$(B)/tests/%,$(wildcard tests/unit/sample/test_*.c))
$(SAMPLE_TESTS): $(B)/tests/unit/%: $(B)/obj/tests/unit/%.o $(SAMPLE_LIBRARY) $(TEST_SUPPORT) $(ARCHIVES)
	@mkdir -p $(@D)
	$(call Q,LD $@)$(CC) $(OUR_LDFLAGS) $^ -lcmocka $(LIBRARIES) -o $@
