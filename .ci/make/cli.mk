# What a user types and what comes back. One file only: make check-cli CLI_CASES=load
CLI_CASES ?=
check-cli: $(PROGRAM)
	@RIDGETALLY="$(abspath $(PROGRAM))" sh tests/cli/run $(CLI_CASES)
