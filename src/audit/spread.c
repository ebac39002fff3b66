#include "spread.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdlib.h>

/* Values less the mean of their group; the sum of their squares in *squares. */
static double *centred(const double *values, const size_t *group, size_t groups, size_t n, double *squares)
{
    double *sum = rt_new_array(2 * groups + 1, sizeof *sum), *rest = rt_new_array(n + 1, sizeof *rest);
    *squares = 0.0;
    for (size_t i = 0; sum != NULL && rest != NULL && i < n; i++) {
        size_t g = group == NULL ? 0 : group[i];
        sum[2 * g] += values[i];
        sum[2 * g + 1] += 1.0;
    }
    for (size_t i = 0; sum != NULL && rest != NULL && i < n; i++) {
        size_t g = group == NULL ? 0 : group[i];
        rest[i] = values[i] - sum[2 * g] / sum[2 * g + 1];
        *squares += rest[i] * rest[i];
    }
    if (sum == NULL) {
        free(rest);
        rest = NULL;
    }
    free(sum);
    return rest;
}

/* Sums over patients: of squared sizes, and the sum of squares between them. */
static void sum_patients(const double *rest, const size_t *patient, size_t n, struct spread *spread,
                         double *sizes, double *between)
{
    *sizes = *between = 0.0;
    for (size_t i = 0; i < n;) {
        const size_t code = patient[i];
        double m = 0.0, sum = 0.0;
        for (; i < n && patient[i] == code; i++) {
            m += 1.0;
            sum += rest[i];
        }
        spread->patients++;
        *sizes += m * m;
        *between += sum * sum / m;
    }
}

enum rt_status spread_of(const double *values, const size_t *group, size_t groups, const size_t *patient,
                         size_t n, struct spread *spread, struct rt_error *error)
{
    double squares = 0.0, sizes = 0.0, between = 0.0, sum = 0.0, whole = 0.0;
    const double count = (double)n;
    *spread = (struct spread){.n = n, .mean = NAN, .sd = NAN, .per_patient = 1.0};
    double *rest = centred(values, group, groups, n, &squares);
    if (rest == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < n; i++) {
        sum += values[i];
        whole += rest[i];
    }
    sum_patients(rest, patient, n, spread, &sizes, &between);
    if (n > 0) {
        spread->mean = sum / count;
        spread->per_patient = sizes / count;
        between -= whole * whole / count;
    }
    if (n > groups)
        spread->sd = sqrt(squares / (count - (double)groups));
    const double patients = (double)spread->patients;
    if (spread->patients > 1 && n > spread->patients) {
        double m0 = (count - sizes / count) / (patients - 1.0);
        double msb = between / (patients - 1.0), msw = (squares - between) / (count - patients);
        double icc = (msb - msw) / (msb + (m0 - 1.0) * msw);
        spread->icc = icc > 0.0 ? fmin(icc, 1.0) : 0.0;
    }
    free(rest);
    return RT_OK;
}

struct rt_clustering clustering_of(const struct spread *spread)
{
    return (struct rt_clustering){.per_cluster = spread->per_patient, .icc = spread->icc};
}
