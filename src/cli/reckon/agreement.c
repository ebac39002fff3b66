#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/agreement.h"

static const struct rt_reckon_option options[] = {
    {"--a", RT_OPTION_NUMBERS_COLUMN, true, NULL, "first measurement", NULL},
    {"--b", RT_OPTION_NUMBERS_COLUMN, true, NULL, "second measurement", NULL},
    {"--multiple", RT_OPTION_POSITIVE, false, "1.96", "limits at bias -+ this many sd", NULL},
    RT_RECKON_CLUSTER,
    RT_RECKON_END};

static const char notes[] =
    "bias = mean of b - a, limits bias -+ multiple sd; intervals by t(n - 1): bias with s/sqrt(n), limits "
    "with\n"
    "s sqrt(1/n + k^2/(2(n - 1))) (Bland & Altman 1986, 1999), sd by chi-square.\n"
    "With --cluster: sd = root of the summed variances between and within clusters (one-way analysis of "
    "variance of the\n"
    "differences, a negative component taken as 0: Bland & Altman 1999 sec. 5.3, 2007); bias with CR2\n"
    "error and Satterthwaite df, limits and sd by the delete-one-cluster jackknife on clusters - 1 df, sd on "
    "the log scale.\n";

static void write(struct rt_reckon *r, const struct rt_agreement *result)
{
    rt_reckon_interval(r, "bias", NULL, &result->bias);
    rt_reckon_interval(r, "sd", NULL, &result->sd);
    rt_reckon_interval(r, "lower_limit", NULL, &result->lower_limit);
    rt_reckon_interval(r, "upper_limit", NULL, &result->upper_limit);
    rt_reckon_row(r, "n", NULL, NAN, (double)result->n, NULL);
    if (r->clusters.of == NULL)
        return;
    static const char single[] = "no cluster has more than one row";
    const char *reason = result->sd.reason != NULL ? result->sd.reason : single;
    rt_reckon_row(r, "sd_between", NULL, NAN, result->sd_between, reason);
    rt_reckon_row(r, "sd_within", NULL, NAN, result->sd_within, reason);
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double *a = NULL;
    double *b = NULL;
    struct rt_agreement result;
    enum rt_status status = rt_reckon_numbers(r, "--a", &a, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, "--b", &b, error);
    for (size_t i = 0; status == RT_OK && i < r->n; i++)
        b[i] -= a[i];
    if (status == RT_OK)
        status = rt_agreement(b, r->n, rt_reckon_number(r, "--multiple"), &r->clusters, &result, error);
    if (status == RT_OK)
        write(r, &result);
    return status;
}

const struct rt_reckon_method rt_reckon_agreement = {"agreement",
                                                     "bias and limits of agreement of two measurements",
                                                     "bias sd lower_limit upper_limit, each with _lower and "
                                                     "_upper; n; with --cluster also sd_between sd_within",
                                                     notes,
                                                     options,
                                                     run};
