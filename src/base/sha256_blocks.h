/* Inside of base: the step of SHA-256 from block to block (FIPS 180-4, 6.2.2), in C and by instructions of the processor. */
#ifndef RIDGETALLY_SRC_BASE_SHA256_BLOCKS_H
#define RIDGETALLY_SRC_BASE_SHA256_BLOCKS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { RT_SHA256_BLOCK = 64 /* bytes */, RT_SHA256_ROUNDS = 64 };

extern const uint32_t rt_sha256_constants[RT_SHA256_ROUNDS];

/* Take count blocks, which lie behind each other, into state. */
void rt_sha256_blocks_plain(uint32_t state[8], const unsigned char *blocks, size_t count);

/* sha256_x86.c: the same with the SHA instructions of x86; only where the processor has them. */
bool rt_sha256_has_instructions(void);
void rt_sha256_blocks_by_instructions(uint32_t state[8], const unsigned char *blocks, size_t count);

#endif
