#include "ridgetally/cli/reckon_model.h"

#include "ridgetally/stats/limited.h"

static const struct rt_reckon_option options[] = {
    {"--response", RT_OPTION_TEXT_COLUMN, true, NULL, "column of numbers; `>v` marks a limit reached", NULL},
    RT_RECKON_PREDICTORS,
    RT_RECKON_PRODUCTS,
    RT_RECKON_CLUSTER,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] = "Right-censored normal regression by maximum likelihood (Tobin 1958; Olsen "
                            "1978). Errors from the observed\n"
                            "information, with --cluster the sandwich of the cluster sums of the scores "
                            "without small-sample factor; normal p and\n"
                            "limits. sigma is the maximum-likelihood one.\n";

static void write(struct rt_reckon *r, const struct rt_reckon_design *design, const struct rt_limited *fit)
{
    for (size_t j = 0; j < design->p; j++)
        rt_reckon_term_rows(r, design->terms[j], &fit->coefficient[j], RT_WRITE_STATISTIC);
    rt_reckon_row(r, "sigma", NULL, NAN, fit->sigma, fit->reason);
    rt_reckon_row(r, "log_likelihood", NULL, NAN, fit->log_likelihood, fit->reason);
    rt_reckon_row(r, "capped", NULL, NAN, (double)fit->capped, NULL);
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double *response = NULL;
    bool *capped = NULL;
    struct rt_reckon_design design = {0};
    enum rt_status status = rt_reckon_capped_numbers(r, "--response", &response, &capped, error);
    if (status == RT_OK && capped == NULL) {
        capped = rt_reckon_array(r, r->n, sizeof *capped, error);
        if (capped == NULL)
            return RT_MEMORY;
    }
    if (status == RT_OK)
        status = rt_reckon_design(r, true, &design, error);
    if (status != RT_OK)
        return status;
    struct rt_limited fit;
    status = rt_limited_fit(&fit, response, capped, design.x, design.n, design.p, &r->clusters, error);
    if (status == RT_OK) {
        write(r, &design, &fit);
        rt_limited_release(&fit);
    }
    return status;
}

const struct rt_reckon_method rt_reckon_limited = {
    "limited",
    "normal regression with readings that reached a limit",
    "coefficient standard_error statistic p lower upper (group = term); sigma log_likelihood capped",
    notes,
    options,
    run};
