/* The audit from hand-made figures to HTML: every number on the page must be a cell of the figures, hostile text
 * must stay text, and what is too few must say so. */
#include "ridgetally/base/date.h"
#include "ridgetally/output/audit.h"
#include "ridgetally/page/page.h"

#include "../support/hand_made_audit.h"
#include "../support/page_check.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static char *render(const struct rt_figure_list *figures, const struct rt_audit_info *info)
{
    struct rt_document document = {0};
    struct rt_error error = {0};
    struct rt_text html = {0};
    const struct rt_audit_subject subject = {info, "", figures, NULL, NULL, NULL};
    enum rt_status status = rt_plan_audit(&subject, &document, &error);
    if (status == RT_OK)
        status = rt_render_page(&document, NULL, &html, &error);
    if (status != RT_OK)
        fail_msg("%s", error.message);
    rt_release_document(&document);
    return rt_text_detach(&html);
}

static void every_number_is_a_figure(void **state)
{
    (void)state;
    struct rt_figure_list figures = {0};
    struct rt_audit_info info;
    struct rt_text csv = {0};
    hand_made_audit(&figures, &info);
    rt_figures_to_csv(&figures, &csv);
    char *page = render(&figures, &info);
    struct page_report report = {.stream = stderr};
    check_page(page, csv.bytes, &report);
    assert_int_equal(report.faults, 0);
    assert_true(report.numbers > 100);
    if (getenv("RT_KEEP_PAGE") != NULL) {
        FILE *file = fopen(getenv("RT_KEEP_PAGE"), "w");
        assert_non_null(file);
        fputs(page, file);
        fclose(file);
    }
    free(page);
    rt_text_release(&csv);
    rt_release_figures(&figures);
}

/* The check itself must notice a changed figure, a changed rounding, and a stray number. */
static void a_wrong_number_is_noticed(void **state)
{
    (void)state;
    struct rt_figure_list figures = {0};
    struct rt_audit_info info;
    struct rt_text csv = {0};
    hand_made_audit(&figures, &info);
    char *page = render(&figures, &info);
    FILE *nowhere = fopen("/dev/null", "w");
    figures.rows[14].value += 0.001;
    rt_figures_to_csv(&figures, &csv);
    struct page_report report = {.stream = nowhere};
    check_page(page, csv.bytes, &report);
    assert_true(report.faults > 0);
    figures.rows[14].value -= 0.001;
    rt_text_clear(&csv);
    rt_figures_to_csv(&figures, &csv);
    char *shown = strstr(page, ">0.21<");
    assert_non_null(shown);
    shown[4] = '2';
    report = (struct page_report){.stream = nowhere};
    check_page(page, csv.bytes, &report);
    assert_int_equal(report.faults, 1);
    shown[4] = '1';
    char *words = strstr(page, "deeper than");
    assert_non_null(words);
    words[0] = '7';
    report = (struct page_report){.stream = nowhere};
    check_page(page, csv.bytes, &report);
    assert_int_equal(report.faults, 1);
    fclose(nowhere);
    free(page);
    rt_text_release(&csv);
    rt_release_figures(&figures);
}

static void expect(const char *page, const char *words)
{
    if (strstr(page, words) == NULL)
        fail_msg("the page does not say: %s", words);
}

static void hostile_text_stays_text(void **state)
{
    (void)state;
    struct rt_figure_list figures = {0};
    struct rt_audit_info info;
    hand_made_audit(&figures, &info);
    char *page = render(&figures, &info);
    assert_null(strstr(page, "<script"));
    assert_null(strstr(page, "<B>"));
    assert_null(strchr(page, '\001'));
    assert_null(strchr(page, '\xFF'));
    expect(page, "&quot;Praxis&quot; &lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt; &#96;id&#96; $(id)\n");
    expect(page, "A &amp; &lt;B&gt;");
    char *style_end = strstr(page, "</style>");
    assert_non_null(style_end);
    assert_null(strstr(style_end + 1, "</style>"));
    free(page);
    rt_release_figures(&figures);
}

static void words_follow_the_figures(void **state)
{
    (void)state;
    struct rt_figure_list figures = {0};
    struct rt_audit_info info;
    hand_made_audit(&figures, &info);
    char *page = render(&figures, &info);
    expect(page, "mm deeper than planned on average");
    expect(page, "too few to say");
    expect(page, "mm on average (<data");
    expect(page, "lost <data");
    expect(page, ">1</data> implant in <data");
    expect(page, "None of <data");
    expect(page, "Every record on this page is invented");
    expect(page, "1 July 2026 to 30 September 2026");
    expect(page, "up to 30 September 2026"); /* later records are not used */
    expect(page, "Take none for the audit");
    free(page);
    rt_release_figures(&figures);
}

/* A new practice: no figure at all still gives a page with its cautions. */
static void no_figures_give_a_page(void **state)
{
    (void)state;
    struct rt_figure_list figures = {0};
    struct rt_audit_info info = {.first_day = RT_NO_DATE, .last_day = 20000, .latest_record = RT_NO_DATE};
    struct rt_text csv = {0};
    rt_figures_to_csv(&figures, &csv);
    char *page = render(&figures, &info);
    struct page_report report = {.stream = stderr};
    check_page(page, csv.bytes, &report);
    assert_int_equal(report.faults, 0);
    assert_int_equal(report.numbers, 0);
    expect(page, "Nothing on this page is advice");
    free(page);
    rt_text_release(&csv);
    rt_release_figures(&figures);
}

static void expect_sound(const struct rt_figure_list *figures, const struct rt_audit_info *info)
{
    struct rt_text csv = {0};
    rt_figures_to_csv(figures, &csv);
    char *page = render(figures, info);
    struct page_report report = {.stream = stderr};
    check_page(page, csv.bytes, &report);
    assert_int_equal(report.faults, 0);
    free(page);
    rt_text_release(&csv);
}

/* Take away each row in turn, then give each one every other state: the page stays whole. */
static void any_row_may_be_missing_or_without_a_number(void **state)
{
    (void)state;
    struct rt_figure_list figures = {0};
    struct rt_audit_info info;
    hand_made_audit(&figures, &info);
    size_t count = figures.count;
    for (size_t i = 0; i < count; i++) {
        const struct rt_figure kept = figures.rows[i];
        figures.rows[i].measure = "not_there";
        expect_sound(&figures, &info);
        figures.rows[i] = kept;
        for (int other = RT_FIGURE_TOO_FEW; other <= RT_FIGURE_WITHHELD; other++) {
            struct rt_figure *row = &figures.rows[i];
            row->state = (enum rt_figure_state)other;
            row->value = row->lower = row->upper = row->p = row->p_adjusted = NAN;
            expect_sound(&figures, &info);
        }
        figures.rows[i] = kept;
    }
    rt_release_figures(&figures);
}

static void what_is_undefined_says_why(void **state)
{
    (void)state;
    struct rt_figure_list figures = {0};
    struct rt_audit_info info;
    hand_made_audit(&figures, &info);
    for (size_t i = 0; i < figures.count; i++) {
        struct rt_figure *row = &figures.rows[i];
        if (strcmp(row->measure, "crest_change") != 0)
            continue;
        row->state = RT_FIGURE_UNDEFINED;
        row->value = row->lower = row->upper = row->p = row->p_adjusted = NAN;
        row->remark = "levels look like first contact";
    }
    char *page = render(&figures, &info);
    expect(page, "This cannot be computed: <span class=\"name\">levels look like first contact</span>");
    assert_null(strstr(page, "crest beside"));
    free(page);
    rt_release_figures(&figures);
}

static void an_unfilled_slot_is_an_error(void **state)
{
    (void)state;
    struct rt_document document = {.title = "", .practice = "", .period = "", .data_date = ""};
    struct rt_error error = {0};
    struct rt_text html = {0};
    struct rt_chapter *chapter = rt_add_chapter(&document, "depth", "heading.depth");
    rt_add_lead(&document, chapter, "depth.limits");
    assert_int_equal(rt_render_page(&document, NULL, &html, &error), RT_USE);
    assert_non_null(strstr(error.message, "lower.size"));
    rt_text_release(&html);
    rt_release_document(&document);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_number_is_a_figure),
        cmocka_unit_test(a_wrong_number_is_noticed),
        cmocka_unit_test(hostile_text_stays_text),
        cmocka_unit_test(words_follow_the_figures),
        cmocka_unit_test(no_figures_give_a_page),
        cmocka_unit_test(any_row_may_be_missing_or_without_a_number),
        cmocka_unit_test(what_is_undefined_says_why),
        cmocka_unit_test(an_unfilled_slot_is_an_error),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
