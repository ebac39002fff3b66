#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/welch.h"

#include <stdio.h>

static const struct rt_reckon_option options[] = {
    {"--n1", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "cases of the first group", NULL},
    {"--mean1", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "its mean", NULL},
    {"--sd1", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "its standard deviation (not error)", NULL},
    {"--n2", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "cases of the second group", NULL},
    {"--mean2", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "its mean", NULL},
    {"--sd2", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "its standard deviation (not error)", NULL},
    RT_RECKON_END};

static const char notes[] =
    "difference = first - second, t by Welch (1947) with Satterthwaite df. hedges_g = difference over the "
    "pooled sd times the\n"
    "exact small-sample factor (Hedges 1981), limits by its normal error (Borenstein et al. 2009, ch. 4).\n"
    "All six as numbers need no FILE; as columns each row is a comparison, group = its number in the file.\n";

enum { COLUMNS = 6 };

static void write(struct rt_reckon *r, const char *group, const struct rt_welch *result)
{
    const struct rt_estimate *d = &result->difference;
    const struct rt_estimate *g = &result->hedges_g;
    rt_reckon_row(r, "difference", group, NAN, d->value, d->reason);
    rt_reckon_row(r, "standard_error", group, NAN, d->standard_error, d->reason);
    rt_reckon_row(r, "statistic", group, NAN, d->statistic, d->reason);
    rt_reckon_row(r, "df", group, NAN, d->df, d->reason);
    rt_reckon_row(r, "p", group, NAN, d->p, d->reason);
    rt_reckon_row(r, "lower", group, NAN, d->lower, d->reason);
    rt_reckon_row(r, "upper", group, NAN, d->upper, d->reason);
    rt_reckon_interval(r, "hedges_g", group, g);
    rt_reckon_row(r, "hedges_g_error", group, NAN, g->standard_error, g->reason);
    rt_reckon_row(r, "cohen_d", group, NAN, result->cohen_d, g->reason);
    rt_reckon_row(r, "pooled_sd", group, NAN, result->pooled_sd, g->reason);
}

static enum rt_status compare(struct rt_reckon *r, const char *group, const double *v, struct rt_error *error)
{
    struct rt_welch result;
    enum rt_status status = rt_welch(&(struct rt_summary){v[0], v[1], v[2]},
                                     &(struct rt_summary){v[3], v[4], v[5]}, &result, error);
    if (status == RT_OK)
        write(r, group, &result);
    else if (group != NULL)
        rt_error_locate(error, r->file, 0, NULL);
    return status;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double numbers[COLUMNS];
    double *columns[COLUMNS] = {NULL};
    bool all_numbers = true;
    for (size_t k = 0; k < COLUMNS; k++) {
        numbers[k] = rt_reckon_number(r, options[k].name);
        all_numbers = all_numbers && !isnan(numbers[k]);
    }
    if (all_numbers)
        return compare(r, NULL, numbers, error);
    enum rt_status status = RT_OK;
    for (size_t k = 0; status == RT_OK && k < COLUMNS; k++)
        status = rt_reckon_numbers(r, options[k].name, &columns[k], error);
    for (size_t i = 0; status == RT_OK && i < r->n; i++) {
        char *name = rt_reckon_array(r, 24, 1, error);
        if (name == NULL)
            return RT_MEMORY;
        snprintf(name, 24, "%zu", r->rows[i] + 1);
        for (size_t k = 0; k < COLUMNS; k++)
            numbers[k] = columns[k][i];
        status = compare(r, name, numbers, error);
    }
    return status;
}

const struct rt_reckon_method rt_reckon_welch = {
    "welch",
    "two means from their summaries",
    "difference standard_error statistic df p lower upper hedges_g hedges_g_lower hedges_g_upper "
    "hedges_g_error cohen_d pooled_sd",
    notes,
    options,
    run};
