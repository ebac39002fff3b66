#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/rank.h"

static const struct rt_reckon_option options[] = {
    {"--x", RT_OPTION_NUMBERS_COLUMN, true, NULL, "column of numbers", NULL},
    {"--y", RT_OPTION_TEXT_COLUMN, true, NULL, "column of numbers; `>v` marks a limit reached", NULL},
    RT_RECKON_CLUSTER,
    RT_RECKON_END};

static const char notes[] =
    "Spearman: correlation of mid-ranks; limits on Fisher's z with variance (1 + r^2/2)/(n - 3), Kendall's "
    "tau-b with\n"
    "0.437/(n - 4) (Bonett & Wright 2000). p: exact for few untied rows (Spearman n <= 9, Edgeworth series "
    "to 1290;\n"
    "Kendall n < 50), else t on n - 2 df and the tie-corrected normal without continuity correction.\n"
    "With --cluster: delete-one-cluster jackknife; limits, t and p on Fisher's z scale with clusters - 1 "
    "df.\n"
    "pair_score = concordant minus discordant pairs. Pairs whose order a limit hides score 0; a limit ranks "
    "above an equal exact value.\n";

static const char *no_statistic(const struct rt_rank_correlation *result)
{
    const char *reason = result->tau_b.reason;
    return reason != NULL && isnan(result->tau_b.p) ? reason : "its p is exact and needs no statistic";
}

static void write(struct rt_reckon *r, const struct rt_rank_correlation *result)
{
    rt_reckon_interval(r, "spearman", NULL, &result->spearman);
    rt_reckon_row(r, "spearman_p", NULL, NAN, result->spearman.p, result->spearman.reason);
    rt_reckon_interval(r, "tau_b", NULL, &result->tau_b);
    rt_reckon_row(r, "tau_b_p", NULL, NAN, result->tau_b.p, result->tau_b.reason);
    rt_reckon_row(r, "n", NULL, NAN, (double)result->n, NULL);
    rt_reckon_row(r, "pair_score", NULL, NAN, result->pair_score, NULL);
    rt_reckon_row(r, "tau_b_statistic", NULL, NAN, result->tau_b.statistic, no_statistic(result));
    if (r->clusters.of == NULL)
        return;
    rt_reckon_row(r, "spearman_error", NULL, NAN, result->spearman.standard_error, result->spearman.reason);
    rt_reckon_row(r, "tau_b_error", NULL, NAN, result->tau_b.standard_error, result->tau_b.reason);
    rt_reckon_row(r, "df", NULL, NAN, result->spearman.df, result->spearman.reason);
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double *x = NULL;
    double *y = NULL;
    bool *capped = NULL;
    struct rt_rank_correlation result;
    enum rt_status status = rt_reckon_numbers(r, "--x", &x, error);
    if (status == RT_OK)
        status = rt_reckon_capped_numbers(r, "--y", &y, &capped, error);
    if (status == RT_OK)
        status = rt_rank_correlation(x, y, capped, r->n, &r->clusters, &result, error);
    if (status == RT_OK)
        write(r, &result);
    return status;
}

const struct rt_reckon_method rt_reckon_rank = {
    "rank",
    "rank correlation of two columns",
    "spearman spearman_lower spearman_upper spearman_p tau_b tau_b_lower tau_b_upper tau_b_p n pair_score "
    "tau_b_statistic;\n"
    "with --cluster also spearman_error tau_b_error df",
    notes,
    options,
    run};
