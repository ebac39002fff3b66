# The engine against R, run live. One script only: make check-oracle ORACLE_SCRIPTS=tests/oracle/funnel.R
ORACLE_SCRIPTS ?=
check-oracle: $(PROGRAM)
	@DEPS=$(DEPS) sh .ci/deps oracle
	@RIDGETALLY="$(abspath $(PROGRAM))" sh .ci/oracle $(ORACLE_SCRIPTS)
