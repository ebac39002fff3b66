#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/printed.h"

#include <stdio.h>

static const struct rt_reckon_option options[] = {
    {"--z", RT_OPTION_NUMBER_OR_COLUMN, false, NULL, "a normal statistic", NULL},
    {"--t", RT_OPTION_NUMBER_OR_COLUMN, false, NULL, "or a t statistic on --df", NULL},
    {"--f", RT_OPTION_NUMBER_OR_COLUMN, false, NULL, "or an F statistic on --df and --df2", NULL},
    {"--chi-square", RT_OPTION_NUMBER_OR_COLUMN, false, NULL, "or a chi-square statistic on --df", NULL},
    {"--r", RT_OPTION_NUMBER_OR_COLUMN, false, NULL, "or a Pearson correlation of --df + 2 pairs", NULL},
    {"--df", RT_OPTION_NUMBER_OR_COLUMN, false, NULL, "degrees of freedom", NULL},
    {"--df2", RT_OPTION_NUMBER_OR_COLUMN, false, NULL, "of the denominator of F", NULL},
    RT_RECKON_END};

static const char notes[] = "p of a printed test: two-sided for z, t and r (statistic = r sqrt(df / (1 - "
                            "r^2))), upper tail for F and\n"
                            "chi-square. All as numbers need no FILE; else group = row.\n";

/* In the order of enum rt_printed_statistic. */
enum { KINDS = 5 };

static enum rt_status find_kind(struct rt_reckon *r, size_t *kind, struct rt_error *error)
{
    size_t given = 0;
    for (size_t k = 0; k < KINDS; k++) {
        if (!rt_reckon_given(r, options[k].name))
            continue;
        *kind = k;
        given++;
    }
    bool needs_df = *kind != RT_PRINTED_Z;
    if (given == 1 && (!needs_df || rt_reckon_given(r, "--df")) &&
        (*kind != RT_PRINTED_F || rt_reckon_given(r, "--df2")))
        return RT_OK;
    rt_fail(error, RT_USE, "the statistic is not clear");
    rt_error_remedy(error,
                    "give one of --z, --t, --f, --chi-square and --r, with its --df (and --df2 for F)");
    return RT_USE;
}

static bool is_column(const struct rt_reckon *r, const char *option)
{
    return rt_reckon_given(r, option) && isnan(rt_reckon_number(r, option));
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    size_t kind = 0;
    double *value = NULL;
    double *df = NULL;
    double *df2 = NULL;
    enum rt_status status = find_kind(r, &kind, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, options[kind].name, &value, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, "--df", &df, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, "--df2", &df2, error);
    bool by_row = is_column(r, options[kind].name) || is_column(r, "--df") || is_column(r, "--df2");
    for (size_t i = 0; status == RT_OK && i < r->n && (by_row || i == 0); i++) {
        char *name = rt_reckon_array(r, 24, 1, error);
        if (name == NULL)
            return RT_MEMORY;
        if (by_row)
            snprintf(name, 24, "%zu", r->rows[i] + 1);
        struct rt_estimate result = rt_from_statistic((enum rt_printed_statistic)kind, value[i],
                                                      df == NULL ? NAN : df[i], df2 == NULL ? NAN : df2[i]);
        rt_reckon_row(r, "statistic", name, NAN, result.statistic, result.reason);
        rt_reckon_row(r, "p", name, NAN, result.p, result.reason);
    }
    return status;
}

const struct rt_reckon_method rt_reckon_from_statistic = {
    "from-statistic", "p of a printed test statistic", "statistic p (group = row)", notes, options, run};
