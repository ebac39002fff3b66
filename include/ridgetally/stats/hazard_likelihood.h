/*
 * The Cox partial likelihood and its derivatives: what the parts of the hazard method share.
 *
 * Columns are centred at their means and scaled by their standard deviations (z); the likelihood does not depend on the
 * centre, and coefficients of z are scale times those of x. One evaluation sweeps each stratum from its last time to its
 * first, adding rows as they are met and taking late ones out again before their entry, in compensated sums, since a row
 * of great risk that is taken out must leave nothing behind. Where rows have few different covariates, each risk set with
 * a failure is counted by pattern of covariates once, and an evaluation goes over these counts instead of the rows.
 */
#ifndef RIDGETALLY_STATS_HAZARD_LIKELIHOOD_H
#define RIDGETALLY_STATS_HAZARD_LIKELIHOOD_H

#include "ridgetally/stats/hazard.h"
#include "ridgetally/stats/patterns.h"
#include "ridgetally/stats/sum.h"

/* The risk sets with a failure, stratum after stratum, by pattern of covariates. */
struct rt_risk_sets {
    size_t count;                /* 0: rows are counted one by one */
    struct rt_patterns patterns; /* of z */
    size_t *time;                /* count: its place on the time line */
    double *at_risk;             /* count x patterns: rows at risk */
    double *failing;             /* count x patterns: rows that fail */
    double *predictor;           /* patterns: z b ... */
    double *mantissa;            /* patterns: ... the risk as in rt_partial ... */
    int *power;                  /* patterns */
    double *risk;                /* patterns: ... and in units of 2^unit */
    int unit;
    double *share;           /* scratch, patterns: of the risk of a set */
    double *mean, *distance; /* scratch, terms: of z in a set, and of a pattern from there */
};

struct rt_partial {
    const struct rt_hazard_model *model;
    struct rt_timeline timeline;
    struct rt_stratified strata;
    size_t terms;
    double *z;      /* n x terms */
    double *centre; /* terms */
    double *scale;  /* terms; 1 for a constant column */
    struct rt_risk_sets sets;
    double *predictor; /* n: z b; with sets only after rt_partial_spread_risks, as the next two */
    double *risk;      /* n: mantissa of exp(predictor) ... */
    int *power;        /* n: ... and its power of 2, so that no risk over- or underflows */
    size_t events;
    struct rt_sum *sums; /* scratch: moments of the risk set, in units of 2^unit */
    int unit;
    size_t in_sums; /* rows in them */
    double *tied;   /* scratch: the same of those who fail together */
    double *moment; /* scratch: moments at one step through tied failures */
};

/* Give the rows the risks of their patterns at the b of the last evaluation. */
void rt_partial_spread_risks(struct rt_partial *partial);

/* Empty the first `count` sums. */
void rt_partial_clear_sums(struct rt_partial *partial, size_t count);

/* Make ready to count a row in (joins) or out of the first `count` sums: the row's risk in the units of the sums, which are
 * raised, without rounding, when a row of greater risk joins. A row that leaves the sums empty clears them. */
double rt_partial_row_risk(struct rt_partial *partial, size_t row, bool joins, size_t count);

/* Factors given to each time of the time line; NULL members are 1 everywhere. */
struct rt_partial_weights {
    const double *score;
    const double *information;
};

/* The risk of a row with covariates z[terms] at b as mantissa and power of 2, and z b. */
void rt_partial_take_risk(const double *z, const double *b, size_t terms, double *predictor, double *mantissa,
                          int *power);

/* Count the risk sets of a model that is prepared else, where that is less work than going over the rows; sets stay empty
 * where it is not. Release with rt_risk_sets_release, also after a failure. */
enum rt_status rt_risk_sets_count(struct rt_partial *partial, struct rt_error *error);
void rt_risk_sets_release(struct rt_risk_sets *sets);

/* rt_partial_evaluate by sets: score[terms] and the lower half of information[terms x terms] are added to. */
double rt_risk_sets_evaluate(struct rt_partial *partial, const double *b,
                             const struct rt_partial_weights *weights, double *score, double *information);

/* rt_partial_penalty by sets: gradient[terms] is added to. */
void rt_risk_sets_penalty(struct rt_partial *partial, const double *inverse, double *gradient);

/* Check the model and prepare it. RT_USE for bad rows, codes or columns. Release also after a failure. */
enum rt_status rt_partial_prepare(struct rt_partial *partial, const struct rt_hazard_model *model,
                                  struct rt_error *error);

void rt_partial_release(struct rt_partial *partial);

/* Log-likelihood at b[terms] (coefficients of z), score[terms] and information[terms x terms]; -infinity when b is so
 * far out that a risk set has no weight left. weights may be NULL. */
double rt_partial_evaluate(struct rt_partial *partial, const double *b,
                           const struct rt_partial_weights *weights, double *score, double *information);

/* gradient[terms] of log det(information) / 2 at the b of the last evaluation, given the inverse of the information:
 * half the third central moments of the risk sets against it (Firth 1993). */
void rt_partial_penalty(struct rt_partial *partial, const double *inverse, double *gradient);

/* Score residuals at the b of the last evaluation, each time's share times time_weight (NULL: 1), summed within clusters
 * (rows without clusters): sums[rt_influence_length() x terms]. Their total is the score. */
enum rt_status rt_partial_cluster_scores(struct rt_partial *partial, const double *time_weight, double *sums,
                                         struct rt_error *error);

/* Does the direction d (of z) order every failure at the top of its risk set, to within slack of its range? Then the
 * likelihood rises without end along d. */
enum rt_status rt_partial_is_monotone(const struct rt_partial *partial, const double *direction, double slack,
                                      bool *monotone, struct rt_error *error);

#endif
