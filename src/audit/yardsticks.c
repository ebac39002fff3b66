/* Section yardsticks: each yardstick's figure, its target, what follows, and how it stood in the earlier periods. */
#include "yardsticks.h"

#include "ridgetally/audit/compared.h"
#include "ridgetally/audit/judged.h"
#include "ridgetally/audit/sections.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char no_target[] = "no target set";
static const char other_censoring[] =
    "recall"; /* a yardstick of survival is decided when both censorings agree */

/* The row a yardstick reads, at a level of its grouping. */
static const struct rt_figure *figure_of(const struct rt_figure_list *figures,
                                         const struct rt_yardstick *yardstick, const char *level)
{
    const struct rt_figure key = {.section = yardstick->section,
                                  .measure = yardstick->measure,
                                  .grouping = yardstick->grouping[0] == '\0' ? NULL : yardstick->grouping,
                                  .level = level[0] == '\0' ? NULL : level,
                                  .baseline = yardstick->baseline[0] == '\0' ? NULL : yardstick->baseline,
                                  .site = yardstick->site[0] == '\0' ? NULL : yardstick->site,
                                  .unit_of_analysis = "implant",
                                  .at = yardstick->at};
    return rt_find_figure(figures, &key);
}

static struct rt_figure yardstick_row(struct rt_rows *rows, const char *measure, const struct rt_row_key *key,
                                      const struct rt_yardstick *yardstick)
{
    struct rt_figure row = rt_row_of(rows, "yardsticks", measure, key);
    if (strcmp(measure, "yardstick_state") != 0 && strcmp(measure, "yardstick_before") != 0)
        row.unit = yardstick->unit;
    return row;
}

static void write_value(struct rt_rows *rows, const struct rt_row_key *key,
                        const struct rt_yardstick *yardstick, const struct rt_figure *figure)
{
    struct rt_figure row = yardstick_row(rows, "yardstick_value", key, yardstick);
    if (figure == NULL) {
        row.state = RT_FIGURE_UNDEFINED;
        row.remark = "there is no such figure in this audit";
    } else {
        row.n_implants = figure->n_implants;
        row.n_patients = figure->n_patients;
        row.n_events = figure->n_events;
        row.n_due = figure->n_due;
        row.value = figure->value;
        row.lower = figure->lower;
        row.upper = figure->upper;
        row.method = figure->method;
        row.state = figure->state;
        row.remark = figure->remark;
    }
    rt_put_row(rows, &row);
}

static void write_target(struct rt_rows *rows, const struct rt_row_key *key,
                         const struct rt_yardstick *yardstick)
{
    struct rt_figure row = yardstick_row(rows, "yardstick_target", key, yardstick);
    row.unit_of_analysis = "";
    row.value = yardstick->target.set ? yardstick->target.value : NAN;
    row.state = yardstick->target.set ? RT_FIGURE_OK : RT_FIGURE_UNDEFINED;
    row.remark = !yardstick->target.set ? no_target : yardstick->target.at_least ? "at least" : "at most";
    rt_put_row(rows, &row);
}

/* The judgement and why it cannot be told, if so. other: the same figure by the other censoring; NULL where there is one only. */
static void put_judgement(struct rt_rows *rows, struct rt_figure row, const struct rt_yardstick *yardstick,
                          const struct rt_figure *figure, const struct rt_figure *other)
{
    row.unit_of_analysis = "implant";
    if (figure != NULL) {
        row.n_implants = figure->n_implants;
        row.n_patients = figure->n_patients;
    }
    if (!yardstick->target.set) {
        row.state = RT_FIGURE_UNDEFINED;
        row.remark = no_target;
        rt_put_row(rows, &row);
        return;
    }
    enum rt_judged judged = rt_judge_yardstick(&yardstick->target, figure);
    if (figure != NULL && figure->state != RT_FIGURE_OK)
        row.remark = figure->remark;
    else if (judged == RT_CANNOT_TELL)
        row.remark = "the interval holds values on both sides of the target";
    if (strcmp(yardstick->grouping, "censoring") == 0 && judged != RT_CANNOT_TELL) {
        judged = rt_agreed(judged, rt_judge_yardstick(&yardstick->target, other));
        if (judged == RT_CANNOT_TELL)
            row.remark = "the two ways of ending follow-up do not agree";
    }
    row.value = (double)judged;
    rt_put_row(rows, &row);
}

/* How many yardsticks stand how: the reader's first question. */
static void write_standings(struct rt_rows *rows)
{
    static const char *const levels[] = {"not met", "cannot tell", "met", no_target};
    for (int i = 0; i < 4; i++) {
        struct rt_row_key key = rt_key_text("status", levels[i], "", "");
        struct rt_figure row = rt_row_of(rows, "yardsticks", "yardsticks_standing", &key);
        row.unit_of_analysis = "";
        row.value = 0.0;
        for (size_t j = 0; j < rows->list->count; j++) {
            const struct rt_figure *state = &rows->list->rows[j];
            if (strcmp(state->measure, "yardstick_state") != 0)
                continue;
            row.value += i == 3 ? isnan(state->value) : state->value == (double)(i + RT_NOT_MET);
        }
        rt_put_row(rows, &row);
    }
}

void write_yardsticks(const struct rt_meeting *meeting, struct rt_rows *rows)
{
    for (size_t i = 0; i < meeting->yardstick_count && rows->status == RT_OK; i++) {
        const struct rt_yardstick *yardstick = &meeting->yardsticks[i];
        struct rt_row_key key = rt_key_text("yardstick", yardstick->name, "", "");
        /* a copy: the list grows meanwhile */
        const struct rt_figure *found = figure_of(rows->list, yardstick, yardstick->level);
        const struct rt_figure *found_other = figure_of(rows->list, yardstick, other_censoring);
        struct rt_figure figure = found == NULL ? rt_empty_figure() : *found;
        struct rt_figure other = found_other == NULL ? rt_empty_figure() : *found_other;
        const struct rt_figure *read = found == NULL ? NULL : &figure;
        write_value(rows, &key, yardstick, read);
        write_target(rows, &key, yardstick);
        put_judgement(rows, yardstick_row(rows, "yardstick_state", &key, yardstick), yardstick, read,
                      found_other == NULL ? NULL : &other);
    }
    write_standings(rows);
}

/* The row NAME_then of the figure a yardstick reads. */
static const struct rt_figure *then_of(const struct rt_figure_list *figures,
                                       const struct rt_compared *compared, const char *grouping,
                                       const char *level)
{
    char measure[64];
    snprintf(measure, sizeof measure, "%s_then", compared->name);
    const struct rt_figure key = {.section = "yardsticks",
                                  .measure = measure,
                                  .grouping = grouping,
                                  .level = level,
                                  .unit_of_analysis = "implant",
                                  .at = NAN};
    return rt_find_figure(figures, &key);
}

void write_yardsticks_before(const struct rt_meeting *before, const char *level, struct rt_rows *rows)
{
    for (size_t i = 0; i < before->yardstick_count && rows->status == RT_OK; i++) {
        const struct rt_yardstick *yardstick = &before->yardsticks[i];
        const struct rt_compared *compared =
            rt_compared_of(yardstick->section, yardstick->measure, yardstick->level, yardstick->at);
        if (compared == NULL)
            continue;
        struct rt_row_key key = rt_key_text("yardstick", yardstick->name, "change", level);
        struct rt_row_key recall = rt_key_text("change", level, "censoring", other_censoring);
        const struct rt_figure *found = then_of(rows->list, compared, "change", level);
        const struct rt_figure *found_other = then_of(rows->list, compared, recall.grouping, recall.level);
        struct rt_figure figure = found == NULL ? rt_empty_figure() : *found;
        struct rt_figure other = found_other == NULL ? rt_empty_figure() : *found_other;
        put_judgement(rows, yardstick_row(rows, "yardstick_before", &key, yardstick), yardstick,
                      found == NULL ? NULL : &figure, found_other == NULL ? NULL : &other);
    }
}
