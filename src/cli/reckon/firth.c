#include "ridgetally/cli/reckon_model.h"

#include "ridgetally/stats/firth.h"

static const struct rt_reckon_option options[] = {
    {"--response", RT_OPTION_EVENTS_COLUMN, true, NULL, "column of 0 and 1", NULL},
    RT_RECKON_PREDICTORS,
    RT_RECKON_CLUSTER,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] = "Logistic regression with Jeffreys' penalty (Firth 1993; Heinze & Schemper "
                            "2002): coefficients are log odds ratios,\n"
                            "limits those of the profile of the penalised likelihood, p its likelihood-ratio "
                            "test. With --cluster the likelihood\n"
                            "ratio is divided by design_effect, at least 1: the larger of the ratios of "
                            "cluster-robust to model variance at the\n"
                            "estimate and of the score where the coefficient is 0. That is approximate. "
                            "standard_error stays that of the model.\n";

static void write(struct rt_reckon *r, const struct rt_reckon_design *design, const struct rt_firth *fit)
{
    for (size_t j = 0; j < design->p; j++) {
        rt_reckon_term_rows(r, design->terms[j], &fit->coefficient[j], RT_WRITE_STATISTIC);
        if (fit->approximate)
            rt_reckon_row(r, "design_effect", design->terms[j], NAN, fit->design_effect[j],
                          fit->coefficient[j].reason);
    }
    rt_reckon_row(r, "penalised_log_likelihood", NULL, NAN, fit->penalised_log_likelihood, fit->reason);
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    int *events = NULL;
    struct rt_reckon_design design = {0};
    enum rt_status status = rt_reckon_events(r, "--response", &events, error);
    if (status == RT_OK)
        status = rt_reckon_design(r, true, &design, error);
    if (status != RT_OK)
        return status;
    struct rt_firth fit;
    status = rt_firth_fit(&fit, events, design.x, design.n, design.p, &r->clusters, error);
    if (status == RT_OK) {
        write(r, &design, &fit);
        rt_firth_release(&fit);
    }
    return status;
}

const struct rt_reckon_method rt_reckon_firth = {
    "firth",
    "logistic regression that stays finite for few events",
    "coefficient standard_error statistic p lower upper design_effect (with --cluster) (group = term);\n"
    "penalised_log_likelihood",
    notes,
    options,
    run};
