/*
 * `ridgetally` alone: what to do next, from the state of the store.
 */
#ifndef RIDGETALLY_CLI_NEXT_H
#define RIDGETALLY_CLI_NEXT_H

#include "ridgetally/base/error.h"

/* Print at most ten lines: where the store stands (none, empty, its records) and what to type next. Writes nothing into the
 * store. The failures of opening a store, or RT_SYSTEM when printing fails. */
enum rt_status rt_say_next(struct rt_error *error);

#endif
