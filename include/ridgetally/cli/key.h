/*
 * Which key makes the codes of patients: --key FILE, else RIDGETALLY_KEY.
 */
#ifndef RIDGETALLY_CLI_KEY_H
#define RIDGETALLY_CLI_KEY_H

#include "ridgetally/intake/pseudonym.h"

/* Read the key when one is needed: pseudonym was asked for, or the store holds codes already. *needed tells; a missing
 * key file is made only for a store without patients under codes, and the user is told on stderr. RT_USE when no file is
 * named, or one is named without need. */
enum rt_status rt_choose_key(struct rt_store *store, bool pseudonym, const char *option,
                             struct rt_pseudonym_key *key, bool *needed, struct rt_error *error);

#endif
