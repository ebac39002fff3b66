#include "ridgetally/base/sha256.h"

#include <string.h>

enum { BLOCK = 64, ROUNDS = 64, LENGTH_AT = 56 };

/* FIPS 180-4, 4.2.2: fractional parts of the cube roots of the first 64 primes. */
static const uint32_t constants[ROUNDS] = {
    0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5,
    0xd807aa98, 0x12835b01, 0x243185be, 0x550c7dc3, 0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174,
    0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa, 0x5cb0a9dc, 0x76f988da,
    0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967,
    0x27b70a85, 0x2e1b2138, 0x4d2c6dfc, 0x53380d13, 0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85,
    0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3, 0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070,
    0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f, 0x682e6ff3,
    0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208, 0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2};

static uint32_t rotate(uint32_t x, unsigned n)
{
    return x >> n | x << (32 - n);
}

static void expand(const unsigned char *block, uint32_t words[ROUNDS])
{
    for (size_t t = 0; t < 16; t++)
        words[t] = (uint32_t)block[4 * t] << 24 | (uint32_t)block[4 * t + 1] << 16 |
                   (uint32_t)block[4 * t + 2] << 8 | block[4 * t + 3];
    for (size_t t = 16; t < ROUNDS; t++) {
        uint32_t a = words[t - 15];
        uint32_t b = words[t - 2];
        uint32_t small0 = rotate(a, 7) ^ rotate(a, 18) ^ a >> 3;
        uint32_t small1 = rotate(b, 17) ^ rotate(b, 19) ^ b >> 10;
        words[t] = words[t - 16] + small0 + words[t - 7] + small1;
    }
}

/* FIPS 180-4, 6.2.2. */
static void compress(uint32_t state[8], const unsigned char *block)
{
    uint32_t words[ROUNDS];
    uint32_t v[8];
    expand(block, words);
    memcpy(v, state, sizeof v);
    for (size_t t = 0; t < ROUNDS; t++) {
        uint32_t big1 = rotate(v[4], 6) ^ rotate(v[4], 11) ^ rotate(v[4], 25);
        uint32_t choose = (v[4] & v[5]) ^ (~v[4] & v[6]);
        uint32_t first = v[7] + big1 + choose + constants[t] + words[t];
        uint32_t big0 = rotate(v[0], 2) ^ rotate(v[0], 13) ^ rotate(v[0], 22);
        uint32_t majority = (v[0] & v[1]) ^ (v[0] & v[2]) ^ (v[1] & v[2]);
        memmove(v + 1, v, 7 * sizeof v[0]);
        v[4] += first;
        v[0] = first + big0 + majority;
    }
    for (size_t i = 0; i < 8; i++)
        state[i] += v[i];
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
        size_t part = BLOCK - used < length ? BLOCK - used : length;
        memcpy(hash->block + used, at, part);
        at += part;
        length -= part;
        used += part;
        if (used == BLOCK) {
            compress(hash->state, hash->block);
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
