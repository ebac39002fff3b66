#include "ridgetally/audit/operator_baseline.h"

#include "ridgetally/base/date.h"
#include "ridgetally/store/query.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

const char *rt_risk_term_name(enum rt_risk_term term, bool lz)
{
    static const char *const names[RT_RISK_TERMS] = {"constant", "softest density class D", "current smoker",
                                                     "grafted", "log2 implants"};
    return term == RT_RISK_SOFTEST && lz ? "softest density class LZ" : names[term];
}

const char *rt_baseline_share_name(enum rt_risk_reference reference)
{
    return reference == RT_RISK_OWN ? "share of own first sessions" : "share of the other operators";
}

const char *rt_baseline_count_name(int which)
{
    static const char *const names[RT_BASELINE_COUNTS] = {
        "sessions of the baseline", "failed sessions of the baseline", "patients of the baseline"};
    return names[which];
}

const char *rt_baseline_level_name(void)
{
    return "level of the chart";
}

const char *rt_baseline_chart_name(enum rt_risk_direction direction, int which)
{
    static const char *const names[RT_RISK_DIRECTIONS][RT_BASELINE_CHART_TERMS] = {
        {"limit for more failures", "run length for more failures", "detection for more failures"},
        {"limit for fewer failures", "run length for fewer failures", "detection for fewer failures"}};
    return names[direction][which];
}

/* Put one stored term where it belongs. */
static void take_term(struct rt_operator_risk *risk, const char *term, double value, double *level)
{
    for (int lz = 0; lz < 2; lz++)
        for (int i = 0; i < RT_RISK_TERMS; i++)
            if (strcmp(term, rt_risk_term_name((enum rt_risk_term)i, lz != 0)) == 0) {
                risk->coefficient[i] = value;
                risk->adjusted = true;
                risk->lz = i == RT_RISK_SOFTEST ? lz != 0 : risk->lz;
            }
    for (int reference = RT_RISK_REST; reference <= RT_RISK_OWN; reference++)
        if (strcmp(term, rt_baseline_share_name((enum rt_risk_reference)reference)) == 0) {
            risk->reference = (enum rt_risk_reference)reference;
            risk->share = value;
            risk->frozen = true;
        }
    size_t *const counts[RT_BASELINE_COUNTS] = {&risk->sessions, &risk->failed, &risk->patients};
    for (int i = 0; i < RT_BASELINE_COUNTS; i++)
        if (strcmp(term, rt_baseline_count_name(i)) == 0)
            *counts[i] = (size_t)value;
    for (int direction = 0; direction < RT_RISK_DIRECTIONS; direction++) {
        struct rt_risk_chart *chart = &risk->chart[direction];
        double *const parts[RT_BASELINE_CHART_TERMS] = {&chart->limit, &chart->run_length, &chart->detection};
        for (int i = 0; i < RT_BASELINE_CHART_TERMS; i++)
            if (strcmp(term, rt_baseline_chart_name((enum rt_risk_direction)direction, i)) == 0)
                *parts[i] = value;
    }
    if (strcmp(term, rt_baseline_level_name()) == 0)
        *level = value;
}

enum rt_status rt_load_operator_baseline(struct rt_store *store, const char *operator_label, int last_day,
                                         struct rt_operator_risk *risk, double *level, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    *level = NAN;
    enum rt_status status = rt_query_open(store, "sql/queries/operator-baseline.sql", &query, error);
    rt_bind_text(query, ":operator", operator_label);
    rt_bind_integer(query, ":last_day", last_day);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        risk->fitted_to = rt_column_date(query, 2);
        take_term(risk, rt_column_text(query, 0), rt_column_real(query, 1), level);
    }
    rt_query_close(query);
    return status;
}

/* `A|intercept|2026-06-30`: an operator's label may hold a bar itself. */
static bool split_level(char *level, char **operator_label, char **term, int *fitted_to)
{
    char *day = strrchr(level, '|');
    if (day == NULL)
        return false;
    *day++ = '\0';
    *fitted_to = rt_parse_iso_date(day);
    *term = strrchr(level, '|');
    if (*term == NULL || *fitted_to == RT_NO_DATE)
        return false;
    *(*term)++ = '\0';
    *operator_label = level;
    return true;
}

static enum rt_status freeze_row(struct rt_query *query, const struct rt_figure *row, struct rt_error *error)
{
    char level[640], *operator_label, *term;
    int fitted_to;
    snprintf(level, sizeof level, "%s", row->level);
    if (!split_level(level, &operator_label, &term, &fitted_to))
        return RT_OK;
    rt_bind_text(query, ":operator", operator_label);
    rt_bind_text(query, ":term", term);
    rt_bind_real(query, ":value", row->value);
    rt_bind_integer(query, ":fitted_to", fitted_to);
    return rt_query_run(query, error);
}

enum rt_status rt_freeze_operator_baselines(struct rt_store *store, const struct rt_figure_list *figures,
                                            const char *recorded_at, struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open(store, "sql/queries/operator-baseline-freeze.sql", &query, error);
    rt_bind_text(query, ":recorded_at", recorded_at);
    for (size_t i = 0; status == RT_OK && i < figures->count; i++) {
        const struct rt_figure *row = &figures->rows[i];
        if (strcmp(row->section, "operators") == 0 &&
            strncmp(row->measure, "baseline_", strlen("baseline_")) == 0 && row->state == RT_FIGURE_OK)
            status = freeze_row(query, row, error);
    }
    rt_query_close(query);
    return status;
}
