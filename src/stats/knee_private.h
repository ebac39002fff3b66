/*
 * Working state of the search for a knee (knee.h): its likelihood (knee_likelihood.c), the test against a straight line
 * (knee_line.c) and the interval (knee_interval.c).
 */
#ifndef RIDGETALLY_STATS_KNEE_PRIVATE_H
#define RIDGETALLY_STATS_KNEE_PRIVATE_H

#include "ridgetally/stats/knee.h"
#include "ridgetally/stats/order.h"

/* Of the share of the variance that lies between clusters, where the fit itself is told. */
#define RT_KNEE_SHARE_TOLERANCE 1e-9

/* Shares from which a fit's search goes on. */
enum { RT_KNEE_SHARES = 12 };
extern const double rt_knee_shares[RT_KNEE_SHARES];

/* The variables of a model: intercept, x, bend, response. */
enum { RT_KNEE_ONE, RT_KNEE_X, RT_KNEE_BEND, RT_KNEE_Y, RT_KNEE_VARIABLES };

/* Sums of products over rows, and over the sums of each cluster, the latter apart for each cluster size: all that the
 * likelihood needs, for every ratio of the variances. */
struct rt_knee_products {
    double rows[RT_KNEE_VARIABLES][RT_KNEE_VARIABLES];
    double (*by_size)[RT_KNEE_VARIABLES][RT_KNEE_VARIABLES];
};

struct rt_knee_search {
    size_t n;
    struct rt_cluster_rows clusters;
    size_t *size_of;     /* cluster: number of its size among the sizes */
    size_t *sizes;       /* distinct cluster sizes */
    double *size_counts; /* clusters of each */
    size_t size_count;
    double *weights; /* SHARES * sizes: what a size takes off the products at each of the shares */
    double log_determinants[RT_KNEE_SHARES]; /* at each of the shares */
    double mean_x, scale_x, scale_y;
    double line_slope; /* of the least-squares line taken from y, in the units given */
    double *x;         /* n: (x - mean) / scale */
    double *y;         /* n: residual of the line / scale */
    double *bend;      /* n: scratch, the bend at the present knee cleared of the line, unit length */
    double bend_slope, bend_scale; /* bend = (max(0, x - k) - (.. + bend_slope x)) / bend_scale, scaled x */
    double *sums;                  /* clusters * VARIABLES: sums of the present variables */
    struct rt_knee_products products;
    double ratio; /* of the variances, between over within, at the best knee */
};

/* One fit by maximum likelihood. */
struct rt_knee_fit {
    double likelihood; /* log, up to a constant that depends on n only */
    double ratio;      /* variance between over within */
    double rss;        /* generalised residual sum of squares */
    double b[RT_KNEE_Y];
};

/* Gather clusters and make room; release with rt_knee_release_search, also after a failure. */
enum rt_status rt_knee_prepare(struct rt_knee_search *search, size_t n, const struct rt_clusters *clusters,
                               struct rt_error *error);
void rt_knee_release_search(struct rt_knee_search *search);

/* share = between / (between + within), 0 to below 1. Fills the weight of each size: what it takes off the products; returns the
 * logarithm of the determinant of the rows' covariance over the variance within. */
double rt_knee_weigh_sizes(const struct rt_knee_search *search, double share, double *weights);

/* The bend at a knee (scaled x), cleared of intercept and line by least squares and scaled to length 1. False when
 * nothing is left of it. */
bool rt_knee_set_bend(struct rt_knee_search *search, double knee);

/* Fill the sums and products of the present variables (x, bend, y of search). */
void rt_knee_add_products(struct rt_knee_search *search);

/* The fit of the line (used = RT_KNEE_BEND) or with the bend (RT_KNEE_Y) at the best share to within tolerance. */
struct rt_knee_fit rt_knee_best_fit(const struct rt_knee_search *search,
                                    const struct rt_knee_products *products, int used, double tolerance);

/* Products of the whitened variables, lower half: a size's part weighted. */
void rt_knee_weigh_products(const struct rt_knee_search *search, const struct rt_knee_products *products,
                            const double *weights, double a[RT_KNEE_VARIABLES][RT_KNEE_VARIABLES]);

/* Cholesky of the first `used` variables (2: the line, 3: the bend too) into l; 0 where a variable has nothing of its own. */
void rt_knee_factor(double a[RT_KNEE_VARIABLES][RT_KNEE_VARIABLES], int used, double l[RT_KNEE_Y][RT_KNEE_Y]);

/*
 * How small rss(share) exp(log determinant / n), n-th root of what the likelihood is made of, can be between the listed shares.
 * The rss is the least of functions linear in the weights of the sizes, hence concave in them, and falls with each: between two shares
 * it lies above its chord, taken at the part of the way that the weight furthest on has gone.
 */
enum { RT_KNEE_CHORDS = 64 };
struct rt_knee_bound {
    size_t shares;                                        /* RT_KNEE_SHARES; 1 when no size is above 1 */
    double root[RT_KNEE_SHARES];                          /* exp(log determinant / n) */
    double chord[RT_KNEE_SHARES - 1][RT_KNEE_CHORDS + 1]; /* by the part of the rss that the chord loses */
};
enum rt_status rt_knee_fill_bound(struct rt_knee_bound *bound, const struct rt_knee_search *search,
                                  struct rt_error *error);

/* Is that product above `least` at every share? rss: at the listed shares. */
bool rt_knee_stays_above(const struct rt_knee_bound *bound, const double *rss, double least);

/* p of the knee found against a straight line. Takes the line off search->y. */
enum rt_status rt_knee_test_line(struct rt_knee *result, struct rt_knee_search *search,
                                 const struct rt_knee_fit *line, const struct rt_knee_design *design,
                                 struct rt_error *error);

/* Which candidates are kept, and the ends of their set. search->y is as it was for the search. */
enum rt_status rt_knee_find_interval(struct rt_knee *result, struct rt_knee_search *search,
                                     const struct rt_knee_design *design, struct rt_error *error);

#endif
