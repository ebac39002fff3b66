# What a user types and what comes back. One file only: make check-cli CLI_CASES=load
CLI_CASES ?=
check-cli: $(PROGRAM) $(B)/generate-practice
	@RIDGETALLY="$(abspath $(PROGRAM))" GENERATOR="$(abspath $(B)/generate-practice)" sh tests/cli/run $(CLI_CASES)
