/*
 * The REML deviance of a model with random intercepts, and its minimum: the inside of mixed.h.
 */
#ifndef RIDGETALLY_STATS_MIXED_PRIVATE_H
#define RIDGETALLY_STATS_MIXED_PRIVATE_H

#include "ridgetally/base/error.h"
#include "ridgetally/stats/estimate.h"

#include <stdbool.h>
#include <stddef.h>

/* Rows reduced to what the deviance needs. The k = rank + 1 columns are the orthonormal columns of the model
 * and, last, the residuals of least squares. In a model of one level each cluster is one unit. */
struct rt_mixed_data {
    size_t n, rank, k;
    size_t clusters, units;
    bool two_level;
    size_t *first_unit;     /* clusters + 1 */
    double *size;           /* units: rows */
    double *mean;           /* units by k: column means */
    double *within;         /* k by k: sums of products about the unit means */
    double cluster_squares; /* sum of squared cluster sizes */
    /* Of one level only: clusters of one size enter the deviance as the sum of their products of means. */
    size_t sizes;
    double *size_rows, *size_clusters; /* sizes: rows of such a cluster, and how many there are */
    double *size_products;             /* sizes by k by k */
};

enum rt_status rt_mixed_data_build(struct rt_mixed_data *data, const double *q, const double *residual,
                                   size_t n, size_t rank, const struct rt_clusters *clusters,
                                   const struct rt_clusters *units, struct rt_error *error);

void rt_mixed_data_release(struct rt_mixed_data *data);

/* The deviance at one theta. Index 0 is the cluster, 1 the unit. A(theta) = [Q r]' (V/s^2)^-1 [Q r]. */
struct rt_mixed_point {
    size_t rank, k;
    double theta[2];
    double deviance; /* profiled; without log|R| and the scale of the response */
    double gradient[2];
    double hessian[2][2];
    double log_determinant_slope[2]; /* of log|V/s^2| */
    double log_determinant_curve[2][2];
    double trace_slope[2]; /* of log|A_qq| */
    double trace_curve[2][2];
    double rss;
    double rss_slope[2];
    double rss_curve[2][2];
    double *a;          /* k by k */
    double *slope[2];   /* k by k: dA/dtheta */
    double *curve[3];   /* k by k: d2A, in the order (0,0) (0,1) (1,1) */
    double *inverse;    /* rank by rank: A_qq^-1 */
    double *product[2]; /* rank by rank: A_qq^-1 dA_qq */
    double *shift;      /* rank: coordinates of the generalised estimate less those of least squares */
    double *scratch;    /* 4 k */
};

struct rt_mixed_point *rt_mixed_point_new(size_t rank);
void rt_mixed_point_free(struct rt_mixed_point *point);

/* Evaluate at point->theta; derivatives too when asked. False when A_qq is not positive definite. */
bool rt_mixed_evaluate(const struct rt_mixed_data *data, struct rt_mixed_point *point, bool derivatives);

/* How the search ended. */
enum rt_mixed_end {
    RT_MIXED_FOUND,
    RT_MIXED_FLAT,     /* the deviance does not depend on theta: nothing is left between clusters */
    RT_MIXED_UNBOUNDED /* theta runs off: nothing is left inside clusters */
};

/* Leave point at the minimum over theta >= 0, derivatives filled. */
enum rt_mixed_end rt_mixed_minimise(const struct rt_mixed_data *data, struct rt_mixed_point *point);

#endif
