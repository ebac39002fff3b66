/*
 * Keyed codes instead of patient labels.
 *
 * A code is HMAC-SHA-256 of the label under a key that stands in a file of its own, outside the store, so the same
 * patient has the same code in every load and nobody without the key can tell the label from the code. Its form is
 * K, twelve characters, a hyphen, three characters (base 32, without i, l, o and u, of
 * 60 and 15 bits). The twelve are of the label without what typing slips change (letter case, spaces, punctuation,
 * leading zeros, a trailing .0), the three of the label as typed: labels that differ only so begin alike and are
 * told as a doubt (sql/checks/near-equal-codes.sql).
 */
#ifndef RIDGETALLY_INTAKE_PSEUDONYM_H
#define RIDGETALLY_INTAKE_PSEUDONYM_H

#include "ridgetally/store/store.h"

#include <stdbool.h>

enum { RT_PSEUDONYM_KEY_BYTES = 32, RT_PSEUDONYM_BYTES = 18 /* with its NUL */ };

struct rt_pseudonym_key {
    unsigned char bytes[RT_PSEUDONYM_KEY_BYTES];
};

/* Read the key file: 64 hexadecimal digits in a line. make: one that is missing is made, with mode 0600 and random
 * bytes of the system; *made tells. RT_USE when others than the owner may read or write the file, when it is not a
 * key, or when it is missing and not to be made; RT_SYSTEM when it cannot be read or written. */
enum rt_status rt_read_pseudonym_key(const char *path, bool make, struct rt_pseudonym_key *key, bool *made,
                                     struct rt_error *error);

/* The code of a label. Spaces around it do not count; "" gives "". */
void rt_pseudonym(const struct rt_pseudonym_key *key, const char *label, char code[RT_PSEUDONYM_BYTES]);

/* Keep a store to one way and one key, so that no patient stands in it twice: RT_USE when it holds patients under
 * labels and key is given, under codes and key is NULL, or under codes of another key. The store keeps a fingerprint
 * that does not tell the key. Call inside the transaction of a load. */
enum rt_status rt_keep_to_key(struct rt_store *store, const struct rt_pseudonym_key *key,
                              struct rt_error *error);

/* Whether the store holds patients under codes. */
enum rt_status rt_holds_pseudonyms(struct rt_store *store, bool *holds, struct rt_error *error);

/* The label behind a code, sought among the patients of a sheet (a sheet as `load` takes it): a copy the caller
 * frees, NULL when the sheet has none of that code. Only memory is used; nothing is written. */
enum rt_status rt_reveal(const struct rt_pseudonym_key *key, const char *sheet_path, const char *code,
                         char **label, struct rt_error *error);

#endif
