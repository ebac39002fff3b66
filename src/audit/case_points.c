#include "ridgetally/audit/case_points.h"

#include "ridgetally/audit/film_readings.h"
#include "ridgetally/audit/groups.h"
#include "ridgetally/audit/rule_cases.h"
#include "ridgetally/audit/sessions.h"
#include "ridgetally/audit/window_cases.h"
#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A series being filled; failures stick in status. */
struct filling {
    const struct rt_cohort *cohort;
    struct rt_case_series_list *list;
    struct rt_case_series *series;
    struct rt_error *error;
    enum rt_status status;
};

static void start(struct filling *fill, const char *name, const char *grouping)
{
    if (fill->status != RT_OK)
        return;
    fill->series = rt_add_case_series(fill->list, name, grouping);
    if (fill->series == NULL)
        fill->status = rt_fail_memory(fill->error);
}

static void add(struct filling *fill, enum rt_grouping_of grouping, const struct rt_audit_implant *implant,
                double x, double y, bool censored)
{
    char group[512];
    int level = rt_level_of(fill->cohort, implant, grouping);
    if (fill->status != RT_OK || isnan(x) || isnan(y))
        return;
    rt_level_name(fill->cohort, grouping, level, group, sizeof group);
    struct rt_case_point point = {.x = x, .y = y, .group = group, .censored = censored};
    fill->status = rt_add_case_point(fill->list, fill->series, &point, fill->error);
}

static int compare_points(const void *left, const void *right)
{
    const struct rt_case_point *a = left, *b = right;
    int order = strcmp(a->group, b->group);
    if (order != 0)
        return order;
    if (a->x != b->x)
        return a->x < b->x ? -1 : 1;
    if (a->y != b->y)
        return a->y < b->y ? -1 : 1;
    return (int)a->censored - (int)b->censored;
}

/* Points in order of their numbers, so that their order tells nothing of who they are. */
static void finish(struct filling *fill)
{
    if (fill->status == RT_OK && fill->series->count > 0)
        qsort(fill->series->points, fill->series->count, sizeof *fill->series->points, compare_points);
}

static void fill_depth(struct filling *fill, bool agreement)
{
    const int from = rt_year_start(&fill->cohort->period);
    start(fill, agreement ? "depth_agreement" : "depth_error", "operator");
    for (size_t i = 0; i < fill->cohort->count; i++) {
        const struct rt_audit_implant *implant = &fill->cohort->implants[i];
        double planned = implant->planned_depth_mm, achieved = implant->achieved_depth_mm;
        if (implant->placed_on >= from && (implant->blocked & RT_BLOCKS_DEPTH) == 0)
            add(fill, RT_BY_OPERATOR, implant, agreement ? (planned + achieved) / 2.0 : 0.0,
                achieved - planned, false);
    }
    finish(fill);
}

static void fill_torque(struct filling *fill)
{
    const int from = rt_year_start(&fill->cohort->period);
    start(fill, "torque_density", "density_found");
    for (size_t i = 0; i < fill->cohort->count; i++) {
        const struct rt_audit_implant *implant = &fill->cohort->implants[i];
        if (implant->placed_on >= from && (implant->blocked & RT_BLOCKS_STABILITY) == 0 &&
            implant->found.of > 0)
            add(fill, RT_BY_DENSITY_FOUND, implant, implant->found.of, implant->final_torque_ncm,
                implant->final_torque_capped);
    }
    finish(fill);
}

static void fill_crest(struct filling *fill, const char *name, int closing_from, bool classed)
{
    struct rt_window_cases cases = {.of = NULL};
    const struct rt_window *twelve_months = &rt_windows()[RT_YEAR_WINDOW];
    if (fill->status == RT_OK)
        fill->status = rt_window_cases_start(&cases, fill->cohort, fill->error);
    if (fill->status == RT_OK) {
        start(fill, name, "depth_class|tissue_class");
        rt_take_window(fill->cohort, RT_BASELINE_PLACEMENT, twelve_months, closing_from, &cases);
        for (size_t i = 0; i < cases.count; i++) {
            const struct rt_audit_implant *implant = &fill->cohort->implants[cases.of[i].implant];
            if (!classed || rt_level_of(fill->cohort, implant, RT_BY_DEPTH_AND_TISSUE) != RT_NO_LEVEL)
                add(fill, RT_BY_DEPTH_AND_TISSUE, implant, implant->achieved_depth_mm,
                    cases.of[i].change.mean, false);
        }
        finish(fill);
    }
    rt_window_cases_release(&cases);
}

/* The number a house rule is about against its outcome. Crest change shares the error of depths read from film: where the sum
 * holds depth, those of the source more frequent are shown, as in the rule's figures. */
static void fill_rule(struct filling *fill, const char *name, enum rt_rule_kind kind,
                      enum rt_rule_outcome_kind outcome)
{
    const struct rt_house_rule rule = {.kind = kind, .outcome = outcome};
    const struct rt_cohort *cohort = fill->cohort;
    long source[2] = {0, 0};
    struct rt_rule_result *results = rt_new_array(cohort->count + 1, sizeof *results);
    if (fill->status == RT_OK)
        fill->status = results == NULL ? rt_fail_memory(fill->error)
                                       : rt_rule_results(cohort, &rule, results, fill->error);
    start(fill, name, "");
    for (size_t i = 0; fill->status == RT_OK && i < cohort->count; i++)
        source[cohort->implants[i].depth_at_surgery == RT_ANSWER_YES] +=
            !isnan(results[i].value) && !isnan(rt_rule_dose(&rule, &cohort->implants[i]));
    for (size_t i = 0; fill->status == RT_OK && i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        const bool from_film = (implant->depth_at_surgery != RT_ANSWER_YES);
        if (kind != RT_RULE_SUM || from_film == (source[0] > source[1]))
            add(fill, RT_BY_NOTHING, implant, rt_rule_dose(&rule, implant), results[i].value,
                results[i].capped);
    }
    finish(fill);
    free(results);
}

/* The number of a session tells its place in time only. */
static void fill_sessions(struct filling *fill)
{
    struct rt_sessions sessions = {.count = 0};
    if (fill->status == RT_OK)
        fill->status = rt_take_sessions(fill->cohort, &sessions, fill->error);
    start(fill, "session_depth", "operator");
    for (size_t i = 0, number = 0; fill->status == RT_OK && i < sessions.count; i++) {
        const struct rt_session *session = &sessions.of[i];
        bool first = i == 0 || sessions.of[i - 1].operator_code != session->operator_code;
        number = first ? 1 : number + 1;
        add(fill, RT_BY_OPERATOR, &fill->cohort->implants[sessions.implant[session->first]], (double)number,
            session->depth_error_mm, false);
    }
    finish(fill);
    rt_release_sessions(&sessions);
}

enum rt_status rt_audit_case_points(const struct rt_cohort *cohort, struct rt_case_series_list *list,
                                    struct rt_error *error)
{
    struct filling fill = {.cohort = cohort, .list = list, .error = error, .status = RT_OK};
    fill_depth(&fill, true);
    fill_depth(&fill, false);
    fill_torque(&fill);
    fill_rule(&fill, "rule_travel", RT_RULE_TORQUE, RT_OUTCOME_TORQUE_PER_MM);
    fill_sessions(&fill);
    if (!rt_levels_look_like_contact(cohort)) {
        fill_crest(&fill, "crest_change", rt_closing_start(&cohort->period), true);
        fill_crest(&fill, "crest_change_all", INT_MIN, false);
        fill_rule(&fill, "rule_sum", RT_RULE_SUM, RT_OUTCOME_CREST_CHANGE);
        fill_rule(&fill, "rule_wall", RT_RULE_WALL, RT_OUTCOME_CREST_CHANGE);
    }
    return fill.status;
}

/* --- readings --------------------------------------------------------------------------------------------- */

static void add_pairs(struct filling *fill, const struct rt_reading_pairs *pairs, const char *group)
{
    for (size_t i = 0; i < pairs->n && fill->status == RT_OK; i++) {
        struct rt_case_point point = {.x = (pairs->first[i] + pairs->second[i]) / 2.0,
                                      .y = pairs->second[i] - pairs->first[i],
                                      .group = group};
        fill->status = rt_add_case_point(fill->list, fill->series, &point, fill->error);
    }
}

static void fill_readings(struct filling *fill, const struct rt_film_readings *readings,
                          struct rt_reading_pairs *pairs)
{
    size_t reader = 0, other = 0;
    char group[1100];
    start(fill, "reread", "reader");
    for (size_t r = 0; r < readings->reader_count; r++) {
        rt_take_rereadings(readings, r, pairs);
        add_pairs(fill, pairs, readings->readers[r][0] == '\0' ? "not recorded" : readings->readers[r]);
    }
    finish(fill);
    start(fill, "two_readers", "readers");
    if (rt_main_readers(readings, pairs, &reader, &other)) {
        rt_take_two_readers(readings, reader, other, pairs);
        snprintf(group, sizeof group, "%s and %s", readings->readers[reader], readings->readers[other]);
        add_pairs(fill, pairs, group);
    }
    finish(fill);
}

enum rt_status rt_reader_case_points(struct rt_store *store, const struct rt_cohort *cohort,
                                     struct rt_case_series_list *list, struct rt_error *error)
{
    struct filling fill = {.cohort = cohort, .list = list, .error = error, .status = RT_OK};
    struct rt_film_readings readings;
    struct rt_reading_pairs pairs = {.n = 0};
    fill.status = rt_load_film_readings(store, cohort->period.last_day, &readings, error);
    if (fill.status == RT_OK)
        fill.status = rt_reading_pairs_start(&pairs, &readings, error);
    if (fill.status == RT_OK)
        fill_readings(&fill, &readings, &pairs);
    rt_release_reading_pairs(&pairs);
    rt_release_film_readings(&readings);
    return fill.status;
}
