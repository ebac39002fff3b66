/*
 * HMAC-SHA-256: a keyed code of a text (RFC 2104, FIPS 198-1; check values in RFC 4231).
 */
#ifndef RIDGETALLY_BASE_HMAC_H
#define RIDGETALLY_BASE_HMAC_H

#include "ridgetally/base/sha256.h"

/* The code of length bytes under a key of any length. */
void rt_hmac_sha256(const void *key, size_t key_length, const void *bytes, size_t length,
                    unsigned char code[RT_SHA256_BYTES]);

#endif
