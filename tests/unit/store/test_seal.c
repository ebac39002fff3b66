/* The seal of a page by itself: what it must see. */
#include "../../../src/store/seal.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { PAGE = 4096, SMALLEST = 512 };

static void fill(unsigned char page[PAGE])
{
    uint32_t state = 20260101;
    for (size_t i = 0; i < PAGE; i++) {
        state = state * 1664525u + 1013904223u;
        page[i] = (unsigned char)(state >> 24);
    }
}

static void zeros_have_none(void **state)
{
    (void)state;
    static const unsigned char zeros[PAGE];
    assert_true(rt_seal_of(zeros, PAGE, 1) == 0);
    assert_true(rt_seal_of(zeros, PAGE, 77) == 0);
    assert_true(rt_seal_of(zeros, SMALLEST, 2) == 0);
}

static void every_bit_counts(void **state)
{
    (void)state;
    unsigned char page[PAGE];
    fill(page);
    uint64_t seal = rt_seal_of(page, PAGE, 5);
    for (size_t bit = 0; bit < (PAGE - RT_SEAL_BYTES) * 8; bit++) {
        page[bit / 8] ^= (unsigned char)(1u << (bit % 8));
        assert_true(rt_seal_of(page, PAGE, 5) != seal);
        page[bit / 8] ^= (unsigned char)(1u << (bit % 8));
    }
    page[PAGE - 1] ^= 1; /* the seal's own place does not */
    assert_true(rt_seal_of(page, PAGE, 5) == seal);
}

/* The highest bits of two words: what a sum or a product alone would let cancel. */
static void two_changes_do_not_cancel(void **state)
{
    (void)state;
    unsigned char page[PAGE];
    fill(page);
    uint64_t seal = rt_seal_of(page, PAGE, 5);
    for (size_t first = 7; first + 8 < PAGE - RT_SEAL_BYTES; first += 8) {
        for (unsigned bit = 0; bit < 8; bit++) {
            page[first] ^= (unsigned char)(1u << bit);
            page[first + 8] ^= (unsigned char)(1u << bit);
            assert_true(rt_seal_of(page, PAGE, 5) != seal);
            page[first] ^= (unsigned char)(1u << bit);
            page[first + 8] ^= (unsigned char)(1u << bit);
        }
    }
}

static void order_and_place_count(void **state)
{
    (void)state;
    unsigned char page[PAGE];
    unsigned char word[8];
    fill(page);
    uint64_t seal = rt_seal_of(page, PAGE, 5);
    assert_true(rt_seal_of(page, PAGE, 6) != seal);
    memcpy(word, page + 64, 8);
    memcpy(page + 64, page + 72, 8);
    memcpy(page + 72, word, 8);
    assert_true(rt_seal_of(page, PAGE, 5) != seal);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(zeros_have_none), cmocka_unit_test(every_bit_counts),
                                       cmocka_unit_test(two_changes_do_not_cancel),
                                       cmocka_unit_test(order_and_place_count)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
