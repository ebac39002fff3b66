#include "ridgetally/cli/reckon_model.h"

#include "ridgetally/stats/proportion.h"

static const struct rt_reckon_option options[] = {
    {"--count", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "events", NULL},
    {"--total", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "trials", NULL},
    RT_RECKON_END};

static const char notes[] = "Wilson's score interval without continuity correction (Wilson 1927; Newcombe "
                            "1998, method 3) and the exact interval\n"
                            "(Clopper & Pearson 1934; method 5). Both as numbers need no FILE; as columns "
                            "group = the row's number in the file.\n";

static const char no_trials[] = "no trials";

static enum rt_status write(struct rt_reckon *r, const char *group, double count, double total,
                            struct rt_error *error)
{
    if (!(count >= 0 && count <= total)) {
        rt_fail(error, group == NULL ? RT_USE : RT_INPUT, "%s%s%.15g events of %.15g trials are no share",
                group == NULL ? "" : "row ", group == NULL ? "" : group, count, total);
        rt_error_remedy(error, "give a --count from 0 up to the --total");
        return group == NULL ? RT_USE : RT_INPUT;
    }
    struct rt_limits wilson = rt_wilson_limits(count, total);
    struct rt_limits exact = rt_exact_limits(count, total);
    rt_reckon_row(r, "estimate", group, NAN, count / total, no_trials);
    rt_reckon_row(r, "wilson_lower", group, NAN, wilson.lower, no_trials);
    rt_reckon_row(r, "wilson_upper", group, NAN, wilson.upper, no_trials);
    rt_reckon_row(r, "exact_lower", group, NAN, exact.lower, no_trials);
    rt_reckon_row(r, "exact_upper", group, NAN, exact.upper, no_trials);
    return RT_OK;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    return rt_reckon_number_pairs(r, "--count", "--total", write, error);
}

const struct rt_reckon_method rt_reckon_proportion = {
    "proportion",
    "a share of independent trials: Wilson and exact limits",
    "estimate wilson_lower wilson_upper exact_lower exact_upper",
    notes,
    options,
    run};
