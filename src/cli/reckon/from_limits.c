#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/printed.h"

#include <stdio.h>

static const struct rt_reckon_option options[] = {
    {"--estimate", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "the estimate as printed", NULL},
    {"--lower", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "its lower 95% limit", NULL},
    {"--upper", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "its upper 95% limit", NULL},
    {"--ratio", RT_OPTION_FLAG, false, NULL, "a ratio: error, statistic and p on the log scale", NULL},
    {"--df", RT_OPTION_NUMBER_OR_COLUMN, false, NULL,
     "t on this many degrees of freedom; normal when not given", NULL},
    RT_RECKON_END};

static const char notes[] =
    "What a printed interval says about p: standard_error = width / 3.92 (of the log for a ratio), statistic "
    "=\n"
    "estimate / error, p two-sided normal. asymmetry = middle of the interval minus estimate, over the "
    "error:\n"
    "far from 0 when print contradicts itself. All as numbers need no FILE; else group = row.\n";

static void reckon_interval(struct rt_reckon *r, const char *group, double estimate, double lower,
                            double upper, double df)
{
    bool ratio = rt_reckon_given(r, "--ratio");
    struct rt_estimate result = rt_from_limits(estimate, lower, upper, ratio, df);
    double middle = ratio ? 0.5 * log(lower * upper) - log(estimate) : 0.5 * (lower + upper) - estimate;
    double asymmetry = result.reason == NULL ? middle / result.standard_error : NAN;
    rt_reckon_row(r, "standard_error", group, NAN, result.standard_error, result.reason);
    rt_reckon_row(r, "statistic", group, NAN, result.statistic, result.reason);
    rt_reckon_row(r, "p", group, NAN, result.p, result.reason);
    rt_reckon_row(r, "asymmetry", group, NAN, asymmetry, result.reason);
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double *estimate = NULL;
    double *lower = NULL;
    double *upper = NULL;
    double *df = NULL;
    enum rt_status status = rt_reckon_numbers(r, "--estimate", &estimate, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, "--lower", &lower, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, "--upper", &upper, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, "--df", &df, error);
    bool by_row = isnan(rt_reckon_number(r, "--estimate")) || isnan(rt_reckon_number(r, "--lower")) ||
                  isnan(rt_reckon_number(r, "--upper"));
    for (size_t i = 0; status == RT_OK && i < r->n && (by_row || i == 0); i++) {
        char *name = rt_reckon_array(r, 24, 1, error);
        if (name == NULL)
            return RT_MEMORY;
        if (by_row)
            snprintf(name, 24, "%zu", r->rows[i] + 1);
        reckon_interval(r, name, estimate[i], lower[i], upper[i], df == NULL ? INFINITY : df[i]);
    }
    return status;
}

const struct rt_reckon_method rt_reckon_from_limits = {"from-limits",
                                                       "p of a printed estimate and interval",
                                                       "standard_error statistic p asymmetry (group = row)",
                                                       notes,
                                                       options,
                                                       run};
