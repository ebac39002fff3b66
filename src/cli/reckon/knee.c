#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/knee.h"

static const struct rt_reckon_option options[] = {
    {"--response", RT_OPTION_NUMBERS_COLUMN, true, NULL, "column of the response", NULL},
    {"--x", RT_OPTION_NUMBERS_COLUMN, true, NULL, "column in which the knee is searched", NULL},
    {"--cluster", RT_OPTION_TEXT_COLUMN, true, NULL, "rows with the same entry here belong together", NULL},
    {"--step", RT_OPTION_POSITIVE, false, "0.1", "step of the search", NULL},
    {"--minimum", RT_OPTION_NUMBER_LIST, false, "60,40,15", "fewest rows, clusters, rows on each side", NULL},
    {"--times", RT_OPTION_COUNT, false, "999", "replicates of each bootstrap", NULL},
    {"--seed", RT_OPTION_COUNT, false, "1", "of the bootstrap", NULL},
    RT_RECKON_END};

static const char notes[] =
    "y = a + b x + c max(0, x - knee) + cluster + error by maximum likelihood, knee in steps between the\n"
    "15th and the 85th percentile of x. lower and upper: ends of the set of knees that are not rejected,\n"
    "which may be broken (pieces) or reach the end of the search (at_edge 1: no knee can be located\n"
    "there). Not rejected: likelihood ratio of the best knee over it at most 3.84, or p above 0.05 by\n"
    "flipping the signs of whole clusters of the residuals left by that knee (grid bootstrap; Hansen\n"
    "1999). statistic: largest likelihood ratio against a straight line; p by flipping the signs of whole\n"
    "clusters of the straight line's residuals (wild bootstrap; Cameron, Gelbach & Miller 2008). Fewer\n"
    "than 19 replicates reject no knee.\n";

static enum rt_status read_design(struct rt_reckon *r, struct rt_knee_design *design, struct rt_error *error)
{
    size_t count = 0;
    const double *minimum = rt_reckon_number_list(r, "--minimum", &count, error);
    if (minimum == NULL)
        return RT_MEMORY;
    bool fine = count == 3 && rt_reckon_number(r, "--times") >= 1;
    for (size_t i = 0; fine && i < 3; i++)
        fine = minimum[i] >= 1 && minimum[i] <= 1e9;
    if (!fine) {
        rt_fail(error, RT_USE, "--minimum needs three numbers of 1 or more, and --times 1 or more");
        rt_error_remedy(error, "give the fewest rows, clusters and rows on each side, like 60,40,15");
        return RT_USE;
    }
    *design = rt_knee_default;
    design->step = rt_reckon_number(r, "--step");
    design->fewest_rows = (size_t)minimum[0];
    design->fewest_clusters = (size_t)minimum[1];
    design->fewest_per_side = (size_t)minimum[2];
    design->times = (size_t)rt_reckon_number(r, "--times");
    design->seed = (unsigned long)rt_reckon_number(r, "--seed");
    return RT_OK;
}

static void reckon_result(struct rt_reckon *r, const struct rt_knee *result)
{
    bool known = result->reason == NULL;
    rt_reckon_row(r, "knee", NULL, NAN, result->knee, result->reason);
    rt_reckon_row(r, "lower", NULL, NAN, result->lower, result->reason);
    rt_reckon_row(r, "upper", NULL, NAN, result->upper, result->reason);
    rt_reckon_row(r, "slope_below", NULL, NAN, result->slope_below, result->reason);
    rt_reckon_row(r, "slope_above", NULL, NAN, result->slope_above, result->reason);
    rt_reckon_row(r, "sd_between", NULL, NAN, result->sd_between, result->reason);
    rt_reckon_row(r, "sd_within", NULL, NAN, result->sd_within, result->reason);
    rt_reckon_row(r, "statistic", NULL, NAN, result->statistic, result->reason);
    rt_reckon_row(r, "p", NULL, NAN, result->p, result->reason);
    rt_reckon_row(r, "pieces", NULL, NAN, known ? (double)result->pieces : NAN, result->reason);
    rt_reckon_row(r, "at_edge", NULL, NAN, known ? (double)result->at_edge : NAN, result->reason);
    for (size_t k = 0; known && k < result->candidate_count; k++) {
        rt_reckon_row(r, "likelihood_ratio", NULL, result->candidates[k], result->statistics[k], NULL);
        rt_reckon_row(r, "kept", NULL, result->candidates[k], result->kept[k] ? 1 : 0, NULL);
    }
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double *y = NULL;
    double *x = NULL;
    struct rt_knee_design design;
    struct rt_knee result = {0};
    enum rt_status status = read_design(r, &design, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, "--response", &y, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, "--x", &x, error);
    if (status == RT_OK)
        status = rt_knee(&result, x, y, r->n, &r->clusters, &design, error);
    if (status == RT_OK)
        reckon_result(r, &result);
    rt_knee_release(&result);
    return status;
}

const struct rt_reckon_method rt_reckon_knee = {"knee",
                                                "where the slope of a line changes, rows clustered",
                                                "knee lower upper slope_below slope_above sd_between "
                                                "sd_within statistic p pieces at_edge; likelihood_ratio kept "
                                                "(at = knee tried)",
                                                notes,
                                                options,
                                                run};
