/*
 * What the invented practice of a demo has decided at its quarterly meetings, so that its audit shows yardsticks with targets and
 * a note that is answered.
 */
#ifndef RIDGETALLY_CLI_DEMO_MEETING_H
#define RIDGETALLY_CLI_DEMO_MEETING_H

#include "ridgetally/base/error.h"
#include "ridgetally/store/store.h"

/* Set three targets and record a note on the audit of 2026Q1 with its answer in that of 2026Q2, all of them invented. The
 * store must be open for writing and hold the sample files. */
enum rt_status rt_hold_demo_meeting(struct rt_store *store, struct rt_error *error);

#endif
