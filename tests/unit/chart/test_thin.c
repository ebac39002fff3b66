/* Lines and points thinned to what can be seen. */
#include "../../../src/chart/thin.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

static void a_line_with_room_stays(void **state)
{
    (void)state;
    double x[] = {1.0, 1.2, 1.4, 1.9, 2.0, 7.5}, y[] = {5, 1, 9, 2, 2, 8};
    assert_int_equal(thin_line(6, x, y), 6);
    const double kept[] = {5, 1, 9, 2, 2, 8};
    for (size_t i = 0; i < 6; i++)
        assert_true(y[i] == kept[i]);
    assert_int_equal(thin_line(0, x, y), 0);
    assert_int_equal(thin_line(1, x, y), 1);
}

static void a_column_keeps_its_ends_and_extremes(void **state)
{
    (void)state;
    double x[] = {3.0, 3.1, 3.2, 3.3, 3.4, 3.5, 4.0}, y[] = {5, 7, 1, 6, 4, 5, 5};
    const double kept_x[] = {3.0, 3.1, 3.2, 3.5, 4.0}, kept_y[] = {5, 7, 1, 5, 5};
    assert_int_equal(thin_line(7, x, y), 5);
    for (size_t i = 0; i < 5; i++)
        assert_true(x[i] == kept_x[i] && y[i] == kept_y[i]);
}

static void a_level_or_rising_column_keeps_no_point_twice(void **state)
{
    (void)state;
    double x[] = {0.1, 0.2, 0.3, 0.4, 0.5, 0.6}, level[] = {2, 2, 2, 2, 2, 2};
    assert_int_equal(thin_line(6, x, level), 2);
    assert_true(x[0] == 0.1 && x[1] == 0.6);
    double again[] = {0.1, 0.2, 0.3, 0.4, 0.5, 0.6}, rising[] = {1, 2, 3, 4, 5, 6};
    assert_int_equal(thin_line(6, again, rising), 2);
    assert_true(rising[0] == 1 && rising[1] == 6);
}

static void a_long_line_keeps_its_reach(void **state)
{
    (void)state;
    enum { POINTS = 100000, COLUMNS = 50 };
    double *x = malloc(POINTS * sizeof *x), *y = malloc(POINTS * sizeof *y);
    double low[COLUMNS], high[COLUMNS];
    assert_true(x != NULL && y != NULL);
    for (size_t i = 0; i < POINTS; i++) {
        const size_t column = i * COLUMNS / POINTS;
        x[i] = (double)i * COLUMNS / POINTS;
        y[i] = (double)((i * 2654435761u) % 1000);
        low[column] = i % (POINTS / COLUMNS) == 0 ? y[i] : fmin(low[column], y[i]);
        high[column] = i % (POINTS / COLUMNS) == 0 ? y[i] : fmax(high[column], y[i]);
    }
    const size_t kept = thin_line(POINTS, x, y);
    assert_in_range(kept, 2 * COLUMNS, 4 * COLUMNS);
    for (size_t i = 0; i < kept; i++) {
        const size_t column = (size_t)x[i];
        assert_true(i == 0 || x[i] > x[i - 1]);
        low[column] = y[i] == low[column] ? NAN : low[column];
        high[column] = y[i] == high[column] ? NAN : high[column];
    }
    for (size_t column = 0; column < COLUMNS; column++)
        assert_true(isnan(low[column]) && isnan(high[column]));
    free(x);
    free(y);
}

static void a_cell_is_taken_once(void **state)
{
    (void)state;
    struct point_cells cells;
    assert_true(make_cells(&cells, 10, 20, 30, 40, 400));
    assert_true(take_cell(&cells, 10.2, 20.2));
    assert_false(take_cell(&cells, 10.9, 20.9));
    assert_true(take_cell(&cells, 11.0, 20.9));
    assert_true(take_cell(&cells, 30.0, 40.0));
    for (int time = 0; time < 2; time++) /* outside every point is free */
        assert_true(take_cell(&cells, 9.9, 30) && take_cell(&cells, 15, 99) && take_cell(&cells, NAN, 30));
    release_cells(&cells);
    assert_true(make_cells(&cells, 10, 20, 30, 40, 100000));
    assert_true(take_cell(&cells, 10.2, 20.2));
    assert_false(take_cell(&cells, 12.9, 22.9));
    assert_true(take_cell(&cells, 13.1, 22.9));
    release_cells(&cells);
    assert_true(make_cells(&cells, 10, 20, 5, 20, 3)); /* no panel at all */
    assert_true(take_cell(&cells, 10, 20));
    release_cells(&cells);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_line_with_room_stays), cmocka_unit_test(a_column_keeps_its_ends_and_extremes),
        cmocka_unit_test(a_level_or_rising_column_keeps_no_point_twice),
        cmocka_unit_test(a_long_line_keeps_its_reach), cmocka_unit_test(a_cell_is_taken_once)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
