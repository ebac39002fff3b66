#include "ridgetally/stats/precision.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_integration.h>
#include <math.h>
#include <stdbool.h>

#define MOST_CASES 1e9
enum { NODES = 128 };

double rt_design_effect(const struct rt_clustering *clustering)
{
    return 1 + (clustering->per_cluster - 1) * clustering->icc;
}

static double clusters_of(double cases, const struct rt_clustering *clustering)
{
    return ceil(cases / clustering->per_cluster * (1 - 1e-15));
}

static struct rt_cases_needed undefined(const char *reason)
{
    return (struct rt_cases_needed){NAN, NAN, reason};
}

/* One question put to a number of cases. */
struct question {
    double sd, width, difference, power;
    double share;
    int groups;
    const struct rt_clustering *clustering;
    bool (*is_answered)(const struct question *question, double cases);
};

/* The smallest whole number that answers the question; answers stay answered as cases grow. */
static struct rt_cases_needed smallest(const struct question *question)
{
    double low = 0;
    double high = 1;
    while (!question->is_answered(question, high)) {
        if (high >= MOST_CASES)
            return undefined("more than 1000000000 cases");
        low = high;
        high *= 2;
    }
    while (high - low > 1) {
        double middle = floor(0.5 * (low + high));
        *(question->is_answered(question, middle) ? &high : &low) = middle;
    }
    return (struct rt_cases_needed){high, clusters_of(high, question->clustering), NULL};
}

/* --- intervals ----------------------------------------------------------------------------------------- */

static bool mean_is_narrow(const struct question *question, double cases)
{
    double df = clusters_of(cases, question->clustering) - 1;
    if (df < 1)
        return false;
    double error = question->sd * sqrt(rt_design_effect(question->clustering) / cases);
    return 2 * gsl_cdf_tdist_Pinv(0.975, df) * error <= question->width;
}

static bool share_is_narrow(const struct question *question, double cases)
{
    double n = cases / rt_design_effect(question->clustering);
    double square = RT_Z_95 * RT_Z_95;
    double p = question->share;
    double width = 2 * RT_Z_95 * sqrt(p * (1 - p) / n + square / (4 * n * n)) / (1 + square / n);
    return width <= question->width;
}

struct rt_cases_needed rt_cases_for_mean(double sd, double width, const struct rt_clustering *clustering)
{
    if (!(sd >= 0) || !(width > 0))
        return undefined("the standard deviation is negative, or the width is not above 0");
    return smallest(&(struct question){
        .sd = sd, .width = width, .clustering = clustering, .is_answered = mean_is_narrow});
}

struct rt_cases_needed rt_cases_for_share(double share, double width, const struct rt_clustering *clustering)
{
    if (!(share >= 0 && share <= 1) || !(width > 0))
        return undefined("the share is outside 0 to 1, or the width is not above 0");
    return smallest(&(struct question){
        .share = share, .width = width, .clustering = clustering, .is_answered = share_is_narrow});
}

/* --- differences --------------------------------------------------------------------------------------- */

/* Density of s = sqrt(chi-square(df)/df), up to a constant. */
static double chi_weight(double s, double df)
{
    return s > 0 ? exp((df - 1) * log(s) - 0.5 * df * (s * s - 1)) : df == 1 ? exp(0.5) : 0;
}

double rt_noncentral_t_above(double t, double df, double delta)
{
    double spread = 13 / sqrt(2 * df);
    double low = fmax(0, 1 - spread);
    double high = 1 + spread;
    gsl_integration_glfixed_table *table = gsl_integration_glfixed_table_alloc(NODES);
    if (table == NULL)
        return NAN;
    double above = 0;
    double total = 0;
    for (size_t i = 0; i < NODES; i++) {
        double s = 0;
        double weight = 0;
        gsl_integration_glfixed_point(low, high, i, &s, &weight, table);
        weight *= chi_weight(s, df);
        total += weight;
        above += weight * gsl_cdf_ugaussian_P(delta - t * s);
    }
    gsl_integration_glfixed_table_free(table);
    return above / total;
}

static bool mean_is_seen(const struct question *question, double cases)
{
    double groups = (double)question->groups;
    double df = groups * (clusters_of(cases, question->clustering) - 1);
    if (df < 1)
        return false;
    double error = question->sd * sqrt(groups * rt_design_effect(question->clustering) / cases);
    double critical = gsl_cdf_tdist_Pinv(0.975, df);
    return rt_noncentral_t_above(critical, df, fabs(question->difference) / error) >= question->power;
}

static bool share_is_seen(const struct question *question, double cases)
{
    double first = question->share;
    double second = question->share + question->difference;
    double mean = question->groups == 1 ? first : 0.5 * (first + second);
    double n = cases / rt_design_effect(question->clustering);
    double groups = (double)question->groups;
    double null_error = sqrt(groups * mean * (1 - mean));
    double error = sqrt(second * (1 - second) + (question->groups == 1 ? 0 : first * (1 - first)));
    double room = sqrt(n) * fabs(question->difference) - RT_Z_95 * null_error;
    if (error == 0)
        return room >= 0;
    return gsl_cdf_ugaussian_P(room / error) >= question->power;
}

struct rt_cases_needed rt_cases_for_mean_difference(double sd, double difference, double power, int groups,
                                                    const struct rt_clustering *clustering)
{
    if (!(sd > 0) || !(fabs(difference) > 0))
        return undefined("the standard deviation or the difference is 0");
    return smallest(&(struct question){.sd = sd,
                                       .difference = difference,
                                       .power = power,
                                       .groups = groups,
                                       .clustering = clustering,
                                       .is_answered = mean_is_seen});
}

struct rt_cases_needed rt_cases_for_share_difference(double share, double difference, double power,
                                                     int groups, const struct rt_clustering *clustering)
{
    double other = share + difference;
    if (!(share >= 0 && share <= 1) || !(other >= 0 && other <= 1) || !(fabs(difference) > 0))
        return undefined("a share is outside 0 to 1, or the difference is 0");
    return smallest(&(struct question){.share = share,
                                       .difference = difference,
                                       .power = power,
                                       .groups = groups,
                                       .clustering = clustering,
                                       .is_answered = share_is_seen});
}
