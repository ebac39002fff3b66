/*
 * Sums of squares of the clusters' influence at every time of a curve in one sweep over the time line.
 *
 * For a cluster c let, over its rows i and the event times u <= t,
 *
 *   W_c(t) = sum of  dN_i(u) / (n - d)  -  Y_i(u) d / (n (n - d))                                     (times
 * with d < n) P_c(t) = sum of  S(u-) (dN_ki(u) - Y_i(u) d_k / n) / n  +  F(u) (the term of W_c at u)
 *
 * with d events of any cause, d_k of cause k, F the cumulative incidence of k. The influence of c on S(t) is
 * -S W_c, on F(t) it is P_c - F(t) W_c. Rows at risk all change by the same amount at an event time, so W_c =
 * A_c - a_c H(t) and P_c = B_c - a_c G(t) with a_c rows at risk; A_c and B_c move only when a row of c comes
 * or goes. Keeping the six sums of products of A, B, a makes one time O(1) and the whole sweep O(n), whatever
 * the number of clusters. Where the sums cancel almost wholly, the clusters are gone through one by one
 * instead.
 */
#ifndef RIDGETALLY_STATS_CLUSTER_INFLUENCE_H
#define RIDGETALLY_STATS_CLUSTER_INFLUENCE_H

#include "ridgetally/stats/follow_up.h"

struct rt_cluster_sweep; /* opaque */

/* Start a sweep; with_incidence keeps the B sums too. NULL when memory ran out. Without clusters every row is
 * one. */
struct rt_cluster_sweep *rt_cluster_sweep_new(const struct rt_timeline *timeline,
                                              const struct rt_follow_up *data, bool with_incidence);

/* What happens at the next time of the time line. */
struct rt_sweep_step {
    size_t at_risk;
    size_t events;          /* of any cause */
    size_t cause_events;    /* of the cause in question */
    int cause;              /* its code */
    double survival_before; /* S(u-) */
    double incidence;       /* F(u) */
};

/* Take the next time of the time line into account. */
void rt_cluster_sweep_step(struct rt_cluster_sweep *sweep, const struct rt_sweep_step *step);

/* Sum over clusters of (x W_c + y P_c)^2 at the time of the last step. */
double rt_cluster_sweep_square(const struct rt_cluster_sweep *sweep, double x, double y);

/* Clusters with a row at risk at the time of the last step. */
size_t rt_cluster_sweep_at_risk(const struct rt_cluster_sweep *sweep);

void rt_cluster_sweep_free(struct rt_cluster_sweep *sweep);

#endif
