#include "ridgetally/cli/reckon_model.h"

#include "ridgetally/stats/mixed.h"

static const struct rt_reckon_option options[] = {
    {"--response", RT_OPTION_NUMBERS_COLUMN, true, NULL, "column of numbers", NULL},
    RT_RECKON_PREDICTORS,
    RT_RECKON_PRODUCTS,
    {"--cluster", RT_OPTION_TEXT_COLUMN, true, NULL, "rows with the same entry share a random intercept",
     NULL},
    {"--unit", RT_OPTION_TEXT_COLUMN, false, NULL,
     "units inside the clusters, with an intercept of their own", NULL},
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] =
    "Random intercept by cluster (and unit) by REML (Patterson & Thompson 1971), profiled over the ratios of "
    "variances;\n"
    "Satterthwaite df from the exact Hessian of the REML deviance (Kuznetsova, Brockhoff & Christensen "
    "2017). A variance\n"
    "estimated as 0 is taken as known in the df. reml = -2 log restricted likelihood with all constants.\n"
    "design_effect = 1 + (sum of squared cluster sizes / n - 1) icc.\n";

static void write(struct rt_reckon *r, const struct rt_reckon_design *design, const struct rt_mixed *fit,
                  bool units)
{
    for (size_t j = 0; j < design->p; j++)
        rt_reckon_term_rows(r, design->terms[j], &fit->coefficient[j], RT_WRITE_DF | RT_WRITE_STATISTIC);
    rt_reckon_row(r, "sd_between", NULL, NAN, fit->sd_between, fit->reason);
    if (units)
        rt_reckon_row(r, "sd_unit", NULL, NAN, fit->sd_unit, fit->reason);
    rt_reckon_row(r, "sd_within", NULL, NAN, fit->sd_within, fit->reason);
    rt_reckon_row(r, "icc", NULL, NAN, fit->icc, fit->reason);
    if (units)
        rt_reckon_row(r, "icc_unit", NULL, NAN, fit->icc_unit, fit->reason);
    rt_reckon_row(r, "variance_between", NULL, NAN, fit->sd_between * fit->sd_between, fit->reason);
    rt_reckon_row(r, "variance_within", NULL, NAN, fit->sd_within * fit->sd_within, fit->reason);
    rt_reckon_row(r, "reml", NULL, NAN, fit->reml, fit->reason);
    rt_reckon_row(r, "design_effect", NULL, NAN, fit->design_effect, fit->reason);
    if (fit->boundary)
        rt_reckon_remark(
            r, "a variance between clusters is estimated as 0: rows are no more alike inside than across");
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double *response = NULL;
    struct rt_reckon_design design = {0};
    struct rt_clusters units = {0};
    enum rt_status status = rt_reckon_numbers(r, "--response", &response, error);
    if (status == RT_OK)
        status = rt_reckon_design(r, true, &design, error);
    if (status == RT_OK)
        status = rt_reckon_clusters(r, "--unit", &units, error);
    if (status != RT_OK)
        return status;
    struct rt_mixed fit;
    status = rt_mixed_fit(&fit, response, design.x, design.n, design.p, &r->clusters,
                          units.of != NULL ? &units : NULL, error);
    if (status == RT_OK) {
        write(r, &design, &fit, units.of != NULL);
        rt_mixed_release(&fit);
    }
    return status;
}

const struct rt_reckon_method rt_reckon_mixed = {
    "mixed",
    "linear model with a random intercept by cluster",
    "coefficient standard_error df statistic p lower upper (group = term); sd_between sd_within icc reml "
    "design_effect;\n"
    "with --unit also sd_unit icc_unit",
    notes,
    options,
    run};
