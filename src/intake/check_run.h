/* Inside of intake: running the checks over the store. */
#ifndef RIDGETALLY_SRC_INTAKE_CHECK_RUN_H
#define RIDGETALLY_SRC_INTAKE_CHECK_RUN_H

#include "loader.h"

/* Fill temp.found with what the checks find that read any of the touched tables, and temp.ran with the names of those
 * checks. What the others found stays as it was, for nothing they read has changed. */
enum rt_status run_checks(struct rt_store *store, unsigned touched, struct rt_error *error);

#endif
