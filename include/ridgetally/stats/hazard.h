/*
 * The proportional hazards model (Cox 1972 J R Stat Soc B 34:187-220).
 *
 * Partial likelihood with Efron (1977 J Am Stat Assoc 72:557-565) or Breslow (1974 Biometrics 30:89-99) ties,
 * delayed entry, strata; maximised by Newton steps with halving on columns centred and scaled, risks relative
 * to the largest in the stratum so that nothing overflows. With clusters the errors are those of the sandwich
 * sqrt(diag(D'D)), D the dfbeta residuals summed within clusters, no small-sample factor (Lin & Wei 1989 J Am
 * Stat Assoc 84:1074-1078).
 *
 * Monotone likelihood: when some combination of the columns orders every failure at the top of its risk set,
 * the estimate is infinite. This is proved from the data (every failure is compared with its risk set), said
 * in words, and the terms concerned are undefined; the penalised estimate (Firth 1993 Biometrika 80:27-38;
 * Heinze & Schemper 2001 Biometrics 57:114-119: log-likelihood + log det(information) / 2, profile intervals,
 * penalised likelihood-ratio p) stays finite.
 */
#ifndef RIDGETALLY_STATS_HAZARD_H
#define RIDGETALLY_STATS_HAZARD_H

#include "ridgetally/stats/follow_up.h"

enum rt_ties { RT_TIES_EFRON = 0, RT_TIES_BRESLOW };

struct rt_hazard_model {
    struct rt_follow_up data; /* event 0 or 1 */
    size_t terms;             /* columns, no intercept */
    const double *x;          /* n x terms, row after row, finite */
    const size_t *stratum;    /* n codes 0..strata-1, or NULL: one stratum */
    size_t strata;
    enum rt_ties ties;
};

struct rt_hazard {
    size_t terms;
    size_t n, events;
    size_t clusters_present;     /* clusters with rows; n without clusters */
    size_t clusters_with_events; /* clusters with an event; events without clusters */
    /* Per term. Error, z, p and 95% limits of the coefficient (log hazard ratio) are robust when there are
     * clusters, from the information otherwise. A redundant column (constant in every risk set, or a
     * combination of earlier columns) and a term whose estimate is infinite are NaN with a reason. */
    struct rt_estimate *coefficient;
    double *model_error;       /* terms: from the information, whatever the clusters */
    double *robust_error;      /* terms: NaN without clusters */
    double *covariance;        /* terms x terms: inverse information; rows of undefined terms NaN */
    double *robust_covariance; /* terms x terms; NULL without clusters */
    double log_likelihood;     /* at the estimate (its limit under monotone likelihood) */
    double log_likelihood_null;
    struct rt_estimate
        likelihood_ratio;     /* statistic, df, p; not defined with clusters: it has no robust form */
    struct rt_estimate wald;  /* all terms 0; robust covariance with clusters */
    struct rt_estimate score; /* at 0; robust with clusters */
    struct rt_estimate model_likelihood_ratio, model_wald, model_score; /* whatever the clusters */
    int iterations;
    bool monotone;
    const char *reason; /* why nothing is defined (no event, no term); NULL */
};

/* Fit the model, O(n log n + iterations n terms^2). RT_USE for bad rows, codes or columns. Release also after
 * a failure. */
enum rt_status rt_hazard(struct rt_hazard *fit, const struct rt_hazard_model *model, struct rt_error *error);

void rt_hazard_release(struct rt_hazard *fit);

/* Penalised (Firth) estimate of every term into penalised[terms]: value, standard_error (from the information at the
 * estimate), statistic = penalised likelihood-ratio chi-square on 1 degree of freedom, p, profile limits. The likelihood
 * takes rows as independent: with clusters each term's chi-square is divided by its design effect, the ratio of its
 * sandwich variance to its model variance at the estimate, not below 1, the limits are those of the divided profile and
 * the error is widened by its root: approximate. log_likelihood receives the penalised maximum; may be NULL. */
enum rt_status rt_hazard_penalised(const struct rt_hazard_model *model, struct rt_estimate *penalised,
                                   double *log_likelihood, struct rt_error *error);

/* Test of proportional hazards by scaled Schoenfeld residuals (Grambsch & Therneau 1994 Biometrika
 * 81:515-526), as the score test of adding term x g(t), g(t) = 1 - S(t-) with S the Kaplan-Meier curve of all
 * rows (cox.zph of the survival package, version 3). set[terms] gives each column the number of its term
 * (0..sets-1), so that a category of several columns is tested as one; NULL: each column alone. by_set[sets]
 * receives statistic, df, p; global the same for all. With clusters the covariance is that of the cluster
 * sums of the efficient score. */
enum rt_status rt_hazard_proportional(const struct rt_hazard_model *model, const struct rt_hazard *fit,
                                      const size_t *set, size_t sets, struct rt_estimate *by_set,
                                      struct rt_estimate *global, struct rt_error *error);

#endif
