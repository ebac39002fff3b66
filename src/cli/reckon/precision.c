#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/precision.h"

#include <stdio.h>

static const struct rt_reckon_option options[] = {
    {"--sd", RT_OPTION_NUMBER_OR_COLUMN, false, NULL, "standard deviation of one case (a mean is asked for)",
     NULL},
    {"--share", RT_OPTION_NUMBER_OR_COLUMN, false, NULL, "or the share expected", NULL},
    {"--width", RT_OPTION_NUMBER_OR_COLUMN, false, NULL, "until the 95% interval is at most this wide", NULL},
    {"--difference", RT_OPTION_NUMBER_OR_COLUMN, false, NULL, "or until this difference can be seen", NULL},
    {"--power", RT_OPTION_SHARE, false, "0.8", "with this probability", NULL},
    {"--groups", RT_OPTION_CHOICE, false, "2", "difference between two groups, or of one from a known value",
     "1|2"},
    {"--per-cluster", RT_OPTION_POSITIVE, false, "1", "cases of one cluster on average, 1 or more", NULL},
    {"--icc", RT_OPTION_NUMBER, false, "0", "intra-class correlation, 0 to 1", NULL},
    {"--have", RT_OPTION_COUNT, false, "0", "cases (of each group) at hand", NULL},
    RT_RECKON_END};

static const char notes[] = "Numbers, or columns of numbers with one question a row (group = row); no file "
                            "is needed for numbers alone.\n"
                            "cases and clusters are of each group, further = cases not yet at hand. "
                            "Variances times the design effect\n"
                            "1 + (per-cluster - 1) icc. Mean: t interval, or noncentral t, on clusters - 1 "
                            "df a group. Share: Wilson\n"
                            "interval on cases / design effect; difference by the normal approximation, "
                            "pooled under no difference.\n";

struct input {
    double *sd, *share, *width, *difference;
    double power;
    int groups;
    struct rt_clustering clustering;
};

static enum rt_status fail_use(struct rt_error *error, const char *what, const char *remedy)
{
    rt_fail(error, RT_USE, "%s", what);
    rt_error_remedy(error, "%s", remedy);
    return RT_USE;
}

static enum rt_status read_input(struct rt_reckon *r, struct input *input, struct rt_error *error)
{
    *input = (struct input){
        .power = rt_reckon_number(r, "--power"),
        .groups = (int)rt_reckon_number(r, "--groups"),
        .clustering = {rt_reckon_number(r, "--per-cluster"), rt_reckon_number(r, "--icc")},
    };
    if (rt_reckon_given(r, "--sd") == rt_reckon_given(r, "--share"))
        return fail_use(error, "a mean or a share?", "give --sd or --share");
    if (rt_reckon_given(r, "--width") == rt_reckon_given(r, "--difference"))
        return fail_use(error, "an interval or a difference?", "give --width or --difference");
    if (input->clustering.per_cluster < 1)
        return fail_use(error, "--per-cluster must be 1 or more",
                        "give the mean number of cases of a patient");
    if (!(input->clustering.icc >= 0 && input->clustering.icc <= 1))
        return fail_use(error, "--icc must be 0 to 1", "a negative correlation counts as 0");
    enum rt_status status = rt_reckon_numbers(r, "--sd", &input->sd, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, "--share", &input->share, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, "--width", &input->width, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, "--difference", &input->difference, error);
    return status;
}

static struct rt_cases_needed answer(const struct input *input, size_t i)
{
    if (input->width != NULL)
        return input->sd != NULL ? rt_cases_for_mean(input->sd[i], input->width[i], &input->clustering)
                                 : rt_cases_for_share(input->share[i], input->width[i], &input->clustering);
    return input->sd != NULL ? rt_cases_for_mean_difference(input->sd[i], input->difference[i], input->power,
                                                            input->groups, &input->clustering)
                             : rt_cases_for_share_difference(input->share[i], input->difference[i],
                                                             input->power, input->groups, &input->clustering);
}

static void reckon_answer(struct rt_reckon *r, const char *name, const struct rt_cases_needed *needed)
{
    double further = needed->cases - rt_reckon_number(r, "--have");
    rt_reckon_row(r, "cases", name, NAN, needed->cases, needed->reason);
    rt_reckon_row(r, "clusters", name, NAN, needed->clusters, needed->reason);
    rt_reckon_row(r, "further", name, NAN, further < 0 ? 0 : further, needed->reason);
}

/* Is the option a column, so that each row is a question of its own? */
static bool is_column(const struct rt_reckon *r, const char *option)
{
    return rt_reckon_given(r, option) && isnan(rt_reckon_number(r, option));
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    struct input input;
    enum rt_status status = read_input(r, &input, error);
    bool by_row = is_column(r, "--sd") || is_column(r, "--share") || is_column(r, "--width") ||
                  is_column(r, "--difference");
    for (size_t i = 0; status == RT_OK && i < r->n && (by_row || i == 0); i++) {
        char *name = rt_reckon_array(r, 24, 1, error);
        if (name == NULL)
            return RT_MEMORY;
        if (by_row)
            snprintf(name, 24, "%zu", r->rows[i] + 1);
        struct rt_cases_needed needed = answer(&input, i);
        reckon_answer(r, name, &needed);
    }
    return status;
}

const struct rt_reckon_method rt_reckon_precision = {
    "precision",
    "cases until an interval is narrow enough or a difference can be seen",
    "cases clusters further (group = row)",
    notes,
    options,
    run};
