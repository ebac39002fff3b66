/*
 * The Kruskal-Wallis question for clustered rows: do the groups' mean ranks differ?
 */
#ifndef RIDGETALLY_STATS_GROUP_EFFECT_H
#define RIDGETALLY_STATS_GROUP_EFFECT_H

#include "ridgetally/stats/pair_score.h"

/* Relative effect of group g: (mean rank of its rows - 1/2)/n = the chance that a row drawn from all is
 * smaller than one drawn from g, ties counting half; 1/2 for all groups when they do not differ (Brunner &
 * Munzel 2000, Biom. J. 42:17-25). Their covariance is the delete-one-cluster jackknife; the Wald statistic
 * of equality is referred to Hotelling's T^2: W (C - q)/(q (C - 1)) on F(q, C - q), with C clusters and q =
 * rank of the covariance of the contrasts, at most groups - 1.
 *
 * group_of: n codes below groups, every group with a row. test: value = statistic = W, df = q, p. Undefined
 * when C <= q or leaving a cluster out empties a group. */
enum rt_status rt_group_effect_test(const struct rt_pair_scores *scores, const size_t *group_of,
                                    size_t groups, const struct rt_cluster_rows *clusters,
                                    struct rt_estimate *test, struct rt_error *error);

#endif
