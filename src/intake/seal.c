#include "loader.h"

#include <string.h>

/* Hash of several texts; each is preceded by its length so that no two lists run together. */
void hash_parts(const char *salt, const char *const *parts, size_t count, char hex[RT_SHA256_HEX])
{
    struct rt_sha256 hash;
    rt_sha256_start(&hash);
    rt_sha256_add(&hash, salt, strlen(salt));
    for (size_t i = 0; i < count; i++) {
        const char *part = parts[i] == NULL ? "" : parts[i];
        uint64_t length = strlen(part);
        unsigned char bytes[9] = {parts[i] == NULL};
        for (size_t j = 0; j < 8; j++)
            bytes[1 + j] = (unsigned char)(length >> (8 * j));
        rt_sha256_add(&hash, bytes, sizeof bytes);
        rt_sha256_add(&hash, part, length);
    }
    rt_sha256_finish_hex(&hash, hex);
}

void hash_patient(const char *salt, const char *label, char hex[RT_SHA256_HEX])
{
    const char *parts[] = {"patient", label};
    hash_parts(salt, parts, 2, hex);
}

/* Key stream: SHA-256 in counter mode under a key that is itself a hash of what the store does not hold. */
static unsigned char stream_byte(const char *key_hex, size_t at, unsigned char digest[RT_SHA256_BYTES])
{
    if (at % RT_SHA256_BYTES == 0) {
        struct rt_sha256 hash;
        uint64_t block = at / RT_SHA256_BYTES;
        unsigned char counter[8];
        for (size_t i = 0; i < 8; i++)
            counter[i] = (unsigned char)(block >> (8 * i));
        rt_sha256_start(&hash);
        rt_sha256_add(&hash, key_hex, strlen(key_hex));
        rt_sha256_add(&hash, counter, sizeof counter);
        rt_sha256_finish(&hash, digest);
    }
    return digest[at % RT_SHA256_BYTES];
}

void seal_text(const char *key_hex, const char *text, struct rt_text *out)
{
    unsigned char digest[RT_SHA256_BYTES];
    for (size_t i = 0; text[i] != '\0'; i++)
        rt_text_format(out, "%02x", (unsigned)((unsigned char)text[i] ^ stream_byte(key_hex, i, digest)));
}

static int hex_digit(char digit)
{
    if (digit >= '0' && digit <= '9')
        return digit - '0';
    return digit >= 'a' && digit <= 'f' ? digit - 'a' + 10 : -1;
}

bool unseal_text(const char *key_hex, const char *sealed, struct rt_text *out)
{
    unsigned char digest[RT_SHA256_BYTES];
    size_t length = strlen(sealed);
    for (size_t i = 0; 2 * i < length; i++) {
        int high = hex_digit(sealed[2 * i]);
        int low = high < 0 ? -1 : hex_digit(sealed[2 * i + 1]);
        if (low < 0)
            return false;
        rt_text_add_character(out,
                              (char)((unsigned char)(high * 16 + low) ^ stream_byte(key_hex, i, digest)));
    }
    return true;
}
