#include "ridgetally/cli/reckon_model.h"

#include "ridgetally/stats/linear.h"

static const struct rt_reckon_option options[] = {
    {"--response", RT_OPTION_NUMBERS_COLUMN, true, NULL, "column of numbers", NULL},
    RT_RECKON_PREDICTORS,
    RT_RECKON_PRODUCTS,
    {"--without-intercept", RT_OPTION_FLAG, false, NULL, "a model through the origin", NULL},
    RT_RECKON_CLUSTER,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] =
    "Least squares by Householder QR; a column whose part outside those before it is below 1e-11 of its "
    "length is left\n"
    "out and its quantities are empty. standard_error is the ordinary one. With --cluster, robust_error is "
    "CR2 (Bell &\n"
    "McCaffrey 2002) and df, statistic, p and limits are its, df by Satterthwaite (Pustejovsky & Tipton "
    "2018); else they\n"
    "are by t(n - coefficients). r_squared is about the mean when the model has a constant, else about 0.\n";

static void write(struct rt_reckon *r, const struct rt_reckon_design *design, const struct rt_linear *fit)
{
    for (size_t j = 0; j < design->p; j++) {
        const char *term = design->terms[j];
        const struct rt_estimate *ordinary = &fit->ordinary[j];
        const struct rt_estimate *judged = fit->robust != NULL ? &fit->robust[j] : ordinary;
        rt_reckon_row(r, "coefficient", term, NAN, ordinary->value, ordinary->reason);
        rt_reckon_row(r, "standard_error", term, NAN, ordinary->standard_error, ordinary->reason);
        if (fit->robust != NULL)
            rt_reckon_row(r, "robust_error", term, NAN, judged->standard_error, judged->reason);
        rt_reckon_row(r, "df", term, NAN, judged->df, judged->reason);
        rt_reckon_row(r, "statistic", term, NAN, judged->statistic, judged->reason);
        rt_reckon_row(r, "p", term, NAN, judged->p, judged->reason);
        rt_reckon_row(r, "lower", term, NAN, judged->lower, judged->reason);
        rt_reckon_row(r, "upper", term, NAN, judged->upper, judged->reason);
    }
    static const char no_f[] =
        "the model has no columns beside the constant, or leaves no residual variation";
    rt_reckon_row(r, "r_squared", NULL, NAN, fit->r_squared, fit->reason);
    rt_reckon_row(r, "sigma", NULL, NAN, fit->sigma, fit->reason);
    rt_reckon_row(r, "residual_sum_of_squares", NULL, NAN, fit->residual_sum_of_squares, NULL);
    rt_reckon_row(r, "residual_df", NULL, NAN, fit->residual_df, NULL);
    rt_reckon_row(r, "f_statistic", NULL, NAN, fit->f_statistic, no_f);
    rt_reckon_row(r, "f_p", NULL, NAN, fit->f_p, no_f);
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double *response = NULL;
    struct rt_reckon_design design = {0};
    enum rt_status status = rt_reckon_numbers(r, "--response", &response, error);
    if (status == RT_OK)
        status = rt_reckon_design(r, !rt_reckon_given(r, "--without-intercept"), &design, error);
    if (status != RT_OK)
        return status;
    struct rt_linear fit;
    status = rt_linear_fit(&fit, response, design.x, design.n, design.p,
                           r->clusters.of != NULL ? &r->clusters : NULL, error);
    if (status == RT_OK) {
        write(r, &design, &fit);
        rt_linear_release(&fit);
    }
    return status;
}

const struct rt_reckon_method rt_reckon_linear = {
    "linear",
    "least squares, with cluster-robust errors",
    "coefficient standard_error robust_error (with --cluster) df statistic p lower upper (group = term);\n"
    "r_squared sigma residual_sum_of_squares residual_df f_statistic f_p",
    notes,
    options,
    run};
