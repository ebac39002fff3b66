/*
 * Looking at a part of the records: between rt_narrow_store and rt_widen_store every query of this connection sees
 * only the chosen implants, their patients, readings, events and doubts, as if the store held nothing else. The
 * file is not changed, and must not be written to in between.
 */
#ifndef RIDGETALLY_STORE_NARROW_H
#define RIDGETALLY_STORE_NARROW_H

#include "ridgetally/base/error.h"
#include "ridgetally/store/store.h"

#include <stddef.h>
#include <stdint.h>

/* Show only the implants of these ids (different from each other; count may be 0). After a failure the store shows
 * everything, as before. RT_USE when it is narrowed already. */
enum rt_status rt_narrow_store(struct rt_store *store, const int64_t *implants, size_t count,
                               struct rt_error *error);

/* Show all records again; does nothing when all are shown. */
enum rt_status rt_widen_store(struct rt_store *store, struct rt_error *error);

#endif
