# What a user types and what comes back. One file only: make check-cli CLI_CASES=load
CLI_CASES ?=
check-cli: $(PROGRAM) $(B)/generate-practice $(B)/check-page $(B)/attack-deck
	@RIDGETALLY="$(abspath $(PROGRAM))" GENERATOR="$(abspath $(B)/generate-practice)" \
		CHECK_PAGE="$(abspath $(B)/check-page)" ATTACK_DECK="$(abspath $(B)/attack-deck)" \
		sh tests/cli/run $(CLI_CASES)

# Reads a page back against its figures.
$(B)/check-page: $(B)/obj/tests/cli/check-page.o $(B)/obj/tests/unit/support/page_check.o \
               $(B)/obj/tests/unit/support/page_words.o $(B)/obj/tests/unit/support/figure_sheet.o
	$(call Q,LD $@)$(CC) $(OUR_LDFLAGS) $^ -lm -o $@

# Attacks decks as they were written.
$(B)/attack-deck: $(B)/obj/tests/cli/attack-deck.o $(B)/obj/tests/unit/support/attacker.o
	$(call Q,LD $@)$(CC) $(OUR_LDFLAGS) $^ -lm -o $@
