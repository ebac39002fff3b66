#include "ridgetally/base/sha256.h"

#include "sha256_blocks.h"

#include <string.h>

enum { BLOCK = RT_SHA256_BLOCK, ROUNDS = RT_SHA256_ROUNDS, LENGTH_AT = 56 };

/* FIPS 180-4, 4.2.2: fractional parts of the cube roots of the first 64 primes. */
const uint32_t rt_sha256_constants[RT_SHA256_ROUNDS] = {
    0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5,
    0xd807aa98, 0x12835b01, 0x243185be, 0x550c7dc3, 0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174,
    0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa, 0x5cb0a9dc, 0x76f988da,
    0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967,
    0x27b70a85, 0x2e1b2138, 0x4d2c6dfc, 0x53380d13, 0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85,
    0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3, 0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070,
    0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f, 0x682e6ff3,
    0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208, 0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2};

static inline uint32_t rotate(uint32_t x, unsigned n)
{
    return x >> n | x << (32 - n);
}

static inline uint32_t big_endian(const unsigned char *bytes)
{
    return (uint32_t)bytes[0] << 24 | (uint32_t)bytes[1] << 16 | (uint32_t)bytes[2] << 8 | bytes[3];
}

/* Message schedule in a ring of 16 words: word t of the 64 takes the place of word t - 16. */
static inline uint32_t next_word(uint32_t ring[16], size_t t)
{
    uint32_t a = ring[(t + 1) % 16];
    uint32_t b = ring[(t + 14) % 16];
    uint32_t small0 = rotate(a, 7) ^ rotate(a, 18) ^ a >> 3;
    uint32_t small1 = rotate(b, 17) ^ rotate(b, 19) ^ b >> 10;
    return ring[t % 16] += small0 + ring[(t + 9) % 16] + small1;
}

/* One round. The eight working variables do not move: the caller names them one place further each time. */
static inline void turn(uint32_t word, uint32_t constant, uint32_t a, uint32_t b, uint32_t c, uint32_t *d,
                        uint32_t e, uint32_t f, uint32_t g, uint32_t *h)
{
    uint32_t first =
        *h + (rotate(e, 6) ^ rotate(e, 11) ^ rotate(e, 25)) + ((e & f) ^ (~e & g)) + constant + word;
    *d += first;
    *h = first + (rotate(a, 2) ^ rotate(a, 13) ^ rotate(a, 22)) + ((a & b) ^ (a & c) ^ (b & c));
}

/* FIPS 180-4, 6.2.2. */
static void compress(uint32_t state[8], const unsigned char *block)
{
    uint32_t w[16];
    uint32_t a = state[0], b = state[1], c = state[2], d = state[3];
    uint32_t e = state[4], f = state[5], g = state[6], h = state[7];
    for (size_t t = 0; t < 16; t++)
        w[t] = big_endian(block + 4 * t);
    for (size_t t = 0; t < ROUNDS; t += 8) {
        const uint32_t *k = rt_sha256_constants + t;
        for (size_t i = t; t >= 16 && i < t + 8; i++)
            next_word(w, i);
        const uint32_t *now = w + t % 16;
        turn(now[0], k[0], a, b, c, &d, e, f, g, &h);
        turn(now[1], k[1], h, a, b, &c, d, e, f, &g);
        turn(now[2], k[2], g, h, a, &b, c, d, e, &f);
        turn(now[3], k[3], f, g, h, &a, b, c, d, &e);
        turn(now[4], k[4], e, f, g, &h, a, b, c, &d);
        turn(now[5], k[5], d, e, f, &g, h, a, b, &c);
        turn(now[6], k[6], c, d, e, &f, g, h, a, &b);
        turn(now[7], k[7], b, c, d, &e, f, g, h, &a);
    }
    const uint32_t turned[8] = {a, b, c, d, e, f, g, h};
    for (size_t i = 0; i < 8; i++)
        state[i] += turned[i];
}

void rt_sha256_blocks_plain(uint32_t state[8], const unsigned char *blocks, size_t count)
{
    for (size_t i = 0; i < count; i++)
        compress(state, blocks + i * BLOCK);
}

static void compress_blocks(uint32_t state[8], const unsigned char *blocks, size_t count)
{
    if (rt_sha256_has_instructions())
        rt_sha256_blocks_by_instructions(state, blocks, count);
    else
        rt_sha256_blocks_plain(state, blocks, count);
}

void rt_sha256_start(struct rt_sha256 *hash)
{
    static const uint32_t initial[8] = {0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a,
                                        0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19};
    memcpy(hash->state, initial, sizeof initial);
    hash->length = 0;
}

void rt_sha256_add(struct rt_sha256 *hash, const void *bytes, size_t length)
{
    const unsigned char *at = bytes;
    size_t used = hash->length % BLOCK;
    hash->length += length;
    while (length > 0) {
        if (used == 0 && length >= BLOCK) { /* straight from where they stand */
            const size_t whole = length / BLOCK;
            compress_blocks(hash->state, at, whole);
            at += whole * BLOCK;
            length -= whole * BLOCK;
            continue;
        }
        size_t part = BLOCK - used < length ? BLOCK - used : length;
        memcpy(hash->block + used, at, part);
        at += part;
        length -= part;
        used += part;
        if (used == BLOCK) {
            compress_blocks(hash->state, hash->block, 1);
            used = 0;
        }
    }
}

void rt_sha256_finish(struct rt_sha256 *hash, unsigned char digest[RT_SHA256_BYTES])
{
    static const unsigned char padding[BLOCK] = {0x80};
    uint64_t bits = hash->length * 8;
    size_t used = hash->length % BLOCK;
    rt_sha256_add(hash, padding, used < LENGTH_AT ? LENGTH_AT - used : BLOCK + LENGTH_AT - used);
    unsigned char tail[8];
    for (size_t i = 0; i < 8; i++)
        tail[i] = (unsigned char)(bits >> (56 - 8 * i));
    rt_sha256_add(hash, tail, sizeof tail);
    for (size_t i = 0; i < RT_SHA256_BYTES; i++)
        digest[i] = (unsigned char)(hash->state[i / 4] >> (24 - 8 * (i % 4)));
}

void rt_sha256_finish_hex(struct rt_sha256 *hash, char hex[RT_SHA256_HEX])
{
    unsigned char digest[RT_SHA256_BYTES];
    rt_sha256_finish(hash, digest);
    for (size_t i = 0; i < RT_SHA256_BYTES; i++) {
        hex[2 * i] = "0123456789abcdef"[digest[i] >> 4];
        hex[2 * i + 1] = "0123456789abcdef"[digest[i] & 15];
    }
    hex[RT_SHA256_HEX - 1] = '\0';
}
