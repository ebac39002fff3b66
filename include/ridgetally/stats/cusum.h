/*
 * Bernoulli CUSUM on log-likelihood ratios: did the odds of an event change by a stated ratio?
 *
 * Scores: S. H. Steiner, R. J. Cook, V. T. Farewell, T. Treasure, "Monitoring surgical performance using risk-adjusted
 * cumulative sum charts", Biostatistics 1 (2000) 441-452: for a case with baseline probability p and odds ratio R under the
 * change, W = ln(R / (1 - p + R p)) after an event, ln(1 / (1 - p + R p)) otherwise; S = max(0, S + W); a signal when S > h.
 *
 * Learning curve: the same chart with p the share that is not acceptable and R the odds ratio of the acceptable share to
 * it, below 1; a signal says that the operator has become acceptable (D. J. Biau et al., "Quantitative and individualized
 * assessment of the learning curve using LC-CUSUM", British Journal of Surgery 95 (2008) 925-929).
 *
 * Run lengths for a constant p are those of the chart's Markov chain (D. Brook, D. A. Evans, Biometrika 59 (1972) 539-549),
 * here without a grid: an excursion from 0 visits the state "i events, j others" at most once, so that the sums over its
 * states are finite and exact, and cycles between returns to 0 are independent.
 */
#ifndef RIDGETALLY_STATS_CUSUM_H
#define RIDGETALLY_STATS_CUSUM_H

#include "ridgetally/stats/estimate.h"

#include <stdbool.h>

/* What is watched for. */
struct rt_cusum_design {
    double odds_ratio; /* under the change; > 0, not 1. Above 1: worse (up). Below 1: better (down) */
    double limit;      /* decision limit h > 0 */
    bool reset;        /* begin again at 0 after a signal */
};

/* Log-likelihood ratio of one case, p0 in 0..1. */
double rt_cusum_score(bool event, double p0, double odds_ratio);

/* Odds ratio that takes the share p0 to p1, both strictly between 0 and 1. */
double rt_cusum_odds_ratio(double p0, double p1);

struct rt_cusum_point {
    double score; /* W of this case */
    double cusum; /* S after it; what is drawn, also on a signal with reset */
    bool signal;  /* S > limit */
};

/* The chart of n cases in time order: event[i] 0 or 1, p0[i] its baseline probability. */
void rt_cusum(const int *event, const double *p0, size_t n, const struct rt_cusum_design *design,
              struct rt_cusum_point *points);

/* Average number of cases to the first signal from 0 when events come with probability p and the chart assumes p0
 * (p = p0: the run length in control). value; undefined when no signal can come, or the number is beyond 1e15. */
enum rt_status rt_cusum_run_length(double p, double p0, const struct rt_cusum_design *design,
                                   struct rt_estimate *run_length, struct rt_error *error);

/* Probability of a signal within `cases` cases from 0. */
enum rt_status rt_cusum_signal_probability(double p, double p0, const struct rt_cusum_design *design,
                                           size_t cases, struct rt_estimate *probability,
                                           struct rt_error *error);

/* The smallest decision limit whose run length in control (p = p0) is at least run_length, to 1e-9; design->limit is not
 * read. Undefined when none up to 60 is large enough. */
enum rt_status rt_cusum_limit_for_run_length(double p0, const struct rt_cusum_design *design,
                                             double run_length, struct rt_estimate *limit,
                                             struct rt_error *error);

/* The smallest decision limit with a probability of at most `alarm` of a signal within `cases` cases in control. */
enum rt_status rt_cusum_limit_for_false_alarm(double p0, const struct rt_cusum_design *design, double alarm,
                                              size_t cases, struct rt_estimate *limit,
                                              struct rt_error *error);

/* Cases of the past from which a stream in control is simulated: patients are drawn with replacement, each bringing all
 * of her cases in their order. Events of one patient go together: case i fails when a standard normal
 * sqrt(c) z(patient) + sqrt(1 - c) e(i) lies below the quantile of its probability, so that each keeps its own. */
struct rt_cusum_stream {
    const double *p0;
    size_t n;
    struct rt_clusters patients; /* of == NULL: every case is its own patient */
    double correlation;          /* c, 0 to below 1, on the normal scale */
    double true_odds_ratio; /* events come with the odds of p0 times this; 0 or 1: the stream is in control */
};

/* Average run length of the chart on simulated streams: mean over `times` of them and its standard error. A stream
 * that gives no signal within 1e7/times + 1e5 cases counts with that length, and reason says so (the mean is too
 * small). The same seed gives the same numbers (gsl_rng_mt19937). RT_USE for n = 0 or times < 2. */
enum rt_status rt_cusum_simulated_run_length(const struct rt_cusum_stream *stream,
                                             const struct rt_cusum_design *design, unsigned long seed,
                                             size_t times, struct rt_estimate *run_length,
                                             struct rt_error *error);

/* The smallest limit (to 1e-3) whose simulated average run length is at least run_length, all limits on the same streams.
 * statistic: the run length at that limit; standard_error: of that run length. Undefined when none up to 60 is large enough. */
enum rt_status rt_cusum_simulated_limit(const struct rt_cusum_stream *stream,
                                        const struct rt_cusum_design *design, double run_length,
                                        unsigned long seed, size_t times, struct rt_estimate *limit,
                                        struct rt_error *error);

#endif
