#include "audited.h"

#include "ridgetally/base/date.h"
#include "ridgetally/store/query.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

int day_of(const char *date)
{
    int day = rt_parse_iso_date(date);
    assert_int_not_equal(day, RT_NO_DATE);
    return day;
}

static void check_finite(const struct rt_figure_list *figures)
{
    struct rt_text csv = {0};
    rt_figures_to_csv(figures, &csv);
    assert_int_equal(rt_text_status(&csv, NULL), RT_OK);
    assert_null(strstr(csv.bytes, "nan"));
    assert_null(strstr(csv.bytes, ",inf"));
    rt_text_release(&csv);
}

void audit_between(struct bench *bench, const char *from, const char *to, struct audited *audited)
{
    const struct rt_period period = {day_of(from), day_of(to)};
    *audited = (struct audited){.figures = {.rows = NULL}};
    enum rt_status status = rt_audit_run(bench->store, &period, NULL, &audited->figures, &audited->cases,
                                         &audited->info, &bench->error);
    if (status != RT_OK)
        fail_msg("audit: %s", bench->error.message);
    check_finite(&audited->figures);
}

void release_audited(struct audited *audited)
{
    rt_release_figures(&audited->figures);
    rt_release_case_series(&audited->cases);
}

const struct rt_figure *figure_at(const struct audited *audited, const char *measure, const char *grouping,
                                  const char *level, double at, const char *baseline, const char *site)
{
    struct rt_figure key = rt_empty_figure();
    key.section = NULL;
    key.measure = measure;
    key.grouping = grouping;
    key.level = level;
    key.at = at;
    key.baseline = baseline;
    key.site = site;
    key.unit_of_analysis = "implant";
    const struct rt_figure *row = rt_find_figure(&audited->figures, &key);
    if (row == NULL)
        fail_msg("no row %s %s %s", measure, grouping, level);
    return row;
}

const struct rt_figure *figure_of(const struct audited *audited, const char *measure, const char *grouping,
                                  const char *level)
{
    return figure_at(audited, measure, grouping, level, NAN, "", "");
}

bool has_figure(const struct audited *audited, const char *measure, const char *level)
{
    for (size_t i = 0; i < audited->figures.count; i++)
        if (strcmp(audited->figures.rows[i].measure, measure) == 0 &&
            strcmp(audited->figures.rows[i].level, level) == 0)
            return true;
    return false;
}

void set_setting(struct bench *bench, const char *name, const char *value)
{
    struct rt_query *query = NULL;
    assert_int_equal(rt_query_open_text(bench->store, "UPDATE setting SET value = :value WHERE name = :name",
                                        &query, &bench->error),
                     RT_OK);
    rt_bind_text(query, ":value", value);
    rt_bind_text(query, ":name", name);
    assert_int_equal(rt_query_run(query, &bench->error), RT_OK);
    rt_query_close(query);
}
