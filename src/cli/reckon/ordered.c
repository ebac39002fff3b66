#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/ordered.h"

static const struct rt_reckon_option options[] = {
    {"--response", RT_OPTION_TEXT_COLUMN, true, NULL, "column of numbers; `>v` marks a limit reached", NULL},
    {"--group", RT_OPTION_CATEGORY_COLUMN, true, NULL, "column of groups, in the order of their levels",
     NULL},
    RT_RECKON_CLUSTER,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] =
    "Kruskal-Wallis H, corrected for ties, chi-square on groups - 1 df. Jonckheere's J = pairs of two groups "
    "whose\n"
    "later group holds the larger value (ties half); jonckheere_statistic = (J - mean)/sd with the "
    "tie-corrected variance\n"
    "(Hollander & Wolfe 1999, eq. 6.19), p two-sided, exact for fewer than 50 untied rows. concordance = J "
    "over its\n"
    "largest possible value.\n"
    "With --cluster, delete-one-cluster jackknife: kruskal_wallis is the Wald statistic of equal relative "
    "effects,\n"
    "p by Hotelling's T^2; jonckheere_statistic is t of 2 concordance - 1 on Fisher's z scale, clusters - 1 "
    "df.\n"
    "Pairs whose order a limit hides score 0; a limit ranks above an equal exact value.\n";

static void write(struct rt_reckon *r, const struct rt_ordered *result)
{
    const struct rt_estimate *h = &result->kruskal_wallis;
    const struct rt_estimate *j = &result->jonckheere;
    const struct rt_estimate *c = &result->concordance;
    rt_reckon_row(r, "kruskal_wallis", NULL, NAN, h->value, h->reason);
    rt_reckon_row(r, "kruskal_wallis_df", NULL, NAN, h->df, h->reason);
    rt_reckon_row(r, "kruskal_wallis_p", NULL, NAN, h->p, h->reason);
    rt_reckon_row(r, "jonckheere", NULL, NAN, j->value, j->reason);
    rt_reckon_row(r, "jonckheere_statistic", NULL, NAN, j->statistic, j->reason);
    rt_reckon_row(r, "jonckheere_p", NULL, NAN, j->p, j->reason);
    if (r->clusters.of == NULL) {
        rt_reckon_row(r, "jonckheere_variance", NULL, NAN, j->standard_error * j->standard_error, j->reason);
        rt_reckon_row(r, "concordance", NULL, NAN, c->value, c->reason);
        return;
    }
    rt_reckon_interval(r, "concordance", NULL, c);
    rt_reckon_row(r, "jonckheere_df", NULL, NAN, j->df, j->reason);
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double *y = NULL;
    bool *capped = NULL;
    struct rt_reckon_category group;
    struct rt_ordered result;
    enum rt_status status = rt_reckon_capped_numbers(r, "--response", &y, &capped, error);
    if (status == RT_OK)
        status = rt_reckon_category(r, "--group", &group, error);
    if (status == RT_OK)
        status = rt_ordered(y, capped, group.codes, group.level_count, r->n, &r->clusters, &result, error);
    double *mean_rank =
        status == RT_OK ? rt_reckon_array(r, group.level_count, sizeof *mean_rank, error) : NULL;
    if (mean_rank == NULL)
        return status == RT_OK ? RT_MEMORY : status;
    status = rt_mean_ranks(y, capped, group.codes, group.level_count, r->n, mean_rank, error);
    if (status != RT_OK)
        return status;
    write(r, &result);
    for (size_t g = 0; g < group.level_count; g++) {
        rt_reckon_row(r, "mean_rank", group.names[g], NAN, mean_rank[g], "no rows at this level");
        rt_reckon_row(r, "n", group.names[g], NAN, (double)group.counts[g], NULL);
    }
    return RT_OK;
}

const struct rt_reckon_method rt_reckon_ordered = {
    "ordered",
    "several groups by ranks: any difference, and a trend over ordered levels",
    "kruskal_wallis kruskal_wallis_df kruskal_wallis_p jonckheere jonckheere_statistic jonckheere_p "
    "concordance jonckheere_variance;\n"
    "with --cluster concordance_lower concordance_upper jonckheere_df for jonckheere_variance;\n"
    "mean_rank n (group)",
    notes,
    options,
    run};
