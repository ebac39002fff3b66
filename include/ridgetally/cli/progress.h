/*
 * The progress bar on standard error, and how wide the terminal is.
 */
#ifndef RIDGETALLY_CLI_PROGRESS_H
#define RIDGETALLY_CLI_PROGRESS_H

#include "ridgetally/store/store.h"

/* Show the store's long work (longer than a second) on standard error, with rate and time left where they are known; nothing when
 * that is no terminal, is a dumb one, or memory is short. In colour unless NO_COLOR is set. */
void rt_show_progress(struct rt_store *store);

/* Columns of the terminal behind a stream (its descriptor): COLUMNS, else what the terminal says; 0 when it is no terminal. */
int rt_terminal_width(int descriptor);

#endif
