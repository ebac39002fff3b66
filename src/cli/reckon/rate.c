#include "ridgetally/cli/reckon_model.h"

#include "ridgetally/stats/rate.h"

static const struct rt_reckon_option options[] = {
    {"--count", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "events", NULL},
    {"--exposure", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "exposure, for example implant-years", NULL},
    RT_RECKON_END};

static const char notes[] = "Exact Poisson limits by chi-square quantiles (Garwood 1936) over the exposure. "
                            "Both as numbers need no FILE; as\n"
                            "columns group = the row's number in the file.\n";

static const char no_exposure[] = "no exposure";

static enum rt_status write(struct rt_reckon *r, const char *group, double count, double exposure,
                            struct rt_error *error)
{
    if (!(count >= 0 && exposure >= 0)) {
        rt_fail(error, group == NULL ? RT_USE : RT_INPUT,
                "%s%s%.15g events in an exposure of %.15g are no rate", group == NULL ? "" : "row ",
                group == NULL ? "" : group, count, exposure);
        rt_error_remedy(error, "give a --count and an --exposure that are not negative");
        return group == NULL ? RT_USE : RT_INPUT;
    }
    struct rt_limits exact = rt_rate_limits(count, exposure);
    rt_reckon_row(r, "estimate", group, NAN, count / exposure, no_exposure);
    rt_reckon_row(r, "exact_lower", group, NAN, exact.lower, no_exposure);
    rt_reckon_row(r, "exact_upper", group, NAN, exact.upper, no_exposure);
    return RT_OK;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    return rt_reckon_number_pairs(r, "--count", "--exposure", write, error);
}

const struct rt_reckon_method rt_reckon_rate = {
    "rate", "events per exposure with exact limits", "estimate exact_lower exact_upper", notes, options, run};
