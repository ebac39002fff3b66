#include "ridgetally/audit/rows.h"

#include "ridgetally/figure/catalogue.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

struct rt_row_key rt_key_text(const char *part, const char *part_level, const char *second,
                              const char *second_level)
{
    struct rt_row_key key;
    const char *between = part[0] != '\0' && second[0] != '\0' ? "|" : "";
    snprintf(key.grouping, sizeof key.grouping, "%s%s%s", part, between, second);
    snprintf(key.level, sizeof key.level, "%s%s%s", part_level, between, second_level);
    return key;
}

struct rt_row_key rt_key_of(const struct rt_cohort *cohort, const char *part, const char *part_level,
                            enum rt_grouping_of grouping, int level)
{
    char name[512] = "";
    if (grouping != RT_BY_NOTHING)
        rt_level_name(cohort, grouping, level, name, sizeof name);
    return rt_key_text(part, part_level, rt_group_name(grouping), name);
}

struct rt_figure rt_row_of(struct rt_rows *rows, const char *section, const char *measure,
                           const struct rt_row_key *key)
{
    struct rt_figure row = rt_empty_figure();
    const struct rt_measure *entry = rt_find_measure(section, measure);
    row.section = section;
    row.measure = measure;
    if (entry != NULL) {
        row.unit = entry->unit;
        row.method = entry->method;
    } else if (rows->status == RT_OK) {
        rows->status =
            rt_fail(rows->error, RT_USE, "measure %s/%s is not in the catalogue", section, measure);
    }
    row.unit_of_analysis = "implant";
    if (key != NULL) {
        row.grouping = key->grouping;
        row.level = key->level;
    }
    return row;
}

static double finite_or_nan(double number)
{
    return isfinite(number) ? number : NAN;
}

void rt_set_estimate(struct rt_figure *row, const struct rt_estimate *estimate)
{
    row->value = finite_or_nan(estimate->value);
    row->lower = finite_or_nan(estimate->lower);
    row->upper = finite_or_nan(estimate->upper);
    row->p = finite_or_nan(estimate->p);
    if (isnan(row->value))
        row->state = RT_FIGURE_UNDEFINED;
    if ((isnan(row->value) || isnan(row->lower) || isnan(row->upper)) && estimate->reason != NULL)
        row->remark = estimate->reason;
}

void rt_set_too_few(struct rt_figure *row, const char *remark)
{
    row->state = RT_FIGURE_TOO_FEW;
    row->value = row->lower = row->upper = row->p = NAN;
    row->remark = remark;
}

void rt_apply_minimum(struct rt_figure *row)
{
    if (row->n_patients < RT_LEAST_PATIENTS)
        rt_set_too_few(row, "fewer than 10 patients");
    else if (strcmp(row->unit, "share") == 0 && strcmp(row->unit_of_analysis, "implant") == 0 &&
             row->n_implants < RT_LEAST_SHARE_IMPLANTS)
        rt_set_too_few(row, "fewer than 20 implants");
}

void rt_put_row(struct rt_rows *rows, const struct rt_figure *row)
{
    if (rows->status == RT_OK)
        rows->status = rt_add_figure(rows->list, row, rows->error);
}

void rt_put_count(struct rt_rows *rows, const char *section, const char *measure,
                  const struct rt_row_key *key, long implants, long patients, long due)
{
    struct rt_figure row = rt_row_of(rows, section, measure, key);
    row.value = (double)implants;
    row.n_implants = implants;
    row.n_patients = patients;
    row.n_due = due;
    rt_put_row(rows, &row);
}

bool rt_rows_check(struct rt_rows *rows, enum rt_status status)
{
    if (rows->status == RT_OK)
        rows->status = status;
    return rows->status == RT_OK;
}
