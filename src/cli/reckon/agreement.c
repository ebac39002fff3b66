#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/agreement.h"
#include "ridgetally/stats/signed_rank.h"

#include <string.h>

static const struct rt_reckon_option options[] = {
    {"--a", RT_OPTION_NUMBERS_COLUMN, true, NULL, "first measurement", NULL},
    {"--b", RT_OPTION_NUMBERS_COLUMN, true, NULL, "second measurement", NULL},
    {"--multiple", RT_OPTION_POSITIVE, false, "1.96", "limits at bias -+ this many sd", NULL},
    {"--true-value", RT_OPTION_CHOICE, false, "varying", "within a cluster", "varying|constant"},
    RT_RECKON_CLUSTER,
    RT_RECKON_END};

static const char notes[] =
    "bias = mean of b - a, limits bias -+ multiple sd; intervals by t(n - 1): bias with s/sqrt(n), limits "
    "with\n"
    "s sqrt(1/n + k^2/(2(n - 1))) (Bland & Altman 1986, 1999), sd by chi-square. signed_rank = Wilcoxon's V "
    "of b - a,\n"
    "pseudomedian the median of its Walsh averages; p and limits exact for fewer than 50 untied differences, "
    "else\n"
    "normal with continuity correction.\n"
    "With --cluster: sd = root of the summed variances between and within clusters (one-way analysis of "
    "variance of\n"
    "the differences, a negative component taken as 0: Bland & Altman 1999 sec. 5.3, 2007); bias with CR2 "
    "error and\n"
    "Satterthwaite df, sd by the delete-one-cluster jackknife on the log scale, clusters - 1 df; the "
    "intervals of the\n"
    "limits join those two with the jackknife correlation of bias and sd (Zou & Donner 2008, Zou 2013).\n"
    "--true-value constant: the rows of a cluster repeat one true value, as when a film is read again (Bland "
    "& Altman\n"
    "1999 sec. 5.1): bias = mean of the clusters' mean differences, sd^2 = their variance + (1 - mean 1/m)\n"
    "(variance_a + variance_b), bias and sd by the jackknife, limits joined as above.\n";

static void write_four(struct rt_reckon *r, const struct rt_estimate *bias, const struct rt_estimate *sd,
                       const struct rt_estimate *lower, const struct rt_estimate *upper)
{
    rt_reckon_interval(r, "bias", NULL, bias);
    rt_reckon_interval(r, "sd", NULL, sd);
    rt_reckon_interval(r, "lower_limit", NULL, lower);
    rt_reckon_interval(r, "upper_limit", NULL, upper);
    rt_reckon_row(r, "n", NULL, NAN, (double)r->n, NULL);
    rt_reckon_row(r, "bias_error", NULL, NAN, bias->standard_error, bias->reason);
    rt_reckon_row(r, "lower_limit_error", NULL, NAN, lower->standard_error, lower->reason);
    rt_reckon_row(r, "upper_limit_error", NULL, NAN, upper->standard_error, upper->reason);
}

static enum rt_status reckon_constant(struct rt_reckon *r, const double *a, const double *b,
                                      struct rt_error *error)
{
    if (r->clusters.of == NULL) {
        rt_fail(error, RT_USE, "--true-value constant needs --cluster");
        rt_error_remedy(error, "name the column of what was measured repeatedly");
        return RT_USE;
    }
    struct rt_replicate_agreement result;
    enum rt_status status =
        rt_agreement_constant(a, b, r->n, rt_reckon_number(r, "--multiple"), &r->clusters, &result, error);
    if (status != RT_OK)
        return status;
    static const char single[] = "no cluster has more than one row";
    write_four(r, &result.bias, &result.sd, &result.lower_limit, &result.upper_limit);
    rt_reckon_row(r, "variance_a", NULL, NAN, result.variance_a, single);
    rt_reckon_row(r, "variance_b", NULL, NAN, result.variance_b, single);
    return RT_OK;
}

static enum rt_status reckon_signed_rank(struct rt_reckon *r, const double *differences,
                                         struct rt_error *error)
{
    struct rt_signed_rank result;
    enum rt_status status = rt_signed_rank(differences, r->n, &result, error);
    if (status != RT_OK)
        return status;
    const struct rt_estimate *median = &result.pseudomedian;
    rt_reckon_row(r, "signed_rank", NULL, NAN, result.positive_ranks, median->reason);
    rt_reckon_row(r, "signed_rank_p", NULL, NAN, median->p, median->reason);
    rt_reckon_interval(r, "pseudomedian", NULL, median);
    return RT_OK;
}

static enum rt_status reckon_varying(struct rt_reckon *r, const double *differences, struct rt_error *error)
{
    struct rt_agreement result;
    enum rt_status status =
        rt_agreement(differences, r->n, rt_reckon_number(r, "--multiple"), &r->clusters, &result, error);
    if (status != RT_OK)
        return status;
    write_four(r, &result.bias, &result.sd, &result.lower_limit, &result.upper_limit);
    if (r->clusters.of == NULL)
        return reckon_signed_rank(r, differences, error);
    static const char single[] = "no cluster has more than one row";
    const char *reason = result.sd.reason != NULL ? result.sd.reason : single;
    rt_reckon_row(r, "sd_between", NULL, NAN, result.sd_between, reason);
    rt_reckon_row(r, "sd_within", NULL, NAN, result.sd_within, reason);
    return RT_OK;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double *a = NULL;
    double *b = NULL;
    enum rt_status status = rt_reckon_numbers(r, "--a", &a, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, "--b", &b, error);
    if (status != RT_OK)
        return status;
    if (strcmp(rt_reckon_text(r, "--true-value"), "constant") == 0)
        return reckon_constant(r, a, b, error);
    for (size_t i = 0; i < r->n; i++)
        b[i] -= a[i];
    return reckon_varying(r, b, error);
}

const struct rt_reckon_method rt_reckon_agreement = {
    "agreement",
    "bias and limits of agreement of two measurements",
    "bias sd lower_limit upper_limit, each with _lower and _upper; n bias_error lower_limit_error "
    "upper_limit_error; signed_rank signed_rank_p pseudomedian\n"
    "pseudomedian_lower pseudomedian_upper; with --cluster sd_between sd_within, or variance_a variance_b, "
    "for the last five",
    notes,
    options,
    run};
