#include "ridgetally/stats/agreement.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/agreement_limits.h"
#include "ridgetally/stats/jackknife.h"
#include "ridgetally/stats/mean.h"
#include "ridgetally/stats/moments.h"
#include "ridgetally/stats/order.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>

static const char too_few[] = "needs at least two cases";
static const char too_few_patients[] = "needs at least two patients";
static const char no_spread[] = "all differences are equal, so there is no error to judge by";

static struct rt_estimate limit_of(double value, double error, double df)
{
    struct rt_estimate limit = rt_undefined(error > 0 ? NULL : no_spread);
    limit.value = value;
    limit.standard_error = error;
    limit.df = df;
    if (error > 0) {
        limit.lower = value - rt_t_975(df) * error;
        limit.upper = value + rt_t_975(df) * error;
    }
    return limit;
}

static void without_clusters(const double *differences, size_t count, double multiple,
                             struct rt_agreement *result)
{
    struct rt_moments m = rt_moments_of(differences, NULL, count);
    double n = m.n;
    double bias = result->bias.value;
    double s = sqrt(m.squares / (n - 1));
    if (s <= 1e-14 * fabs(bias))
        s = 0; /* rounding alone */
    struct rt_estimate *sd = &result->sd;
    *sd = rt_undefined(s > 0 ? NULL : no_spread);
    sd->value = s;
    sd->standard_error = s / sqrt(2 * (n - 1));
    sd->df = n - 1;
    if (s > 0) {
        sd->lower = s * sqrt((n - 1) / gsl_cdf_chisq_Qinv(0.025, n - 1));
        sd->upper = s * sqrt((n - 1) / gsl_cdf_chisq_Pinv(0.025, n - 1));
    }
    double error = s * sqrt(1 / n + multiple * multiple / (2 * (n - 1)));
    result->lower_limit = limit_of(bias - multiple * s, error, n - 1);
    result->upper_limit = limit_of(bias + multiple * s, error, n - 1);
}

/* Sums over patients that give the components of variance; a patient can be taken out again in constant time.
 * Deviations are from the whole sample's bias, which keeps them small. */
struct sums {
    double centre;
    double patients;
    double n;
    double size_squares; /* sum of m^2 */
    double deviation;    /* sum of m (mean - centre) */
    double squared;      /* sum of m (mean - centre)^2 */
    double within;       /* squares within patients */
};

static void add_patient(struct sums *sums, const struct rt_moments *patient, double times)
{
    double apart = patient->mean - sums->centre;
    sums->patients += times;
    sums->n += times * patient->n;
    sums->size_squares += times * patient->n * patient->n;
    sums->deviation += times * patient->n * apart;
    sums->squared += times * patient->n * apart * apart;
    sums->within += times * patient->squares;
}

struct components {
    double bias;
    double between; /* variances */
    double within;
    double sd;
};

static struct components components_of(const struct sums *sums)
{
    double shift = sums->deviation / sums->n;
    struct components parts = {.bias = sums->centre + shift, .within = NAN, .between = NAN, .sd = NAN};
    if (sums->patients < 2)
        return parts;
    double mean_between = fmax(0, sums->squared - sums->deviation * shift) / (sums->patients - 1);
    if (sums->n > sums->patients) {
        parts.within = fmax(0, sums->within) / (sums->n - sums->patients);
        double divisor = (sums->n - sums->size_squares / sums->n) / (sums->patients - 1);
        parts.between = fmax(0, (mean_between - parts.within) / divisor);
        parts.sd = sqrt(parts.between + parts.within);
    } else {
        parts.sd = sqrt(mean_between); /* one case each: the two components cannot be told apart */
    }
    return parts;
}

/* Replicates, one column of `patients` each. */
enum { BIAS, SD, COLUMNS };

static void jackknife(const struct rt_moments *patient, size_t patients, double multiple, double *replicates,
                      struct rt_agreement *result)
{
    struct sums sums = {.centre = result->bias.value};
    for (size_t c = 0; c < patients; c++)
        add_patient(&sums, &patient[c], 1);
    struct components whole = components_of(&sums);
    for (size_t c = 0; c < patients; c++) {
        struct sums rest_sums = sums;
        add_patient(&rest_sums, &patient[c], -1);
        struct components rest = components_of(&rest_sums);
        replicates[BIAS * patients + c] = rest.bias;
        replicates[SD * patients + c] = rest.sd;
    }
    result->sd_between = sqrt(whole.between);
    result->sd_within = sqrt(whole.within);
    result->sd = rt_jackknife_positive(whole.sd, replicates + SD * patients, patients);
    double correlation =
        rt_jackknife_correlation(replicates + BIAS * patients, replicates + SD * patients, patients);
    rt_limits_of_agreement(&result->bias, &result->sd, multiple, correlation, &result->lower_limit,
                           &result->upper_limit);
}

static enum rt_status with_clusters(const double *differences, size_t n, double multiple,
                                    const struct rt_clusters *clusters, struct rt_agreement *result,
                                    struct rt_error *error)
{
    struct rt_cluster_rows rows = {0};
    enum rt_status status = rt_gather_clusters(clusters, n, &rows, error);
    struct rt_moments *patient = rt_new_array(rows.count, sizeof *patient);
    double *replicates = rt_new_array(rows.count * COLUMNS, sizeof *replicates);
    if (status == RT_OK && (patient == NULL || replicates == NULL))
        status = rt_fail_memory(error);
    if (status == RT_OK && rows.count < 2) {
        result->sd = result->lower_limit = result->upper_limit = rt_undefined(too_few_patients);
    } else if (status == RT_OK) {
        for (size_t c = 0; c < rows.count; c++)
            patient[c] =
                rt_moments_of(differences, rows.row + rows.start[c], rows.start[c + 1] - rows.start[c]);
        jackknife(patient, rows.count, multiple, replicates, result);
    }
    free(patient);
    free(replicates);
    rt_cluster_rows_release(&rows);
    return status;
}

enum rt_status rt_agreement(const double *differences, size_t n, double multiple,
                            const struct rt_clusters *clusters, struct rt_agreement *result,
                            struct rt_error *error)
{
    struct rt_estimate empty = rt_undefined(too_few);
    *result = (struct rt_agreement){.n = n,
                                    .bias = empty,
                                    .sd = empty,
                                    .lower_limit = empty,
                                    .upper_limit = empty,
                                    .sd_between = NAN,
                                    .sd_within = NAN};
    if (!(multiple > 0))
        return rt_fail(error, RT_USE, "the multiple of the standard deviation must be above 0");
    enum rt_status status = rt_mean(differences, n, clusters, &result->bias, error);
    if (status != RT_OK || n < 2)
        return status;
    if (rt_has_clusters(clusters))
        return with_clusters(differences, n, multiple, clusters, result, error);
    without_clusters(differences, n, multiple, result);
    return RT_OK;
}
