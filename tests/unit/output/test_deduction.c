/* What can be worked out from shown counts: against all whole-number tables, written out one by one. */
#include "ridgetally/output/deduction.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

enum { CELLS = 4, COUNTS = 9, MOST = 9 };

/* The cells of a 2 x 2 table, its row sums, its column sums, its total. */
static void fill(const long cells[CELLS], long counts[COUNTS])
{
    for (size_t i = 0; i < CELLS; i++)
        counts[i] = cells[i];
    counts[4] = cells[0] + cells[1];
    counts[5] = cells[2] + cells[3];
    counts[6] = cells[0] + cells[2];
    counts[7] = cells[1] + cells[3];
    counts[8] = counts[4] + counts[5];
}

static struct rt_deduction *new_table(void)
{
    struct rt_deduction *deduction = rt_new_deduction();
    assert_non_null(deduction);
    for (size_t i = 0; i < COUNTS; i++)
        assert_int_equal(rt_add_unknown(deduction, 0, i < CELLS ? MOST : CELLS * MOST), i);
    rt_state_sum(deduction, 4, (size_t[]){0, 1}, 2);
    rt_state_sum(deduction, 5, (size_t[]){2, 3}, 2);
    rt_state_sum(deduction, 6, (size_t[]){0, 2}, 2);
    rt_state_sum(deduction, 7, (size_t[]){1, 3}, 2);
    rt_state_sum(deduction, 8, (size_t[]){4, 5}, 2);
    return deduction;
}

/* Least and most of each cell over all tables that agree with the shown counts. */
static void try_all(const long truth[COUNTS], unsigned shown, long least[CELLS], long most[CELLS])
{
    for (size_t i = 0; i < CELLS; i++) {
        least[i] = MOST + 1;
        most[i] = -1;
    }
    long cells[CELLS], counts[COUNTS];
    for (long code = 0; code < 10000; code++) {
        long rest = code;
        for (size_t i = 0; i < CELLS; i++, rest /= 10)
            cells[i] = rest % 10;
        fill(cells, counts);
        bool agrees = true;
        for (size_t i = 0; i < COUNTS; i++)
            agrees = agrees && ((shown >> i & 1) == 0 || counts[i] == truth[i]);
        for (size_t i = 0; agrees && i < CELLS; i++) {
            least[i] = cells[i] < least[i] ? cells[i] : least[i];
            most[i] = cells[i] > most[i] ? cells[i] : most[i];
        }
    }
}

static void ranges_are_those_of_all_tables_written_out(void **state)
{
    (void)state;
    uint64_t random = 20261127;
    for (int round = 0; round < 60; round++) {
        long cells[CELLS], truth[COUNTS], least[CELLS], most[CELLS];
        for (size_t i = 0; i < CELLS; i++) {
            random = random * 6364136223846793005u + 1442695040888963407u;
            cells[i] = (long)(random >> 33) % (MOST + 1);
        }
        random = random * 6364136223846793005u + 1442695040888963407u;
        unsigned shown = (unsigned)(random >> 33) & 0x1ffu;
        fill(cells, truth);
        try_all(truth, shown, least, most);
        struct rt_deduction *deduction = new_table();
        for (size_t i = 0; i < COUNTS; i++)
            if (shown >> i & 1)
                rt_show_unknown(deduction, i, truth[i], truth[i]);
        for (size_t i = 0; i < CELLS; i++) {
            struct rt_deduced deduced;
            struct rt_error error = {.message = ""};
            assert_int_equal(rt_deduce(deduction, i, &deduced, &error), RT_OK);
            assert_true(deduced.proven);
            assert_int_equal(deduced.least, least[i]);
            assert_int_equal(deduced.most, most[i]);
            bool can;
            assert_int_equal(rt_can_reach(deduction, i, most[i], &can, &error), RT_OK);
            assert_true(can);
            assert_int_equal(rt_can_reach(deduction, i, most[i] + 1, &can, &error), RT_OK);
            assert_false(can);
        }
        rt_release_deduction(deduction);
    }
}

/* Three groups that share patients, 7 patients in all, two groups shown with 2 and 3: the third has 2 to 7. */
static void groups_may_share_patients(void **state)
{
    (void)state;
    struct rt_deduction *deduction = rt_new_deduction();
    for (int i = 0; i < 4; i++)
        rt_add_unknown(deduction, 0, 100);
    rt_state_union(deduction, 0, (size_t[]){1, 2, 3}, 3);
    rt_show_unknown(deduction, 0, 7, 7);
    rt_show_unknown(deduction, 1, 2, 2);
    rt_show_unknown(deduction, 2, 3, 3);
    struct rt_deduced deduced;
    assert_int_equal(rt_deduce(deduction, 3, &deduced, NULL), RT_OK);
    assert_int_equal(deduced.least, 2);
    assert_int_equal(deduced.most, 7);
    rt_release_deduction(deduction);
}

/* A third of 10 cannot be a whole number: fractions must not widen the range. Twice a cell is 2x; x + x + y = 9, y in 0..1. */
static void counts_are_whole_numbers(void **state)
{
    (void)state;
    struct rt_deduction *deduction = rt_new_deduction();
    size_t whole = rt_add_unknown(deduction, 9, 9), twice = rt_add_unknown(deduction, 0, 9);
    size_t x = rt_add_unknown(deduction, 0, 9), same = rt_add_unknown(deduction, 0, 9);
    size_t y = rt_add_unknown(deduction, 0, 1);
    rt_state_not_more(deduction, x, same);
    rt_state_not_more(deduction, same, x);
    rt_state_sum(deduction, twice, (size_t[]){x, same}, 2);
    rt_state_sum(deduction, whole, (size_t[]){twice, y}, 2);
    struct rt_deduced deduced;
    assert_int_equal(rt_deduce(deduction, y, &deduced, NULL), RT_OK);
    assert_int_equal(deduced.least, 1);
    assert_int_equal(deduced.most, 1);
    rt_release_deduction(deduction);
}

static void implants_are_at_most_some_times_their_patients(void **state)
{
    (void)state;
    struct rt_deduction *deduction = rt_new_deduction();
    size_t patients = rt_add_unknown(deduction, 0, 100), implants = rt_add_unknown(deduction, 17, 17);
    rt_state_not_more(deduction, patients, implants);
    rt_state_at_most_times(deduction, implants, 8, patients);
    struct rt_deduced deduced;
    assert_int_equal(rt_deduce(deduction, patients, &deduced, NULL), RT_OK);
    assert_int_equal(deduced.least, 3);
    assert_int_equal(deduced.most, 17);
    rt_release_deduction(deduction);
}

static void contradictions_are_told(void **state)
{
    (void)state;
    struct rt_deduction *deduction = new_table();
    rt_show_unknown(deduction, 4, 3, 3);
    rt_show_unknown(deduction, 8, 2, 2);
    struct rt_deduced deduced;
    struct rt_error error = {.message = ""};
    assert_int_equal(rt_deduce(deduction, 0, &deduced, &error), RT_INPUT);
    rt_release_deduction(deduction);
    deduction = new_table();
    rt_show_unknown(deduction, 4, 3, 3);
    rt_show_unknown(deduction, 4, 5, 5);
    assert_int_equal(rt_deduce(deduction, 0, &deduced, NULL), RT_INPUT);
    rt_release_deduction(deduction);
    rt_release_deduction(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ranges_are_those_of_all_tables_written_out),
        cmocka_unit_test(groups_may_share_patients),
        cmocka_unit_test(counts_are_whole_numbers),
        cmocka_unit_test(implants_are_at_most_some_times_their_patients),
        cmocka_unit_test(contradictions_are_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
