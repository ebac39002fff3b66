/* HMAC-SHA-256. Check values: test cases 1 to 4, 6 and 7 of RFC 4231, section 4. */
#include "ridgetally/base/hmac.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static void check(const void *key, size_t key_length, const void *bytes, size_t length, const char *expected)
{
    unsigned char code[RT_SHA256_BYTES];
    char hex[RT_SHA256_HEX];
    rt_hmac_sha256(key, key_length, bytes, length, code);
    for (size_t i = 0; i < RT_SHA256_BYTES; i++)
        snprintf(hex + 2 * i, 3, "%02x", code[i]);
    assert_string_equal(hex, expected);
}

static void published_cases(void **state)
{
    (void)state;
    unsigned char key[131];
    unsigned char bytes[50];
    memset(key, 0x0b, 20);
    check(key, 20, "Hi There", 8, "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7");
    check("Jefe", 4, "what do ya want for nothing?", 28,
          "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843");
    memset(key, 0xaa, sizeof key);
    memset(bytes, 0xdd, sizeof bytes);
    check(key, 20, bytes, 50, "773ea91e36800e46854db8ebd09181a72959098b3ef8c122d9635514ced565fe");
    const char *long_key_text = "Test Using Larger Than Block-Size Key - Hash Key First";
    check(key, 131, long_key_text, strlen(long_key_text),
          "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54");
    const char *long_text =
        "This is a test using a larger than block-size key and a larger than block-size data. "
        "The key needs to be hashed before being used by the HMAC algorithm.";
    check(key, 131, long_text, strlen(long_text),
          "9b09ffa71b942fcb27635fbcd5b0e944bfdc63644f0713938a7f51535c3a35e2");
    for (unsigned char i = 0; i < 25; i++)
        key[i] = (unsigned char)(i + 1);
    memset(bytes, 0xcd, sizeof bytes);
    check(key, 25, bytes, 50, "82558a389a443c0ea4cc819899f2083a85f0faa3e578f8077a2e3ff46729665b");
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(published_cases)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
