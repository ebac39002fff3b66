/* SHA-256. Check values: the example messages of FIPS 180-4 (NIST, "SHA256.pdf" examples) and FIPS 180-2
 * appendix B (one million a). */
#include "ridgetally/base/sha256.h"

#include "../../../src/base/sha256_blocks.h"

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

/* Both ways from the same states through the same blocks, any number at once; says so where the processor has only one. */
static void the_processor_agrees_with_plain_c(void **state)
{
    (void)state;
    enum { MOST = 5 };
    unsigned char blocks[MOST * RT_SHA256_BLOCK + 1];
    uint64_t random = 20;
    if (!rt_sha256_has_instructions()) {
        print_message("this processor has no instructions for SHA-256\n");
        skip();
    }
    for (int trial = 0; trial < 2000; trial++) {
        uint32_t plain[8], quick[8];
        size_t count = (size_t)trial % (MOST + 1), offset = (size_t)trial % 2;
        for (size_t i = 0; i < sizeof blocks; i++)
            blocks[i] =
                (unsigned char)((random = random * 6364136223846793005u + 1442695040888963407u) >> 56);
        for (size_t i = 0; i < 8; i++)
            plain[i] = quick[i] =
                (uint32_t)((random = random * 6364136223846793005u + 1442695040888963407u) >> 32);
        rt_sha256_blocks_plain(plain, blocks + offset, count);
        rt_sha256_blocks_by_instructions(quick, blocks + offset, count);
        assert_memory_equal(plain, quick, sizeof plain);
    }
}

/* The published messages in plain C too, whatever the processor: "abc" padded to its one block. */
static void plain_c_gives_the_published_hash(void **state)
{
    (void)state;
    unsigned char block[RT_SHA256_BLOCK] = {'a', 'b', 'c', 0x80, [RT_SHA256_BLOCK - 1] = 24};
    struct rt_sha256 start;
    rt_sha256_start(&start);
    rt_sha256_blocks_plain(start.state, block, 1);
    const uint32_t published[8] = {0xba7816bf, 0x8f01cfea, 0x414140de, 0x5dae2223,
                                   0xb00361a3, 0x96177a9c, 0xb410ff61, 0xf20015ad};
    assert_memory_equal(start.state, published, sizeof published);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_messages),
        cmocka_unit_test(a_million_letters),
        cmocka_unit_test(the_processor_agrees_with_plain_c),
        cmocka_unit_test(plain_c_gives_the_published_hash),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
