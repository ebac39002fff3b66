#include "ridgetally/stats/pair_difference.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

/* Differences are always computed as second - first and compared with the shift afterwards, so that equal differences
 * of decimal readings are treated alike everywhere. They fall with first and rise with second, also when rounded. */

/* How many of the ascending firsts leave second - first above shift (or at it, with `at`). */
static int64_t firsts_above(const double *first, size_t n, double second, double shift, bool at)
{
    size_t low = 0;
    size_t high = n;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        double difference = second - first[middle];
        if (difference > shift || (at && difference == shift))
            low = middle + 1;
        else
            high = middle;
    }
    return (int64_t)low;
}

/* How many of the ascending seconds leave second - first above shift (or at it, with `at`). */
static int64_t seconds_above(const double *second, size_t n, double first, double shift, bool at)
{
    size_t low = 0;
    size_t high = n;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        double difference = second[middle] - first;
        if (difference > shift || (at && difference == shift))
            high = middle;
        else
            low = middle + 1;
    }
    return (int64_t)(n - low);
}

int64_t rt_score_of_second(double second, int capped, const struct rt_sorted_sample *first, double shift)
{
    int64_t at_least = firsts_above(first->exact, first->exact_count, second, shift, true);
    if (capped)
        return (int64_t)(first->exact_count + first->capped_count) + at_least;
    return at_least + firsts_above(first->exact, first->exact_count, second, shift, false) +
           firsts_above(first->capped, first->capped_count, second, shift, false);
}

int64_t rt_score_of_first(double first, int capped, const struct rt_sorted_sample *second, double shift)
{
    int64_t above = seconds_above(second->exact, second->exact_count, first, shift, false);
    if (capped)
        return above + (int64_t)second->capped_count;
    return above + seconds_above(second->exact, second->exact_count, first, shift, true) +
           seconds_above(second->capped, second->capped_count, first, shift, true) +
           (int64_t)second->capped_count;
}

/* The score lost by all pairs up to and including the shift. */
static int64_t lost_up_to(const struct rt_sorted_sample *first, const struct rt_sorted_sample *second,
                          double shift)
{
    int64_t exact = (int64_t)first->exact_count;
    int64_t capped = (int64_t)first->capped_count;
    int64_t lost = 0;
    for (size_t j = 0; j < second->exact_count; j++) {
        lost += 2 * (exact - firsts_above(first->exact, first->exact_count, second->exact[j], shift, false));
        lost += 2 * capped - firsts_above(first->capped, first->capped_count, second->exact[j], shift, false);
    }
    for (size_t j = 0; j < second->capped_count; j++)
        lost +=
            exact - firsts_above(first->exact, first->exact_count, second->capped[j], shift, false) + capped;
    return lost;
}

/* Doubles in ascending order as unsigned numbers, so that they can be bisected to the last bit. */
static double from_order(uint64_t order)
{
    uint64_t bits = order >> 63 ? order & ~(UINT64_C(1) << 63) : ~order;
    double value;
    memcpy(&value, &bits, sizeof value);
    return value;
}

static uint64_t to_order(double value)
{
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    return bits >> 63 ? ~bits : bits | UINT64_C(1) << 63;
}

double rt_difference_at(const struct rt_sorted_sample *first, const struct rt_sorted_sample *second,
                        int64_t lost)
{
    uint64_t low = to_order(-INFINITY);
    uint64_t high = to_order(INFINITY);
    if (lost_up_to(first, second, INFINITY) < lost || lost_up_to(first, second, -INFINITY) >= lost)
        return NAN;
    while (high - low > 1) {
        uint64_t middle = low + (high - low) / 2;
        if (lost_up_to(first, second, from_order(middle)) >= lost)
            high = middle;
        else
            low = middle;
    }
    double value = from_order(high);
    return value == 0 ? 0 : value; /* never -0 */
}

/* How many averages of a pair, or of a value with itself, are at most v. */
static int64_t averages_up_to(const double *d, size_t n, double v)
{
    int64_t count = 0;
    size_t j = n; /* d[i] with d[0..j-1] averages at most v; j falls as i grows */
    for (size_t i = 0; i < n; i++) {
        while (j > 0 && d[i] / 2 + d[j - 1] / 2 > v)
            j--;
        count += j > i ? (int64_t)(j - i) : 0;
    }
    return count;
}

double rt_average_at(const double *d, size_t n, int64_t k)
{
    uint64_t low = to_order(-INFINITY);
    uint64_t high = to_order(INFINITY);
    if (k < 1 || averages_up_to(d, n, INFINITY) < k)
        return NAN;
    while (high - low > 1) {
        uint64_t middle = low + (high - low) / 2;
        if (averages_up_to(d, n, from_order(middle)) >= k)
            high = middle;
        else
            low = middle;
    }
    double value = from_order(high);
    return value == 0 ? 0 : value;
}
