/*
 * House rules on trial in invented practices whose truths are known: some rules hold by construction, some do not. How often
 * the verdicts are right, and how often the intervals behind them hold the truth.
 */
#ifndef RIDGETALLY_TESTS_SIMULATE_RULES_H
#define RIDGETALLY_TESTS_SIMULATE_RULES_H

#include "audited.h"

struct rule_settings {
    long practices;   /* of each size, fixed seeds */
    long large_share; /* 1 in this many of the largest size; 1: all */
    long processes;
    const char *out;       /* file for the table too; NULL: standard output only */
    const char *published; /* table this run must be compatible with; NULL: none */
};

/* Print the table. RT_PARTIAL (words on standard error) when a verdict contradicts the truth in more than 1 of 20 practices, is
 * wrong or missing in more than 1 of 10 large ones, is reached in more than 1 of 20 small ones (that on the slope: wrongly), or an interval covers less
 * than 93%, each beyond chance; or when the published table makes this run unlikely. */
enum rt_status simulate_rules(const struct rule_settings *settings, const struct new_store *new_store,
                              struct rt_error *error);

#endif
