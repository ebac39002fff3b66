#include "../../../src/stats/sort_key.h"

#include "ridgetally/stats/order.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

enum { MOST = 3000 };

static uint64_t draw(uint64_t *state)
{
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    return *state;
}

static void numbers_come_back(void **state)
{
    (void)state;
    const double numbers[] = {-INFINITY, -1e300, -2.5, -1e-300, 0, 1e-300, 1, 2.5, 1e300, INFINITY};
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        assert_true(rt_sort_number(rt_sort_bits(numbers[i])) == numbers[i]);
        if (i > 0)
            assert_true(rt_sort_bits(numbers[i - 1]) < rt_sort_bits(numbers[i]));
    }
    assert_true(rt_sort_bits(-0.0) == rt_sort_bits(0.0));
}

/* Kinds of numbers: days, hundredths of both signs, any. */
static double number_of(uint64_t bits, int kind)
{
    if (kind == 0)
        return (double)(bits % 700);
    return kind == 1 ? ((double)(bits % 4000) - 2000) / 100
                     : ldexp((double)(int64_t)bits, (int)(bits % 90) - 60);
}

/* Ascending, every item once, equal numbers in the order in which they stood. */
static void keys_are_sorted_and_equal_ones_keep_their_order(void **state)
{
    (void)state;
    static const size_t sizes[] = {0, 1, 2, 3, 47, 48, 49, 300, MOST};
    uint64_t seed = 88172645463325252u;
    struct rt_sort_key *keys = calloc(2 * MOST, sizeof *keys);
    double values[MOST], sorted[MOST];
    assert_non_null(keys);
    for (int kind = 0; kind < 3; kind++)
        for (size_t s = 0; s < sizeof sizes / sizeof sizes[0]; s++) {
            const size_t n = sizes[s];
            bool seen[MOST] = {false};
            for (size_t i = 0; i < n; i++) {
                sorted[i] = values[i] = number_of(draw(&seed), kind);
                keys[i] = (struct rt_sort_key){rt_sort_bits(values[i]), i};
            }
            rt_sort_keys(keys, keys + n, n);
            rt_sort_values(sorted, n);
            for (size_t i = 0; i < n; i++) {
                assert_true(keys[i].item < n && !seen[keys[i].item]);
                seen[keys[i].item] = true;
                assert_true(values[keys[i].item] == sorted[i]);
                if (i == 0)
                    continue;
                assert_true(sorted[i - 1] <= sorted[i]);
                if (sorted[i - 1] == sorted[i])
                    assert_true(keys[i - 1].item < keys[i].item);
            }
        }
    free(keys);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(numbers_come_back),
                                       cmocka_unit_test(keys_are_sorted_and_equal_ones_keep_their_order)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
