/* Run lengths of the CUSUM with a constant p, from the states of one excursion away from 0. */
#include "ridgetally/stats/cusum.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <string.h>

#define LARGEST_LIMIT 60.0
#define LARGEST_RUN   1e15
#define NEGLIGIBLE    1e-18 /* of the probability gathered so far */
enum { MOST_CELLS = 400000000, WIDEST = 4000000, MOST_CASES = 100000 };

static const char too_many[] = "too many states: the steps are far smaller than the limit";
static const char too_rare[] = "longer than 1e15 cases";

/* The walk: the larger step is the outer one, the smaller the inner one; one goes up and the other down. The state after
 * k outer and m inner steps lies at value(k, m); a row holds all m of one k. */
struct walk {
    double outer, inner; /* sizes */
    bool inner_up;
    double outer_share, inner_share; /* probabilities of the steps */
    double limit;
};

/* What one cycle (from 0 to the next return to 0, or to a signal) adds up to. */
struct cycle {
    double length;                 /* expected cases */
    double alarm;                  /* probability that it ends in a signal */
    double *alarm_at, *renewal_at; /* by number of cases 1..cases; NULL when not wanted */
    size_t cases;
    bool too_long;
};

struct row {
    double *mass;
    size_t first; /* m of mass[0] */
};

static double value_of(const struct walk *walk, size_t k, size_t m)
{
    double outer = (double)k * walk->outer;
    double inner = (double)m * walk->inner;
    return walk->inner_up ? inner - outer : outer - inner;
}

static size_t first_of(const struct walk *walk, size_t k)
{
    double outer = (double)k * walk->outer;
    double first = floor((walk->inner_up ? outer : outer - walk->limit) / walk->inner) - 2;
    return first > 0 ? (size_t)first : 0;
}

static bool make_walk(struct walk *walk, double p, double p0, double odds_ratio, double limit)
{
    double event = fabs(rt_cusum_score(true, p0, odds_ratio));
    double other = fabs(rt_cusum_score(false, p0, odds_ratio));
    bool event_outer = event >= other;
    *walk = (struct walk){
        .outer = event_outer ? event : other,
        .inner = event_outer ? other : event,
        .inner_up = event_outer == (odds_ratio < 1),
        .outer_share = event_outer ? p : 1 - p,
        .inner_share = event_outer ? 1 - p : p,
        .limit = limit,
    };
    return walk->inner > 0;
}

static void add_at(double *at, size_t cases, size_t t, double mass)
{
    if (at != NULL && t <= cases)
        at[t] += mass;
}

/* Move mass from (k, m) by one step, where it lands at (k_to, m_to). */
static void step(const struct walk *walk, struct cycle *cycle, struct row *to, size_t k_to, size_t m_to,
                 double mass)
{
    double value = value_of(walk, k_to, m_to);
    if (value > walk->limit) {
        cycle->alarm += mass;
        add_at(cycle->alarm_at, cycle->cases, k_to + m_to, mass);
    } else if (value <= 0) {
        add_at(cycle->renewal_at, cycle->cases, k_to + m_to, mass);
    } else {
        to->mass[m_to - to->first] += mass;
    }
}

/* Pass through row k; returns the mass handed to the next row. */
static double pass_row(const struct walk *walk, struct cycle *cycle, size_t k, struct row *row,
                       struct row *next, size_t width)
{
    double handed = 0;
    memset(next->mass, 0, (width + 1) * sizeof *next->mass);
    next->first = first_of(walk, k + 1);
    for (size_t i = 0; i < width; i++) {
        double mass = row->mass[i];
        if (mass == 0)
            continue;
        size_t m = row->first + i;
        cycle->length += mass;
        step(walk, cycle, row, k, m + 1, mass * walk->inner_share);
        step(walk, cycle, next, k + 1, m, mass * walk->outer_share);
        handed += mass * walk->outer_share;
    }
    return handed;
}

static enum rt_status add_up_cycle(const struct walk *walk, struct cycle *cycle, struct rt_error *error)
{
    cycle->too_long = walk->limit / walk->inner > WIDEST;
    if (cycle->too_long)
        return RT_OK;
    size_t width = (size_t)(walk->limit / walk->inner) + 8;
    double *cells = rt_new_array(2 * (width + 1), sizeof *cells);
    if (cells == NULL)
        return rt_fail_memory(error);
    struct row row = {cells, 0};
    struct row next = {cells + width + 1, 0};
    row.mass[0] = 1; /* at 0 */
    double handed = 1;
    for (size_t k = 0; handed > NEGLIGIBLE * fmin(cycle->alarm, 1) && !cycle->too_long; k++) {
        handed = pass_row(walk, cycle, k, &row, &next, width);
        struct row swap = row;
        row = next;
        next = swap;
        cycle->too_long = (double)k * (double)width > MOST_CELLS;
        if (cycle->alarm_at != NULL && k > cycle->cases)
            break;
    }
    free(cells);
    return RT_OK;
}

static const char *why_not(double p, double p0, const struct rt_cusum_design *design)
{
    if (!(p0 > 0 && p0 < 1) || !(p >= 0 && p <= 1))
        return "the probability of an event is not strictly between 0 and 1";
    if (!(design->odds_ratio > 0) || design->odds_ratio == 1)
        return "an odds ratio of 1 is no change";
    if (p == (design->odds_ratio > 1 ? 0 : 1))
        return "no signal can come";
    return NULL;
}

static void set_run_length(const struct cycle *cycle, struct rt_estimate *run_length)
{
    double value = cycle->length / cycle->alarm;
    *run_length = rt_undefined(NULL);
    if (cycle->too_long)
        run_length->reason = too_many;
    else if (!(value <= LARGEST_RUN))
        run_length->reason = too_rare;
    else
        run_length->value = value;
}

enum rt_status rt_cusum_run_length(double p, double p0, const struct rt_cusum_design *design,
                                   struct rt_estimate *run_length, struct rt_error *error)
{
    struct walk walk;
    struct cycle cycle = {0};
    *run_length = rt_undefined(why_not(p, p0, design));
    if (run_length->reason != NULL)
        return RT_OK;
    if (!make_walk(&walk, p, p0, design->odds_ratio, design->limit)) {
        run_length->reason = "the score of a case is too small to be seen";
        return RT_OK;
    }
    enum rt_status status = add_up_cycle(&walk, &cycle, error);
    if (status == RT_OK)
        set_run_length(&cycle, run_length);
    return status;
}

/* Cycles are independent: a signal within n cases comes in the first cycle, or that one ends at t and it comes within the
 * n - t left. */
static double renew(const struct cycle *cycle, double *within)
{
    size_t last = cycle->cases;
    while (last > 0 && cycle->renewal_at[last] < 1e-25)
        last--;
    double first = 0;
    within[0] = 0;
    for (size_t n = 1; n <= cycle->cases; n++) {
        first += cycle->alarm_at[n];
        double later = 0;
        for (size_t t = 1; t <= n && t <= last; t++)
            later += cycle->renewal_at[t] * within[n - t];
        within[n] = first + later;
    }
    return within[cycle->cases];
}

enum rt_status rt_cusum_signal_probability(double p, double p0, const struct rt_cusum_design *design,
                                           size_t cases, struct rt_estimate *probability,
                                           struct rt_error *error)
{
    struct walk walk;
    *probability = rt_undefined(why_not(p, p0, design));
    if (probability->reason == NULL && cases > MOST_CASES)
        probability->reason = "more than 100000 cases";
    if (probability->reason == NULL && !make_walk(&walk, p, p0, design->odds_ratio, design->limit))
        probability->reason = "the score of a case is too small to be seen";
    if (probability->reason != NULL)
        return RT_OK;
    double *arrays = rt_new_array(3 * (cases + 1), sizeof *arrays);
    if (arrays == NULL)
        return rt_fail_memory(error);
    struct cycle cycle = {.alarm_at = arrays, .renewal_at = arrays + cases + 1, .cases = cases};
    enum rt_status status = add_up_cycle(&walk, &cycle, error);
    if (status == RT_OK && cycle.too_long)
        probability->reason = too_many;
    else if (status == RT_OK)
        probability->value = renew(&cycle, arrays + 2 * (cases + 1));
    free(arrays);
    return status;
}

/* --- limits -------------------------------------------------------------------------------------------- */

struct wish {
    double p0;
    struct rt_cusum_design design;
    double run_length; /* at least; NaN: alarm within cases at most */
    double alarm;
    size_t cases;
    const char *given_up; /* why the search ended without an answer */
};

/* Is this limit large enough? A run beyond 1e15 cases is; an answer that cannot be computed ends the search. */
static enum rt_status is_enough(struct wish *wish, double limit, bool *enough, struct rt_error *error)
{
    struct rt_estimate answer;
    wish->design.limit = limit;
    enum rt_status status;
    if (isnan(wish->run_length)) {
        status = rt_cusum_signal_probability(wish->p0, wish->p0, &wish->design, wish->cases, &answer, error);
        *enough = !(answer.value > wish->alarm);
    } else {
        status = rt_cusum_run_length(wish->p0, wish->p0, &wish->design, &answer, error);
        *enough = !(answer.value < wish->run_length);
    }
    wish->given_up = answer.reason == too_rare ? NULL : answer.reason;
    return status;
}

static enum rt_status find_limit(struct wish *wish, struct rt_estimate *limit, struct rt_error *error)
{
    *limit = rt_undefined(why_not(wish->p0, wish->p0, &wish->design));
    if (limit->reason != NULL)
        return RT_OK;
    double low = 0;
    double high = 1.0 / 1024;
    bool enough = false;
    enum rt_status status = is_enough(wish, high, &enough, error);
    while (status == RT_OK && wish->given_up == NULL && !enough && high < LARGEST_LIMIT) {
        low = high;
        high *= 2;
        status = is_enough(wish, high, &enough, error);
    }
    if (status == RT_OK && !enough)
        limit->reason = "no limit up to 60 is large enough";
    while (status == RT_OK && wish->given_up == NULL && enough && high - low > 1e-9) {
        double middle = 0.5 * (low + high);
        bool reached = false;
        status = is_enough(wish, middle, &reached, error);
        *(reached ? &high : &low) = middle;
    }
    if (wish->given_up != NULL)
        limit->reason = wish->given_up;
    limit->value = limit->reason == NULL ? high : NAN;
    return status;
}

enum rt_status rt_cusum_limit_for_run_length(double p0, const struct rt_cusum_design *design,
                                             double run_length, struct rt_estimate *limit,
                                             struct rt_error *error)
{
    struct wish wish = {p0, *design, run_length, NAN, 0, NULL};
    return find_limit(&wish, limit, error);
}

enum rt_status rt_cusum_limit_for_false_alarm(double p0, const struct rt_cusum_design *design, double alarm,
                                              size_t cases, struct rt_estimate *limit, struct rt_error *error)
{
    struct wish wish = {p0, *design, NAN, alarm, cases, NULL};
    return find_limit(&wish, limit, error);
}
