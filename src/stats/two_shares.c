#include "ridgetally/stats/two_shares.h"

#include "ridgetally/stats/proportion.h"
#include "ridgetally/stats/tail.h"

#include <float.h>
#include <math.h>

/* Two-sided p of Fisher's test. Probabilities relative to the most probable table, outwards by their ratios, so that
 * nothing large is formed. */
struct hypergeometric {
    double events, first, all; /* margins: events of both groups, trials of the first, of both */
    double lowest, highest;    /* counts the first group can have */
};

/* P(count + 1) / P(count). */
static double step_up(const struct hypergeometric *h, double count)
{
    return (h->events - count) * (h->first - count) /
           ((count + 1) * (h->all - h->events - h->first + count + 1));
}

/* Probability of `count` over that of the mode. */
static double relative(const struct hypergeometric *h, double mode, double count)
{
    double weight = 1;
    for (double k = mode; k < count && weight >= DBL_MIN; k++)
        weight *= step_up(h, k);
    for (double k = mode; k > count && weight >= DBL_MIN; k--)
        weight /= step_up(h, k - 1);
    return weight;
}

/* Add the weights from the mode on in one direction: all of them to *total, those at most `bound` to *extreme. */
static void add_side(const struct hypergeometric *h, double mode, int direction, double bound, double *total,
                     double *extreme)
{
    double weight = 1;
    double count = mode;
    while (weight >= DBL_MIN) { /* below, a weight times 0.99 rounds to itself and the walk would not end */
        if (direction > 0 ? count >= h->highest : count <= h->lowest)
            break;
        weight = direction > 0 ? weight * step_up(h, count) : weight / step_up(h, count - 1);
        count += direction;
        *total += weight;
        if (weight <= bound)
            *extreme += weight;
    }
}

static double exact_p(double count1, double total1, double count2, double total2)
{
    struct hypergeometric h = {.events = count1 + count2, .first = total1, .all = total1 + total2};
    h.lowest = fmax(0, h.events - total2);
    h.highest = fmin(h.events, total1);
    double mode = floor((h.events + 1) * (h.first + 1) / (h.all + 2));
    mode = fmin(h.highest, fmax(h.lowest, mode));
    double bound = relative(&h, mode, count1) * (1 + 1e-7);
    double total = 1;
    double extreme = bound >= 1 ? 1 : 0;
    add_side(&h, mode, 1, bound, &total, &extreme);
    add_side(&h, mode, -1, bound, &total, &extreme);
    return fmin(1, extreme / total);
}

static struct rt_estimate difference_of(double count1, double total1, double count2, double total2)
{
    struct rt_limits first = rt_wilson_limits(count1, total1);
    struct rt_limits second = rt_wilson_limits(count2, total2);
    double p1 = count1 / total1;
    double p2 = count2 / total2;
    struct rt_estimate difference = rt_undefined(NULL);
    difference.value = p1 - p2;
    difference.lower = difference.value - hypot(p1 - first.lower, second.upper - p2);
    difference.upper = difference.value + hypot(first.upper - p1, p2 - second.lower);
    return difference;
}

/* value with the error of its log; p and limits on the log scale. */
static struct rt_estimate ratio_of(double value, double log_error)
{
    struct rt_estimate ratio = rt_undefined(NULL);
    ratio.value = log(value);
    ratio.standard_error = log_error;
    rt_normal_inference(&ratio);
    ratio.value = value;
    ratio.lower = exp(ratio.lower);
    ratio.upper = exp(ratio.upper);
    ratio.reason = log_error > 0 ? NULL : "the ratio has no error: every trial is an event";
    return ratio;
}

struct rt_two_shares rt_two_shares(double count1, double total1, double count2, double total2)
{
    struct rt_estimate empty = rt_undefined("a group has no trials");
    struct rt_two_shares result = {empty, empty, empty, empty, empty};
    if (!(total1 > 0 && total2 > 0))
        return result;
    double rest1 = total1 - count1;
    double rest2 = total2 - count2;
    result.difference = difference_of(count1, total1, count2, total2);
    result.risk_ratio = rt_undefined("a group has no events");
    if (count1 > 0 && count2 > 0)
        result.risk_ratio = ratio_of(count1 / total1 / (count2 / total2),
                                     sqrt(rest1 / count1 / total1 + rest2 / count2 / total2));
    result.odds_ratio = rt_undefined("a cell of the table is 0");
    if (count1 > 0 && count2 > 0 && rest1 > 0 && rest2 > 0)
        result.odds_ratio = ratio_of(count1 / rest1 / (count2 / rest2),
                                     sqrt(1 / count1 + 1 / rest1 + 1 / count2 + 1 / rest2));
    result.chi_square = rt_undefined("no events, or nothing but events");
    if (count1 + count2 > 0 && rest1 + rest2 > 0) {
        double all = total1 + total2;
        double cross = count1 * rest2 - count2 * rest1;
        result.chi_square = rt_chi_square_test(
            cross / (count1 + count2) * cross / (rest1 + rest2) * all / total1 / total2, 1);
    }
    result.exact = rt_undefined(NULL);
    result.exact.p = exact_p(count1, total1, count2, total2);
    return result;
}
