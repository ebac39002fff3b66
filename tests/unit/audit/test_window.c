/* Windows of time and the films that stand for them. Expected days by hand: a month is 30.4375 days. */
#include "../support/near.h"

#include "ridgetally/audit/window.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static struct rt_film film(int day, double level)
{
    return (struct rt_film){.seen_on = day, .mesial_mm = level, .distal_mm = level};
}

/* 2 months = 60.875 days: first whole day 61. 4.5 months = 136.97: last day 136. 9 months = 273.94: 274.
 * 48 months = 1461 days exactly: the window of 36 months ends on 1460 and that of 60 begins on 1461. */
static void windows_begin_and_end(void **state)
{
    (void)state;
    const struct rt_window *windows = rt_windows();
    assert_int_equal(windows[0].months, 3);
    assert_int_equal(rt_window_first_day(&windows[0], 0), 61);
    assert_int_equal(rt_window_last_day(&windows[0], 0), 136);
    assert_int_equal(rt_window_first_day(&windows[1], 0), 137);
    assert_int_equal(rt_window_first_day(&windows[RT_YEAR_WINDOW], 1000), 1274);
    assert_int_equal(rt_window_last_day(&windows[4], 0), 1460);
    assert_int_equal(rt_window_first_day(&windows[5], 0), 1461);
}

/* 12 months = 365.25 days: day 365 (0.25 off) beats day 366 (0.75 off). */
static void the_nearest_film_counts(void **state)
{
    (void)state;
    const struct rt_film films[] = {film(273, 1.0), film(365, 2.0), film(366, 3.0), film(548, 4.0)};
    const struct rt_window *year = &rt_windows()[RT_YEAR_WINDOW];
    assert_ptr_equal(rt_window_film(films, 4, year, 0), &films[1]);
    assert_null(rt_window_film(films, 1, year, 0));     /* day 273 is before the window */
    assert_null(rt_window_film(&films[3], 1, year, 0)); /* day 548 after it: 547.875 */
    assert_null(rt_window_film(NULL, 0, year, 0));
}

/* 24 months = 730.5 days: days 730 and 731 are equally near, the earlier counts. */
static void of_equally_near_films_the_earlier_counts(void **state)
{
    (void)state;
    const struct rt_film films[] = {film(730, 1.0), film(731, 2.0)};
    assert_ptr_equal(rt_window_film(films, 2, &rt_windows()[3], 0), &films[0]);
}

static void baselines_have_their_span(void **state)
{
    (void)state;
    const struct rt_film films[] = {film(-31, 1.0), film(-30, 1.1), film(30, 1.2),
                                    film(31, 1.3),  film(60, 1.4),  film(61, 1.5)};
    assert_ptr_equal(rt_baseline_film(films, 6, RT_BASELINE_PLACEMENT, 0), &films[2]);
    assert_null(rt_baseline_film(&films[3], 3, RT_BASELINE_PLACEMENT, 0));
    assert_null(rt_baseline_film(films, 2, RT_BASELINE_PLACEMENT, 0)); /* before placement */
    assert_ptr_equal(rt_baseline_film(films, 6, RT_BASELINE_LOADING, 0),
                     &films[1]); /* -30 and 30: the earlier */
    assert_ptr_equal(rt_baseline_film(&films[4], 2, RT_BASELINE_LOADING, 0), &films[4]);
    assert_null(rt_baseline_film(films, 1, RT_BASELINE_LOADING, 0));
    assert_null(rt_baseline_film(&films[5], 1, RT_BASELINE_LOADING, 0));
}

static void changes_need_both_sites_for_the_mean(void **state)
{
    (void)state;
    struct rt_film first = {.mesial_mm = 1.0, .distal_mm = 1.5},
                   later = {.mesial_mm = 0.25, .distal_mm = 1.25};
    struct rt_sites change = rt_crest_change(&first, &later);
    assert_near(change.mesial, -0.75, 0.0);
    assert_near(change.distal, -0.25, 0.0);
    assert_near(change.mean, -0.5, 0.0);
    assert_near(change.worse, -0.75, 0.0);
    later.distal_mm = NAN;
    change = rt_crest_change(&first, &later);
    assert_near(change.mesial, -0.75, 0.0);
    assert_true(isnan(change.distal) && isnan(change.mean) && isnan(change.worse));
    assert_true(isnan(rt_crest_change(NULL, &later).mesial));
    assert_true(isnan(rt_crest_change(&first, NULL).mesial));
}

static void kinds_of_level_never_mix(void **state)
{
    (void)state;
    struct rt_film first = film(0, 1.0), later = film(365, 0.5);
    later.contact = true;
    assert_true(isnan(rt_crest_change(&first, &later).mean));
    first.contact = true;
    assert_near(rt_crest_change(&first, &later).mean, -0.5, 0.0);
}

/* Exposure = max(0, -level): a crest above the platform exposes nothing. */
static void exposure_counts_below_the_platform(void **state)
{
    (void)state;
    struct rt_film one = {.mesial_mm = 0.75, .distal_mm = -0.5};
    struct rt_sites exposure = rt_exposure(&one);
    assert_near(exposure.mesial, 0.0, 0.0);
    assert_near(exposure.distal, 0.5, 0.0);
    assert_near(exposure.mean, 0.25, 0.0);
    assert_near(exposure.worse, 0.5, 0.0);
    assert_true(isnan(rt_exposure(NULL).worse));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(windows_begin_and_end),
        cmocka_unit_test(the_nearest_film_counts),
        cmocka_unit_test(of_equally_near_films_the_earlier_counts),
        cmocka_unit_test(baselines_have_their_span),
        cmocka_unit_test(changes_need_both_sites_for_the_mean),
        cmocka_unit_test(kinds_of_level_never_mix),
        cmocka_unit_test(exposure_counts_below_the_platform),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
