/* Rounding and the figure element. Check values worked by hand. */
#include "ridgetally/page/number.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static void expect_rounded(double value, int decimals, bool percent, const char *expected)
{
    struct rt_text text = {0};
    rt_add_rounded(&text, value, (struct rt_rounding){decimals, percent, false});
    assert_string_equal(text.bytes, expected);
    rt_text_release(&text);
}

static void numbers_are_rounded(void **state)
{
    (void)state;
    expect_rounded(0.214, 2, false, "0.21");
    expect_rounded(-0.216, 2, false, "\u22120.22");
    expect_rounded(-0.004, 2, false, "0.00");
    expect_rounded(0.0, 1, false, "0.0");
    expect_rounded(41.6, 0, false, "42");
    expect_rounded(0.973, 0, true, "97%");
    expect_rounded(0.973, 1, true, "97.3%");
}

static void shares_reach_0_and_100_only_exactly(void **state)
{
    (void)state;
    expect_rounded(1.0, 0, true, "100%");
    expect_rounded(0.0, 0, true, "0%");
    expect_rounded(0.997, 0, true, ">99%");
    expect_rounded(0.9996, 1, true, ">99.9%");
    expect_rounded(0.0004, 0, true, "<1%");
    expect_rounded(0.994, 0, true, "99%");
}

static void expect_p(double p, const char *expected)
{
    struct rt_text text = {0};
    rt_add_p_value(&text, p);
    assert_string_equal(text.bytes, expected);
    rt_text_release(&text);
}

static void p_values(void **state)
{
    (void)state;
    expect_p(1e-12, "<0.001");
    expect_p(0.0012, "0.001");
    expect_p(0.0496, "0.050");
    expect_p(0.314, "0.31");
    expect_p(0.995, ">0.99");
    expect_p(1.0, ">0.99");
}

static struct rt_figure bias(double value, double half_width)
{
    struct rt_figure row = rt_empty_figure();
    row.section = "depth";
    row.measure = "depth_bias";
    row.grouping = "window";
    row.level = "12 months";
    row.unit = "mm";
    row.unit_of_analysis = "implant";
    row.n_implants = 38;
    row.n_patients = 1;
    row.value = value;
    row.lower = value - half_width;
    row.upper = value + half_width;
    return row;
}

/* A fifth of the half width is the smallest step shown; never more than the catalogue's two decimals. */
static void sentences_show_what_the_interval_carries(void **state)
{
    (void)state;
    struct rt_figure row = bias(0.25, 0.06);
    assert_int_equal(rt_sentence_rounding(&row).decimals, 2);
    row = bias(0.25, 0.51);
    assert_int_equal(rt_sentence_rounding(&row).decimals, 1);
    row = bias(0.25, 6.0);
    assert_int_equal(rt_sentence_rounding(&row).decimals, 0);
    row = bias(0.25, 0.001);
    assert_int_equal(rt_sentence_rounding(&row).decimals, 2);
    row.lower = row.upper = NAN;
    assert_int_equal(rt_sentence_rounding(&row).decimals, 2);
}

static struct rt_figure low_torque(double value, double half_width)
{
    struct rt_figure row = bias(value, half_width);
    row.section = "stability";
    row.measure = "low_torque";
    row.unit = "share";
    return row;
}

/* A share reads the same on page one and in a table: tenths only where the interval is narrow. */
static void shares_have_the_same_decimals_everywhere(void **state)
{
    (void)state;
    const double half_widths[] = {0.003, 0.0199, 0.0201, 0.2, NAN};
    const int decimals[] = {1, 1, 0, 0, 0};
    for (size_t i = 0; i < sizeof decimals / sizeof decimals[0]; i++) {
        const struct rt_figure row = low_torque(0.125, half_widths[i]);
        assert_int_equal(rt_table_rounding(&row).decimals, decimals[i]);
        assert_int_equal(rt_sentence_rounding(&row).decimals, decimals[i]);
    }
}

/* A target of 2.5% is not 2% or 3% anywhere, and one of 50% is not 50.0%. */
static void what_the_practice_set_is_shown_as_set(void **state)
{
    (void)state;
    const double values[] = {0.5, 0.025, 0.9};
    const int decimals[] = {0, 1, 0};
    for (size_t i = 0; i < sizeof decimals / sizeof decimals[0]; i++) {
        struct rt_figure row = low_torque(values[i], NAN);
        row.section = "yardsticks";
        row.measure = "yardstick_target";
        row.method = "yardstick_target";
        assert_int_equal(rt_table_rounding(&row).decimals, decimals[i]);
        assert_int_equal(rt_sentence_rounding(&row).decimals, decimals[i]);
    }
}

static void expect_part(const struct rt_figure *row, enum rt_slot_part part, bool in_table,
                        const char *expected)
{
    struct rt_text html = {0};
    rt_html_add_part(&html, row, part, in_table);
    assert_string_equal(html.bytes == NULL ? "" : html.bytes, expected);
    rt_text_release(&html);
}

static void every_number_names_its_row(void **state)
{
    (void)state;
    struct rt_figure row = bias(-0.25, 0.51);
    expect_part(&row, RT_PART_SIZE, false,
                "<data class=\"figure\" value=\"-0.25\" data-figure=\"depth/depth_bias/window/12 months////"
                "implant\" data-part=\"value\" data-form=\"size\">0.2</data>");
    row.grouping = "window|operator";
    row.level = "12 months|<b>/50%";
    row.at = 2.5;
    expect_part(&row, RT_PART_IMPLANTS, true,
                "<data class=\"figure\" value=\"38\" data-figure=\"depth/depth_bias/window|operator/12 "
                "months|&lt;b&gt;%2F50%25/2.5///implant\" data-part=\"n_implants\">38</data>");
}

static void counts_are_singular_or_plural(void **state)
{
    (void)state;
    struct rt_figure row = bias(0.25, 0.1);
    struct rt_text html = {0};
    rt_html_add_part(&html, &row, RT_PART_CASES, false);
    assert_non_null(strstr(html.bytes, ">38</data> implants ("));
    assert_non_null(strstr(html.bytes, ">1</data> patient)"));
    rt_text_release(&html);
}

static void states_are_words(void **state)
{
    (void)state;
    struct rt_figure row = bias(NAN, NAN);
    row.state = RT_FIGURE_TOO_FEW;
    expect_part(&row, RT_PART_ESTIMATE, true, "too few to say");
    row.state = RT_FIGURE_UNDEFINED;
    expect_part(&row, RT_PART_VALUE, true, "cannot be computed");
    row.state = RT_FIGURE_WITHHELD;
    expect_part(&row, RT_PART_P, true, "withheld");
}

/* Below 20 implants a share is n of N, whatever its state. */
static void small_shares_are_counts(void **state)
{
    (void)state;
    struct rt_figure row = bias(0.25, 0.2);
    row.measure = "depth_within_half";
    row.unit = "share";
    row.n_implants = 12;
    row.n_events = 3;
    row.state = RT_FIGURE_TOO_FEW;
    struct rt_text html = {0};
    rt_html_add_part(&html, &row, RT_PART_SHARE, true);
    assert_non_null(strstr(html.bytes, "data-part=\"n_events\">3</data> of <data"));
    assert_non_null(strstr(html.bytes, "data-part=\"n_implants\">12</data>"));
    assert_null(strstr(html.bytes, "%"));
    rt_text_release(&html);
    row.n_implants = 0;
    row.n_events = RT_NO_COUNT;
    expect_part(&row, RT_PART_EVENTS_OF, true, "too few to say");
}

/* In a column of several units each value has its own; shares are told in points or per cent already. */
static void an_amount_has_its_unit(void **state)
{
    (void)state;
    struct rt_figure row = bias(0.25, 0.2);
    struct rt_text html = {0};
    rt_html_add_part(&html, &row, RT_PART_AMOUNT, true);
    assert_non_null(strstr(html.bytes, "0.25</data> mm"));
    rt_text_release(&html);
    row.measure = "depth_within_half";
    row.unit = "share";
    rt_html_add_part(&html, &row, RT_PART_AMOUNT, true);
    assert_null(strstr(html.bytes, "share"));
    rt_text_release(&html);
    row.state = RT_FIGURE_TOO_FEW;
    expect_part(&row, RT_PART_AMOUNT, true, "too few to say");
}

static void an_endless_limit_is_said(void **state)
{
    (void)state;
    struct rt_figure row = bias(0.25, 0.2);
    row.upper = NAN;
    struct rt_text html = {0};
    rt_html_add_part(&html, &row, RT_PART_INTERVAL, false);
    assert_non_null(strstr(html.bytes, "</data> to no limit"));
    rt_text_release(&html);
}

static void expect_words(const struct rt_figure *row, enum rt_slot_part part, bool in_table,
                         const char *expected)
{
    struct rt_text html = {0};
    rt_html_add_part(&html, row, part, in_table);
    char seen[256];
    size_t length = 0;
    for (const char *at = html.bytes; *at != '\0' && length + 1 < sizeof seen; at++) {
        if (*at == '<')
            at += strcspn(at, ">");
        else
            seen[length++] = *at;
    }
    seen[length] = '\0';
    assert_string_equal(seen, expected);
    rt_text_release(&html);
}

/* A difference of two shares is in percentage points, and a small one is not "<1%". */
static void differences_of_shares_are_points(void **state)
{
    (void)state;
    struct rt_figure row = bias(-0.1, 0.08);
    row.section = "rules";
    row.measure = "rule_difference_adjusted";
    row.unit = "share";
    expect_words(&row, RT_PART_VALUE, false, "\u221210 percentage points");
    expect_words(&row, RT_PART_INTERVAL, false, "\u221218 to \u22122");
    row = bias(0.01, 0.05);
    row.section = "yardsticks";
    row.measure = "low_torque_change";
    row.unit = "share";
    expect_words(&row, RT_PART_SIZE, false, "1 percentage point");
    row.lower = 0.001;
    expect_words(&row, RT_PART_INTERVAL, false, "0 to 6");
    row.measure = "low_torque";
    expect_words(&row, RT_PART_VALUE, false, "1%");
    row.section = "precision";
    row.measure = "wanted"; /* the width of a share's interval */
    row.value = 0.2;
    row.lower = row.upper = NAN;
    expect_words(&row, RT_PART_VALUE, true, "20 points");
}

/* Five failures in a sentence and 5.12 in the table below it would be two numbers to a reader. */
static void rates_have_one_decimal_everywhere(void **state)
{
    (void)state;
    struct rt_figure row = bias(5.123, 4.0);
    row.section = "survival";
    row.measure = "failure_rate";
    row.unit = "per 100 implant-years";
    assert_int_equal(rt_table_rounding(&row).decimals, 1);
    assert_int_equal(rt_sentence_rounding(&row).decimals, 1);
    expect_words(&row, RT_PART_VALUE, false, "5.1");
}

/* Where nothing is said of the events a table says why, and a count of none stays one. */
static void events_that_are_not_counted_say_why(void **state)
{
    (void)state;
    struct rt_figure row = bias(NAN, NAN);
    row.n_events = RT_NO_COUNT;
    row.state = RT_FIGURE_TOO_FEW;
    expect_words(&row, RT_PART_EVENTS, true, "too few to say");
    row.n_events = 0;
    expect_words(&row, RT_PART_EVENTS, true, "0");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_are_rounded),
        cmocka_unit_test(shares_reach_0_and_100_only_exactly),
        cmocka_unit_test(p_values),
        cmocka_unit_test(sentences_show_what_the_interval_carries),
        cmocka_unit_test(shares_have_the_same_decimals_everywhere),
        cmocka_unit_test(what_the_practice_set_is_shown_as_set),
        cmocka_unit_test(every_number_names_its_row),
        cmocka_unit_test(counts_are_singular_or_plural),
        cmocka_unit_test(states_are_words),
        cmocka_unit_test(small_shares_are_counts),
        cmocka_unit_test(differences_of_shares_are_points),
        cmocka_unit_test(rates_have_one_decimal_everywhere),
        cmocka_unit_test(events_that_are_not_counted_say_why),
        cmocka_unit_test(an_amount_has_its_unit),
        cmocka_unit_test(an_endless_limit_is_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
