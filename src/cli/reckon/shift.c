#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/shift.h"

static const struct rt_reckon_option options[] = {
    {"--response", RT_OPTION_TEXT_COLUMN, true, NULL, "column of numbers; `>v` marks a limit reached", NULL},
    {"--group", RT_OPTION_CATEGORY_COLUMN, true, NULL, "column of two groups", NULL},
    RT_RECKON_CLUSTER,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] =
    "mann_whitney = pairs in which the second level's value is larger, ties half; superiority = its share of "
    "all pairs;\n"
    "shift = median of all differences second - first (Hodges & Lehmann 1963). p: exact when both groups "
    "have fewer than 50\n"
    "rows and nothing is tied, else normal, tie-corrected, with continuity correction. Limits: differences "
    "of rank k from\n"
    "either end, k the exact 0.025 quantile, else floor(n1 n2/2 - 1.96 sqrt(n1 n2 (n1 + n2 + 1)/12)).\n"
    "With --cluster: e = delete-one-cluster jackknife error of superiority at the shift (groups aligned); "
    "statistic =\n"
    "(superiority - 1/2)/e on clusters - 1 df; k = floor(n1 n2 (1/2 - t e)); superiority's own limits by the "
    "jackknife at\n"
    "the data, on Fisher's z scale of 2 superiority - 1.\n";

static void write(struct rt_reckon *r, const struct rt_shift *result)
{
    const struct rt_estimate *shift = &result->shift;
    const struct rt_estimate *chance = &result->superiority;
    rt_reckon_row(r, "mann_whitney", NULL, NAN, result->mann_whitney, chance->reason);
    rt_reckon_row(r, "p", NULL, NAN, shift->p, shift->reason);
    rt_reckon_interval(r, "shift", NULL, shift);
    rt_reckon_row(r, "n1", NULL, NAN, (double)result->n_first, NULL);
    rt_reckon_row(r, "n2", NULL, NAN, (double)result->n_second, NULL);
    if (r->clusters.of == NULL) {
        rt_reckon_row(r, "superiority", NULL, NAN, chance->value, chance->reason);
        return;
    }
    rt_reckon_row(r, "statistic", NULL, NAN, shift->statistic, shift->reason);
    rt_reckon_row(r, "df", NULL, NAN, shift->df, shift->reason);
    rt_reckon_interval(r, "superiority", NULL, chance);
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double *y = NULL;
    bool *capped = NULL;
    struct rt_reckon_category group;
    struct rt_shift result;
    enum rt_status status = rt_reckon_capped_numbers(r, "--response", &y, &capped, error);
    if (status == RT_OK)
        status = rt_reckon_category(r, "--group", &group, error);
    if (status == RT_OK && group.level_count > 2) {
        rt_fail(error, RT_INPUT, "column '%.60s' has %zu levels, not two", group.column, group.level_count);
        rt_error_remedy(error, "keep the rows of two groups, or use `reckon ordered`");
        return RT_INPUT;
    }
    bool *second = status == RT_OK ? rt_reckon_array(r, r->n, sizeof *second, error) : NULL;
    if (second == NULL)
        return status == RT_OK ? RT_MEMORY : status;
    for (size_t i = 0; i < r->n; i++)
        second[i] = group.codes[i] == 1;
    status = rt_shift(y, capped, second, r->n, &r->clusters, &result, error);
    if (status == RT_OK)
        write(r, &result);
    return status;
}

const struct rt_reckon_method rt_reckon_shift = {
    "shift",
    "two groups by ranks, and the shift between them",
    "mann_whitney p shift shift_lower shift_upper n1 n2 superiority;\n"
    "with --cluster also statistic df superiority_lower superiority_upper",
    notes,
    options,
    run};
