# Published and verified values, through the program itself. One file only: make check-reference CASES=funnel.txt
CASES ?=
check-reference: $(PROGRAM)
	@RIDGETALLY="$(abspath $(PROGRAM))" sh tests/reference/run $(CASES)
