/*
 * SHA-256 (FIPS 180-4), for recognising a file again and for hashing cells that must not be kept. Not a
 * password hash.
 */
#ifndef RIDGETALLY_BASE_SHA256_H
#define RIDGETALLY_BASE_SHA256_H

#include <stddef.h>
#include <stdint.h>

enum { RT_SHA256_BYTES = 32, RT_SHA256_HEX = 65 /* with its NUL */ };

struct rt_sha256 {
    uint32_t state[8];
    uint64_t length; /* bytes added so far */
    unsigned char block[64];
};

void rt_sha256_start(struct rt_sha256 *hash);
void rt_sha256_add(struct rt_sha256 *hash, const void *bytes, size_t length);

/* Finish: 32 bytes, most significant first. The struct must be started again before further use. */
void rt_sha256_finish(struct rt_sha256 *hash, unsigned char digest[RT_SHA256_BYTES]);

/* Finish as 64 lower-case hexadecimal digits and a NUL. */
void rt_sha256_finish_hex(struct rt_sha256 *hash, char hex[RT_SHA256_HEX]);

#endif
