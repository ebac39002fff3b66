#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/kappa.h"

#include <string.h>

static const struct rt_reckon_option options[] = {
    {"--a", RT_OPTION_CATEGORY_COLUMN, true, NULL, "first classification", NULL},
    {"--b", RT_OPTION_CATEGORY_COLUMN, true, NULL, "second classification, on the same levels", NULL},
    {"--weights", RT_OPTION_CHOICE, false, "none", "how far apart levels count", "none|linear|quadratic"},
    RT_RECKON_CLUSTER,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] = "Cohen's kappa; weights 1 - |i - j|/(k - 1) or 1 - (i - j)^2/(k - 1)^2 over the "
                            "k levels, those of --levels that\n"
                            "never occur included. Large-sample error, limits kappa -+ 1.96 error within -1 "
                            "and 1, p from the error at kappa 0\n"
                            "(Fleiss, Cohen & Everitt 1969).\n"
                            "With --cluster: delete-one-cluster jackknife; limits, t and p on Fisher's z "
                            "scale with clusters - 1 df.\n";

static enum rt_kappa_weights weights_of(const char *word)
{
    if (strcmp(word, "linear") == 0)
        return RT_KAPPA_LINEAR;
    return strcmp(word, "quadratic") == 0 ? RT_KAPPA_QUADRATIC : RT_KAPPA_UNWEIGHTED;
}

static void write(struct rt_reckon *r, const struct rt_kappa *result)
{
    const struct rt_estimate *kappa = &result->kappa;
    rt_reckon_row(r, "kappa", NULL, NAN, kappa->value, kappa->reason);
    rt_reckon_row(r, "standard_error", NULL, NAN, kappa->standard_error, kappa->reason);
    rt_reckon_row(r, "lower", NULL, NAN, kappa->lower, kappa->reason);
    rt_reckon_row(r, "upper", NULL, NAN, kappa->upper, kappa->reason);
    rt_reckon_row(r, "statistic", NULL, NAN, kappa->statistic, kappa->reason);
    rt_reckon_row(r, "p", NULL, NAN, kappa->p, kappa->reason);
    rt_reckon_row(r, "observed", NULL, NAN, result->observed, kappa->reason);
    rt_reckon_row(r, "expected", NULL, NAN, result->expected, kappa->reason);
    rt_reckon_row(r, "n", NULL, NAN, (double)result->n, NULL);
    if (r->clusters.of == NULL)
        rt_reckon_row(r, "null_error", NULL, NAN, result->null_error, kappa->reason);
    else
        rt_reckon_row(r, "df", NULL, NAN, kappa->df, kappa->reason);
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    struct rt_reckon_category a;
    struct rt_reckon_category b;
    struct rt_kappa result;
    enum rt_kappa_weights weights = weights_of(rt_reckon_text(r, "--weights"));
    enum rt_status status = rt_reckon_category_pair(r, "--a", "--b", &a, &b, error);
    if (status == RT_OK)
        status = rt_kappa(a.codes, b.codes, r->n, a.level_count, weights, &r->clusters, &result, error);
    if (status == RT_OK)
        write(r, &result);
    return status;
}

const struct rt_reckon_method rt_reckon_kappa = {"kappa",
                                                 "agreement of two classifications beyond chance",
                                                 "kappa standard_error lower upper statistic p observed "
                                                 "expected n null_error; with --cluster df for null_error",
                                                 notes,
                                                 options,
                                                 run};
