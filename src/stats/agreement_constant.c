#include "ridgetally/stats/agreement.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/agreement_limits.h"
#include "ridgetally/stats/jackknife.h"
#include "ridgetally/stats/moments.h"
#include "ridgetally/stats/order.h"

#include <math.h>
#include <stdlib.h>

/* One subject: m readings by each method. */
struct subject {
    double m;
    double difference; /* mean b - mean a */
    double squares_a;  /* within the subject */
    double squares_b;
};

/* Sums over subjects; one can be taken out again. Differences are from `centre`, which keeps them small. */
struct sums {
    double centre;
    double subjects;
    double n;
    double inverse_sizes;
    double deviation;
    double squared;
    double squares_a;
    double squares_b;
};

static void add_subject(struct sums *sums, const struct subject *subject, double times)
{
    double apart = subject->difference - sums->centre;
    sums->subjects += times;
    sums->n += times * subject->m;
    sums->inverse_sizes += times / subject->m;
    sums->deviation += times * apart;
    sums->squared += times * apart * apart;
    sums->squares_a += times * subject->squares_a;
    sums->squares_b += times * subject->squares_b;
}

static double within(double squares, const struct sums *sums)
{
    return sums->n > sums->subjects ? fmax(0, squares) / (sums->n - sums->subjects) : NAN;
}

/* Bias and standard deviation of the difference of two single readings. */
static void judge(const struct sums *sums, double *bias, double *sd)
{
    double shift = sums->deviation / sums->subjects;
    *bias = sums->centre + shift;
    *sd = NAN;
    if (sums->subjects < 2)
        return;
    double of_means = fmax(0, sums->squared - sums->deviation * shift) / (sums->subjects - 1);
    double within_both = within(sums->squares_a, sums) + within(sums->squares_b, sums);
    double share = 1 - sums->inverse_sizes / sums->subjects;
    *sd = sqrt(of_means + (share > 0 && within_both > 0 ? share * within_both : 0));
}

/* Replicates, one column of `count` each. */
enum { BIAS, SD, COLUMNS };

static void jackknife(const struct subject *subject, size_t count, double multiple, double *replicates,
                      struct rt_replicate_agreement *result)
{
    struct rt_moments differences = {0};
    for (size_t s = 0; s < count; s++)
        rt_moments_add(&differences, subject[s].difference);
    struct sums sums = {.centre = differences.mean};
    for (size_t s = 0; s < count; s++)
        add_subject(&sums, &subject[s], 1);
    for (size_t s = 0; s < count; s++) {
        struct sums rest = sums;
        double *own = replicates + s;
        add_subject(&rest, &subject[s], -1);
        judge(&rest, &own[BIAS * count], &own[SD * count]);
    }
    double bias = NAN;
    double sd = NAN;
    judge(&sums, &bias, &sd);
    result->variance_a = within(sums.squares_a, &sums);
    result->variance_b = within(sums.squares_b, &sums);
    result->bias = rt_jackknife_estimate(bias, 0, replicates + BIAS * count, count);
    result->sd = rt_jackknife_positive(sd, replicates + SD * count, count);
    double correlation = rt_jackknife_correlation(replicates + BIAS * count, replicates + SD * count, count);
    rt_limits_of_agreement(&result->bias, &result->sd, multiple, correlation, &result->lower_limit,
                           &result->upper_limit);
}

enum rt_status rt_agreement_constant(const double *a, const double *b, size_t n, double multiple,
                                     const struct rt_clusters *clusters,
                                     struct rt_replicate_agreement *result, struct rt_error *error)
{
    struct rt_estimate empty = rt_undefined("needs at least two subjects");
    *result = (struct rt_replicate_agreement){.bias = empty,
                                              .sd = empty,
                                              .lower_limit = empty,
                                              .upper_limit = empty,
                                              .variance_a = NAN,
                                              .variance_b = NAN};
    if (!rt_has_clusters(clusters) || !(multiple > 0))
        return rt_fail(error, RT_USE, "a constant true value needs subjects and a multiple above 0");
    struct rt_cluster_rows rows = {0};
    enum rt_status status = rt_gather_clusters(clusters, n, &rows, error);
    struct subject *subject = rt_new_array(rows.count, sizeof *subject);
    double *replicates = rt_new_array(rows.count * COLUMNS, sizeof *replicates);
    if (status == RT_OK && (subject == NULL || replicates == NULL))
        status = rt_fail_memory(error);
    for (size_t s = 0; status == RT_OK && s < rows.count; s++) {
        size_t size = rows.start[s + 1] - rows.start[s];
        struct rt_moments of_a = rt_moments_of(a, rows.row + rows.start[s], size);
        struct rt_moments of_b = rt_moments_of(b, rows.row + rows.start[s], size);
        subject[s] = (struct subject){of_a.n, of_b.mean - of_a.mean, of_a.squares, of_b.squares};
    }
    result->subjects = rows.count;
    if (status == RT_OK && rows.count > 0)
        jackknife(subject, rows.count, multiple, replicates, result);
    free(subject);
    free(replicates);
    rt_cluster_rows_release(&rows);
    return status;
}
