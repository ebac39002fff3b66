#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/cusum.h"

#include <string.h>

static const struct rt_reckon_option options[] = {
    {"--event", RT_OPTION_EVENTS_COLUMN, true, NULL, "events, in time order", NULL},
    {"--p0", RT_OPTION_NUMBER_OR_COLUMN, true, NULL, "probability of an event when nothing has changed",
     NULL},
    {"--odds-ratio", RT_OPTION_POSITIVE, false, "2",
     "change watched for: odds times N (up) or divided by N (down)", NULL},
    {"--p1", RT_OPTION_SHARE, false, NULL, "the changed probability, instead of --odds-ratio (--p0 a number)",
     NULL},
    {"--direction", RT_OPTION_CHOICE, false, "up", "more events, or fewer", "up|down"},
    {"--limit", RT_OPTION_POSITIVE, false, NULL, "a signal when the sum is above N", NULL},
    {"--run-length", RT_OPTION_POSITIVE, false, NULL,
     "instead of --limit: cases between false alarms on average", NULL},
    {"--false-alarms", RT_OPTION_SHARE, false, NULL, "instead of --limit: probability of a false alarm ...",
     NULL},
    {"--within", RT_OPTION_COUNT, false, NULL, "... within N cases", NULL},
    {"--reset", RT_OPTION_FLAG, false, NULL, "begin again at 0 after a signal", NULL},
    {"--correlation", RT_OPTION_NUMBER, false, NULL,
     "with --cluster: of the events of one cluster, on the normal scale, 0 to below 1", NULL},
    {"--seed", RT_OPTION_COUNT, false, "1", "of the simulated run lengths", NULL},
    {"--times", RT_OPTION_COUNT, false, "2000", "simulated streams", NULL},
    RT_RECKON_CLUSTER,
    RT_RECKON_END};

static const char notes[] =
    "score: log-likelihood ratio of each case, ln(R/(1 - p + R p)) after an event, ln(1/(1 - p + R p)) "
    "else;\n"
    "cusum = max(0, cusum before + score); signal: 1 above the limit (Steiner et al. 2000, Biostatistics\n"
    "1:441). Down: R = 1/N, drawn upwards too. A learning curve (Biau et al. 2008, Br J Surg 95:925) is\n"
    "--p0 not acceptable, --p1 acceptable: a signal says the operator has become acceptable.\n"
    "run_length: cases to the first signal on average while nothing has changed; exact by the Markov chain\n"
    "of the chart when p0 is a number and there are no clusters; else from streams simulated out of the\n"
    "file's own cases, clusters drawn whole, events of a cluster tied by --correlation (run_length_error: "
    "its\n"
    "standard error). The simulation runs when --run-length, --times or --seed asks for it.\n";

struct input {
    int *events;
    double *p0;
    bool simulated;
    struct rt_cusum_stream stream;
    struct rt_cusum_design design;
};

static enum rt_status fail_use(struct rt_error *error, const char *what, const char *remedy)
{
    rt_fail(error, RT_USE, "%s", what);
    rt_error_remedy(error, "%s", remedy);
    return RT_USE;
}

static bool p0_is_number(const struct rt_reckon *r)
{
    return !isnan(rt_reckon_number(r, "--p0"));
}

static enum rt_status read_odds_ratio(struct rt_reckon *r, double *odds_ratio, struct rt_error *error)
{
    bool down = strcmp(rt_reckon_text(r, "--direction"), "down") == 0;
    double ratio = rt_reckon_number(r, "--odds-ratio");
    if (rt_reckon_given(r, "--p1")) {
        double p0 = rt_reckon_number(r, "--p0");
        if (rt_reckon_given(r, "--odds-ratio") || rt_reckon_given(r, "--direction"))
            return fail_use(error, "--p1 says direction and size of the change",
                            "leave --odds-ratio and --direction out");
        if (!(p0 > 0 && p0 < 1) || p0 == rt_reckon_number(r, "--p1"))
            return fail_use(error, "--p1 needs another number --p0 above 0 and below 1",
                            "with a column of p0 use --odds-ratio");
        *odds_ratio = rt_cusum_odds_ratio(p0, rt_reckon_number(r, "--p1"));
        return RT_OK;
    }
    if (!(ratio > 1))
        return fail_use(error, "--odds-ratio must be above 1", "choose the direction with --direction");
    *odds_ratio = down ? 1 / ratio : ratio;
    return RT_OK;
}

static enum rt_status check_limit_options(struct rt_reckon *r, const struct input *input,
                                          struct rt_error *error)
{
    int ways = rt_reckon_given(r, "--limit") + rt_reckon_given(r, "--run-length") +
               rt_reckon_given(r, "--false-alarms");
    double correlation = rt_reckon_number(r, "--correlation");
    if (ways != 1)
        return fail_use(error, "the limit is not clear",
                        "give one of --limit, --run-length and --false-alarms");
    if (rt_reckon_given(r, "--false-alarms") && (input->simulated || !(rt_reckon_number(r, "--within") >= 1)))
        return fail_use(error, "--false-alarms needs --within N and a number --p0, without --cluster",
                        "use --run-length with a column of p0 or with clusters");
    if (r->clusters.of != NULL && input->simulated && !(correlation >= 0 && correlation < 1))
        return fail_use(error, "--cluster needs --correlation N, 0 or more and below 1",
                        "say how closely the events of one cluster go together");
    if (rt_reckon_number(r, "--times") < 2)
        return fail_use(error, "--times must be 2 or more", "2000 streams give about 2% error");
    return RT_OK;
}

static enum rt_status read_input(struct rt_reckon *r, struct input *input, struct rt_error *error)
{
    *input = (struct input){.simulated = !p0_is_number(r) || r->clusters.of != NULL};
    enum rt_status status = check_limit_options(r, input, error);
    if (status == RT_OK)
        status = read_odds_ratio(r, &input->design.odds_ratio, error);
    if (status == RT_OK && p0_is_number(r) &&
        !(rt_reckon_number(r, "--p0") > 0 && rt_reckon_number(r, "--p0") < 1))
        return fail_use(error, "--p0 must be above 0 and below 1", "give a probability, like 0.05");
    if (status == RT_OK)
        status = rt_reckon_events(r, "--event", &input->events, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, "--p0", &input->p0, error);
    for (size_t i = 0; status == RT_OK && i < r->n; i++)
        if (!(input->p0[i] >= 0 && input->p0[i] <= 1))
            status = rt_reckon_fail_cell(r, i, rt_reckon_text(r, "--p0"), "is no probability",
                                         "write a number from 0 to 1", error);
    input->design.reset = rt_reckon_given(r, "--reset");
    double correlation = rt_reckon_number(r, "--correlation");
    input->stream =
        (struct rt_cusum_stream){input->p0, r->n, r->clusters, correlation > 0 ? correlation : 0, 1};
    return status;
}

/* Find the limit, write it and the run length that belongs to it. */
static enum rt_status reckon_limit(struct rt_reckon *r, struct input *input, struct rt_error *error)
{
    double p0 = rt_reckon_number(r, "--p0");
    double wanted = rt_reckon_number(r, "--run-length");
    unsigned long seed = (unsigned long)rt_reckon_number(r, "--seed");
    size_t times = (size_t)rt_reckon_number(r, "--times");
    struct rt_estimate limit = {.value = rt_reckon_number(r, "--limit")};
    enum rt_status status = RT_OK;
    if (r->n == 0 && input->simulated && !rt_reckon_given(r, "--limit"))
        limit = rt_undefined("no cases");
    else if (rt_reckon_given(r, "--false-alarms"))
        status = rt_cusum_limit_for_false_alarm(p0, &input->design, rt_reckon_number(r, "--false-alarms"),
                                                (size_t)rt_reckon_number(r, "--within"), &limit, error);
    else if (rt_reckon_given(r, "--run-length") && input->simulated)
        status = rt_cusum_simulated_limit(&input->stream, &input->design, wanted, seed, times, &limit, error);
    else if (rt_reckon_given(r, "--run-length"))
        status = rt_cusum_limit_for_run_length(p0, &input->design, wanted, &limit, error);
    input->design.limit = limit.value;
    if (status == RT_OK)
        rt_reckon_row(r, "limit", NULL, NAN, limit.value, limit.reason);
    return status;
}

static enum rt_status reckon_run_length(struct rt_reckon *r, const struct input *input,
                                        struct rt_error *error)
{
    struct rt_estimate length = rt_undefined("no limit, or no cases");
    bool asked =
        rt_reckon_given(r, "--run-length") || rt_reckon_given(r, "--times") || rt_reckon_given(r, "--seed");
    enum rt_status status = RT_OK;
    if (input->simulated && !asked)
        return RT_OK;
    if (isnan(input->design.limit) || (input->simulated && r->n == 0))
        ;
    else if (input->simulated)
        status = rt_cusum_simulated_run_length(&input->stream, &input->design,
                                               (unsigned long)rt_reckon_number(r, "--seed"),
                                               (size_t)rt_reckon_number(r, "--times"), &length, error);
    else
        status = rt_cusum_run_length(rt_reckon_number(r, "--p0"), rt_reckon_number(r, "--p0"), &input->design,
                                     &length, error);
    if (status != RT_OK)
        return status;
    rt_reckon_row(r, "run_length", NULL, NAN, length.value, length.reason);
    if (input->simulated)
        rt_reckon_row(r, "run_length_error", NULL, NAN, length.standard_error, length.reason);
    return RT_OK;
}

static void reckon_summary(struct rt_reckon *r, const struct input *input,
                           const struct rt_cusum_point *points)
{
    double first = NAN;
    double largest = r->n > 0 ? 0 : NAN;
    for (size_t i = r->n; i-- > 0;) {
        first = points[i].signal ? (double)(i + 1) : first;
        largest = fmax(largest, points[i].cusum);
    }
    rt_reckon_row(r, "first_signal", NULL, NAN, first, isnan(input->design.limit) ? "no limit" : "no signal");
    rt_reckon_row(r, "largest", NULL, NAN, largest, "no cases");
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    struct input input;
    enum rt_status status = read_input(r, &input, error);
    if (status == RT_OK)
        status = reckon_limit(r, &input, error);
    if (status == RT_OK)
        status = reckon_run_length(r, &input, error);
    struct rt_cusum_point *points = status == RT_OK ? rt_reckon_array(r, r->n, sizeof *points, error) : NULL;
    if (points == NULL)
        return status == RT_OK ? RT_MEMORY : status;
    rt_cusum(input.events, input.p0, r->n, &input.design, points);
    reckon_summary(r, &input, points);
    for (size_t i = 0; i < r->n; i++)
        rt_reckon_row(r, "score", NULL, (double)(i + 1), points[i].score, NULL);
    for (size_t i = 0; i < r->n; i++)
        rt_reckon_row(r, "cusum", NULL, (double)(i + 1), points[i].cusum, NULL);
    for (size_t i = 0; i < r->n; i++)
        rt_reckon_row(r, "signal", NULL, (double)(i + 1),
                      isnan(input.design.limit) ? NAN : (double)points[i].signal, "no limit");
    return RT_OK;
}

const struct rt_reckon_method rt_reckon_cusum = {
    "cusum",
    "cumulative sum of log-likelihood ratios for events",
    "limit run_length run_length_error first_signal largest; score cusum signal (at = point)",
    notes,
    options,
    run};
