#include "ridgetally/base/hmac.h"

#include <string.h>

enum { BLOCK = 64 };

static void hash_two(const void *first, size_t first_length, const void *second, size_t second_length,
                     unsigned char digest[RT_SHA256_BYTES])
{
    struct rt_sha256 hash;
    rt_sha256_start(&hash);
    rt_sha256_add(&hash, first, first_length);
    rt_sha256_add(&hash, second, second_length);
    rt_sha256_finish(&hash, digest);
}

void rt_hmac_sha256(const void *key, size_t key_length, const void *bytes, size_t length,
                    unsigned char code[RT_SHA256_BYTES])
{
    unsigned char block[BLOCK] = {0};
    unsigned char inner[BLOCK];
    unsigned char outer[BLOCK];
    if (key_length > BLOCK)
        hash_two(key, key_length, "", 0, block);
    else if (key_length > 0)
        memcpy(block, key, key_length);
    for (size_t i = 0; i < BLOCK; i++) {
        inner[i] = block[i] ^ 0x36;
        outer[i] = block[i] ^ 0x5c;
    }
    hash_two(inner, BLOCK, bytes, length, code);
    hash_two(outer, BLOCK, code, RT_SHA256_BYTES, code);
}
