/* SHA-256. Check values: the example messages of FIPS 180-4 (NIST, "SHA256.pdf" examples) and FIPS 180-2
 * appendix B (one million a). */
#include "ridgetally/base/sha256.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static const char *hash_of(const char *text, size_t step, char *hex)
{
    struct rt_sha256 hash;
    rt_sha256_start(&hash);
    size_t length = strlen(text);
    for (size_t i = 0; i < length; i += step)
        rt_sha256_add(&hash, text + i, length - i < step ? length - i : step);
    rt_sha256_finish_hex(&hash, hex);
    return hex;
}

static void published_messages(void **state)
{
    (void)state;
    char hex[RT_SHA256_HEX];
    assert_string_equal(hash_of("", 1, hex),
                        "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    assert_string_equal(hash_of("abc", 64, hex),
                        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    const char *long_message = "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq";
    for (size_t step = 1; step < 60; step++)
        assert_string_equal(hash_of(long_message, step, hex),
                            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
}

static void a_million_letters(void **state)
{
    (void)state;
    struct rt_sha256 hash;
    char hex[RT_SHA256_HEX];
    char letters[1000];
    memset(letters, 'a', sizeof letters);
    rt_sha256_start(&hash);
    for (int i = 0; i < 1000; i++)
        rt_sha256_add(&hash, letters, sizeof letters);
    rt_sha256_finish_hex(&hash, hex);
    assert_string_equal(hex, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_messages),
        cmocka_unit_test(a_million_letters),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
