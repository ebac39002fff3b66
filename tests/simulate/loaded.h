/*
 * An invented practice as the program sees it: through its three files and a store.
 */
#ifndef RIDGETALLY_SIMULATE_LOADED_H
#define RIDGETALLY_SIMULATE_LOADED_H

#include "practice.h"

#include "ridgetally/figure/figure.h"
#include "ridgetally/store/store.h"

/* Write the practice's files, with the mistakes real records have (dirty) or without, into a folder of their own, load
 * them into a new store there and open it for reading. close_loaded takes it all away again, also after a failure. */
struct loaded {
    char folder[64];
    struct rt_store *store;
};

enum rt_status load_practice(const struct rt_sample_practice *practice, bool dirty, struct loaded *loaded,
                             struct rt_error *error);
void close_loaded(struct loaded *loaded);

#endif
