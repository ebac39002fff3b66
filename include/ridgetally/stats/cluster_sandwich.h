/*
 * The CR2 cluster-robust error of least squares (the "bias-reduced linearisation" sandwich) and its
 * Satterthwaite degrees of freedom, in the coordinates of an orthonormal basis Q of the model.
 *
 * For cluster i with rows Q_i and residuals e_i let T_i = Q_i'Q_i and S_i = (I - T_i)^(-1/2), where directions
 * with 1 - eigenvalue below 1e-12 are dropped (the generalised inverse). Then A_i Q_i = Q_i S_i for
 * A_i = (I - H_ii)^(-1/2), so the variance of z'(coordinates) is the sum of (z' S_i Q_i' e_i)^2, and with
 * w_i = T_i S_i z and d_i = z' S_i T_i S_i z the Satterthwaite df under independent errors of equal variance are
 *
 *     (sum of d_i - |w_i|^2)^2 / ( |sum of w_i w_i'|_F^2 - sum of |w_i|^4 + sum of (d_i - |w_i|^2)^2 ).
 *
 * Nothing of size n by n is formed: O(n p^2 + G m^3) to build, with m = min(rows of the cluster, p), and
 * O(G m p + G p^2) per combination, for G clusters and p columns.
 *
 * Source: Bell & McCaffrey (2002), Survey Methodology 28:169-181; Pustejovsky & Tipton (2018), J. Bus. Econ.
 * Stat. 36:672-683.
 */
#ifndef RIDGETALLY_STATS_CLUSTER_SANDWICH_H
#define RIDGETALLY_STATS_CLUSTER_SANDWICH_H

#include "ridgetally/stats/estimate.h"

struct rt_sandwich; /* opaque */

/* Build from q (n by p, orthonormal columns, row after row) and residuals (n). clusters NULL or without `of`:
 * every row is a cluster (HC2). Free with rt_sandwich_free. */
enum rt_status rt_sandwich_build(struct rt_sandwich **sandwich, const double *q, size_t n, size_t p,
                                 const double *residual, const struct rt_clusters *clusters,
                                 struct rt_error *error);

/* Fill standard_error, df, statistic, p and limits of estimate for the combination with coordinates z (p),
 * whose value is already set, tested against `null`. Where no error can be given, those members are NaN and
 * reason says why: fewer than two clusters, or one cluster alone decides the combination. */
void rt_sandwich_infer(struct rt_sandwich *sandwich, const double *z, double null,
                       struct rt_estimate *estimate);

/* Clusters with at least one row. */
size_t rt_sandwich_clusters(const struct rt_sandwich *sandwich);

void rt_sandwich_free(struct rt_sandwich *sandwich);

#endif
