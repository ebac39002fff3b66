/* The verb `rule`: the house rules on trial, listed and edited. */
#ifndef RIDGETALLY_CLI_RULE_H
#define RIDGETALLY_CLI_RULE_H

#include "ridgetally/base/error.h"

extern const char rt_rule_help[];

enum rt_status rt_rule_verb(int argc, char **argv, struct rt_error *error);

#endif
