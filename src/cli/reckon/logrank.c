#include "ridgetally/cli/reckon_follow_up.h"

#include "ridgetally/stats/log_rank.h"

static const struct rt_reckon_option options[] = {
    RT_RECKON_TIME,
    RT_RECKON_EVENT,
    RT_RECKON_ENTRY,
    {"--by", RT_OPTION_CATEGORIES_COLUMNS, true, NULL, "the groups compared", NULL},
    {"--strata", RT_OPTION_CATEGORIES_COLUMNS, false, NULL, "compare within the levels of these columns",
     NULL},
    {"--trend", RT_OPTION_FLAG, false, NULL, "test a trend over the groups in the order of their levels",
     NULL},
    RT_RECKON_CLUSTER,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] =
    "Chi-square of observed minus expected by the hypergeometric covariance (Mantel 1966); strata summed. "
    "With "
    "--trend,\n"
    "chi_square, df and p are those of the trend with scores 1, 2, ... (Tarone 1975), trend_z its root, and "
    "the comparison of\n"
    "all groups is in all_chi_square, all_df, all_p.\n"
    "With --cluster the robust score test: the score residuals at 0 of the Cox model of the groups (Breslow "
    "ties), summed\n"
    "within clusters to s, covariance sum of s s' (Lin & Wei 1989). variance: hypergeometric, "
    "robust_variance: "
    "of the\n"
    "clusters, both of observed - expected.\n" RT_RECKON_TIES_NOTE;

static void write_test(struct rt_reckon *r, const char *const *names, const struct rt_estimate *test)
{
    double chi_square = test->statistic;
    double df = test->df;
    if (isinf(df)) { /* a normal statistic */
        chi_square = chi_square * chi_square;
        df = 1;
    }
    rt_reckon_row(r, names[0], NULL, NAN, chi_square, test->reason);
    rt_reckon_row(r, names[1], NULL, NAN, df, test->reason);
    rt_reckon_row(r, names[2], NULL, NAN, test->p, test->reason);
}

static void write(struct rt_reckon *r, const struct rt_reckon_group *groups, const struct rt_log_rank *result)
{
    static const char *const test[] = {"chi_square", "df", "p"};
    static const char *const all[] = {"all_chi_square", "all_df", "all_p"};
    for (size_t g = 0; g < result->groups; g++) {
        size_t cell = g * result->groups + g;
        rt_reckon_row(r, "n", groups[g].name, NAN, result->rows[g], NULL);
        rt_reckon_row(r, "observed", groups[g].name, NAN, result->observed[g], NULL);
        rt_reckon_row(r, "expected", groups[g].name, NAN, result->expected[g], NULL);
        rt_reckon_row(r, "variance", groups[g].name, NAN, result->variance[cell], NULL);
        if (result->robust != NULL)
            rt_reckon_row(r, "robust_variance", groups[g].name, NAN, result->robust[cell], NULL);
    }
    if (!rt_reckon_given(r, "--trend")) {
        write_test(r, test, &result->test);
        return;
    }
    write_test(r, test, &result->trend);
    rt_reckon_row(r, "trend_z", NULL, NAN, result->trend.statistic, result->trend.reason);
    write_test(r, all, &result->test);
}

static enum rt_status read_groups(struct rt_reckon *r, struct rt_reckon_group **groups, size_t *group_count,
                                  struct rt_log_rank_input *input, struct rt_error *error)
{
    size_t *codes = NULL;
    struct rt_reckon_group *strata = NULL;
    enum rt_status status = rt_reckon_groups(r, "--by", groups, group_count, error);
    if (status == RT_OK)
        status = rt_reckon_group_codes(r, *groups, *group_count, &codes, error);
    input->group = codes;
    input->groups = *group_count;
    if (status == RT_OK && rt_reckon_given(r, "--strata")) {
        status = rt_reckon_groups(r, "--strata", &strata, &input->strata, error);
        if (status == RT_OK)
            status = rt_reckon_group_codes(r, strata, input->strata, &codes, error);
        input->stratum = codes;
    }
    return status;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    struct rt_reckon_times times;
    struct rt_reckon_group *groups = NULL;
    size_t count = 0;
    struct rt_log_rank_input input = {0};
    struct rt_log_rank result = {0};
    enum rt_status status = rt_reckon_read_times(r, &times, error);
    if (status == RT_OK)
        status = read_groups(r, &groups, &count, &input, error);
    if (status == RT_OK && count == 0) {
        const struct rt_estimate none = rt_undefined("no rows");
        rt_reckon_row(r, "chi_square", NULL, NAN, none.statistic, none.reason);
        rt_reckon_row(r, "df", NULL, NAN, none.df, none.reason);
        rt_reckon_row(r, "p", NULL, NAN, none.p, none.reason);
        return RT_OK;
    }
    if (status == RT_OK) {
        input.data = (struct rt_follow_up){.n = r->n,
                                           .time = times.time,
                                           .entry = times.entry,
                                           .event = times.event,
                                           .clusters = r->clusters};
        status = rt_log_rank(&result, &input, error);
    }
    if (status == RT_OK)
        write(r, groups, &result);
    rt_log_rank_release(&result);
    return status;
}

const struct rt_reckon_method rt_reckon_logrank = {
    "logrank",
    "survival of groups compared as a whole",
    "n observed expected variance (group); chi_square df p; with --trend also trend_z all_chi_square all_df\n"
    "all_p; with --cluster also robust_variance (group)",
    notes,
    options,
    run};
