/* The check of pages itself: what it lets pass in headings and drawings, and what it must refuse. Pages are written by hand. */
#include "ridgetally/figure/figure.h"

#include "../support/page_check.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static void add_row(struct rt_figure_list *list, const char *measure, const char *grouping, const char *level,
                    double at, double value)
{
    struct rt_figure row = rt_empty_figure();
    row.section = "crest";
    row.measure = measure;
    row.grouping = grouping;
    row.level = level;
    row.at = at;
    row.value = value;
    row.lower = value - 0.125;
    row.n_implants = 38;
    row.n_patients = 29;
    row.remark = "38 left out for a fact not recorded";
    assert_int_equal(rt_add_figure(list, &row, NULL), RT_OK);
}

/* Faults of a page against four rows; *numbers, where asked for, receives how many numbers it has. */
static long faults_of(const char *page, long *numbers)
{
    struct rt_figure_list list = {0};
    struct rt_text csv = {0};
    FILE *nowhere = fopen("/dev/null", "w");
    add_row(&list, "change", "depth_class", "1 to <2 mm", NAN, -0.625);
    add_row(&list, "change", "depth_class", ">=2 mm", NAN, 0.5);
    add_row(&list, "share", "year", "2024", NAN, 0.25);
    add_row(&list, "share", "criteria", "Smith-and-Zarb 1989", 3.0, 0.75);
    add_row(&list, "limit", "reader|other_reader", "R1|R2", NAN, 1.0);
    rt_figures_to_csv(&list, &csv);
    struct page_report report = {.stream = nowhere};
    check_page(page, csv.bytes, &report);
    if (numbers != NULL)
        *numbers = report.numbers;
    fclose(nowhere);
    rt_text_release(&csv);
    rt_release_figures(&list);
    return report.faults;
}

#define CLASS "crest/change/depth_class/1 to &lt;2 mm////"

static void a_number_in_a_drawing_is_a_cell(void **state)
{
    (void)state;
    long numbers = 0;
    assert_int_equal(
        faults_of(
            "<svg><text data-figure=\"" CLASS "\" data-part=\"value\">\u22120.63</text>"
            "<text>n = <tspan data-figure=\"" CLASS "\" data-part=\"n_implants\">38</tspan></text>"
            "<text data-figure=\"crest/share/year/2024////\" data-part=\"value\">25%</text>"
            "<text data-figure=\"crest/change/depth_class/>=2 mm////\" data-part=\"value\">+0.5</text></svg>",
            &numbers),
        0);
    assert_int_equal(numbers, 4);
    static const char *const wrong[] = {
        "<svg><text data-figure=\"" CLASS "\" data-part=\"value\">\u22120.64</text></svg>",
        "<svg><text data-figure=\"" CLASS "\" data-part=\"value\">0.63</text></svg>",
        "<svg><text data-figure=\"" CLASS "\" data-part=\"value\">bias \u22120.63</text></svg>",
        "<svg><text data-figure=\"" CLASS "\" data-part=\"n_implants\">39</text></svg>",
        "<svg><text data-figure=\"" CLASS "\" data-part=\"n_patients\">38</text></svg>",
        "<svg><text data-figure=\"" CLASS "\" data-part=\"n_events\">0</text></svg>", /* an empty cell */
        "<svg><text data-figure=\"" CLASS "\" data-part=\"width\">38</text></svg>",   /* no column */
        "<svg><text data-figure=\"" CLASS "\">38</text></svg>",
        "<svg><text data-figure=\"crest/change/depth_class/1 to &lt;3 mm////\" "
        "data-part=\"n_implants\">38</text></svg>",
        "<svg><text data-figure=\"" CLASS "\" data-part=\"n_implants\"><tspan>38</tspan></text></svg>",
        "<p><span data-figure=\"" CLASS
        "\" data-part=\"n_implants\">38</span></p>", /* in a sentence: a figure element */
        "<p><data class=\"figure\" data-figure=\"" CLASS
        "\" data-part=\"n_implants\">38</data></p>", /* no value */
    };
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        if (faults_of(wrong[i], NULL) == 0)
            fail_msg("let pass: %s", wrong[i]);
}

static void other_digits_in_a_drawing_are_ticks_and_names(void **state)
{
    (void)state;
    static const char *const right[] = {
        "<svg><text class=\"tick\">0</text><text class=\"tick\">\u22122.50</text><text "
        "class=\"tick\">100%</text></svg>",
        "<svg><text class=\"name\">1 to &lt;2 mm</text><text class=\"name\">1 to &lt;2</text></svg>",
        "<svg><text>depth <tspan class=\"name\">\u22652 mm</tspan></text><text "
        "class=\"name\">2024</text></svg>",
        "<svg><text class=\"name\">Smith and Zarb 1989</text><text class=\"name\">Smith and Zarb "
        "19\u2026</text></svg>",
        "<svg><text class=\"name\">R1 and R2</text><text class=\"name\">R1|R2</text></svg>",
        "<svg><text>12 months of placement to</text><text>dashed: fewer than 10 patients at "
        "risk</text></svg>",
        "<svg><text>95%</text><title>Within 0.5 mm of plan</title><desc>The bar is the 95% "
        "interval.</desc></svg>",
    };
    static const char *const wrong[] = {
        "<svg><text>38</text></svg>",
        "<svg><text>n = 38</text></svg>",
        "<svg><text>mean \u22120.63</text></svg>",
        "<svg><text class=\"tick\">n = 3</text></svg>",
        "<svg><text class=\"tick\">3 of 4</text></svg>",
        "<svg><text class=\"tick\">1.</text></svg>",
        "<svg><text class=\"name\">1 to &lt;3 mm</text></svg>",
        "<svg><text class=\"name\">1 to</text></svg>",
        "<svg><text class=\"name\">2025</text></svg>",
        "<svg><text class=\"name\">R1 and R3</text></svg>",
        "<svg><text class=\"definition\">38</text></svg>", /* what sentences may hold does not open drawings */
        "<section data-cited><svg><text>38</text></svg></section>",
        "<svg><title>Of 38 implants</title></svg>",
        "<svg><desc>The mean is 0.63.</desc></svg>",
        "<svg><text>fewer than 11 patients at risk</text></svg>",
        "<svg><text>95.5% interval</text></svg>",
        "<svg><text>share 95%</text></svg>",
    };
    for (size_t i = 0; i < sizeof right / sizeof right[0]; i++)
        if (faults_of(right[i], NULL) != 0)
            fail_msg("refused: %s", right[i]);
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        if (faults_of(wrong[i], NULL) == 0)
            fail_msg("let pass: %s", wrong[i]);
}

static void headings_hold_definitions_dates_levels_and_times(void **state)
{
    (void)state;
    static const char *const right[] = {
        "<table><caption>Crest change at 12 months</caption><tr><th>depth 1 to under 2 mm</th></tr></table>",
        "<table><tr><th>depth 1 to under 2, tissue 2 or more</th><th>2 mm or more</th></tr></table>",
        "<table><tr><th>A, 3 years</th><th>2024</th><th>A, 2024</th><th>Q, 2026Q2</th></tr></table>",
        "<h1>Audit, 1 April 2026 to 30 June 2026</h1>",
        "<dl><dt>Smith-and-Zarb 1989</dt></dl>",
        "<table><tr><th class=\"name\">0034/25a</th></tr></table>",
        "<footer><p>Written by ridgetally 0.1.0. Fingerprint of the records used: 26c9f2b1.</p></footer>",
        "<header class=\"masthead\"><p class=\"practice\">Suite 4</p><p>Period: 2026-04-01</p></header>",
    };
    static const char *const wrong[] = {
        "<table><caption>Crest change at 13 months</caption></table>",
        "<table><caption>Of 38 implants</caption></table>",
        "<table><caption>All of 3 years</caption></table>",
        "<table><tr><th>depth 1 to under 3 mm</th></tr></table>",
        "<table><tr><th>A, 4 years</th></tr></table>",
        "<table><tr><th>2025</th></tr></table>",
        "<table><tr><th>all 2024 of them</th></tr></table>", /* a year in running text may be anything */
        "<table><tr><th>0034/25a</th></tr></table>",
        "<h1>Audit, 38 April 2026x</h1>",
        "<h1>Lost: 3</h1>",
        "<nav><a>Lost: 3</a></nav>",
        "<footer><p>Written by ridgetally 0.1.0 from 38 records.</p></footer>",
        "<header class=\"masthead\"><p>Suite 4</p></header>",
        "<p>12 months</p>", /* a sentence marks its definitions */
    };
    for (size_t i = 0; i < sizeof right / sizeof right[0]; i++)
        if (faults_of(right[i], NULL) != 0)
            fail_msg("refused: %s", right[i]);
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        if (faults_of(wrong[i], NULL) == 0)
            fail_msg("let pass: %s", wrong[i]);
}

static void words_from_the_records_are_those_of_the_figures(void **state)
{
    (void)state;
    static const char *const right[] = {
        "<p><span class=\"name\">38 left out for a fact not recorded</span></p>", /* a remark */
        "<p><span class=\"name\">1 April 2026</span>, <span class=\"name\">3 years</span></p>",
        "<p><span class=\"name\">Mean (CR2).</span></p><section data-cited><p>Mean (CR2).</p></section>",
        "<p>longer than the recall interval, <span class=\"name\">365</span> days</p>",
        "<section class=\"slide\"><p><span class=\"name\">Slide 1.</span></p></section>",
        "<table><tr><th class=\"name\">7/a</th><td><span class=\"name\">lost after 21 "
        "days</span></td></tr></table>",
    };
    static const char *const wrong[] = {
        "<p><span class=\"name\">39 left out for a fact not recorded</span></p>",
        "<p><span class=\"name\">38</span></p>",
        "<p><span class=\"name\">4 years</span></p>",
        "<p><span class=\"name\">Mean (CR2).</span></p><section data-cited><p>Mean (CR3).</p></section>",
        "<p>seen in <span class=\"name\">365</span> days</p>",
        "<section class=\"slide\"><p><span class=\"name\">Slide 2.</span></p></section>",
        "<table><tr><th class=\"name\">7/a</th></tr><tr><td><span class=\"name\">21 "
        "days</span></td></tr></table>",
        "<table><tr><th>A</th><td><span class=\"name\">lost after 21 days</span></td></tr></table>",
    };
    for (size_t i = 0; i < sizeof right / sizeof right[0]; i++)
        if (faults_of(right[i], NULL) != 0)
            fail_msg("refused: %s", right[i]);
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        if (faults_of(wrong[i], NULL) == 0)
            fail_msg("let pass: %s", wrong[i]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_number_in_a_drawing_is_a_cell),
        cmocka_unit_test(other_digits_in_a_drawing_are_ticks_and_names),
        cmocka_unit_test(headings_hold_definitions_dates_levels_and_times),
        cmocka_unit_test(words_from_the_records_are_those_of_the_figures),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
