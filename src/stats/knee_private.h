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

/* The bend at a knee (scaled x), cleared of intercept and line by least squares and scaled to length 1. False when
 * nothing is left of it. */
bool rt_knee_set_bend(struct rt_knee_search *search, double knee);

/* Fill the sums and products of the present variables (x, bend, y of search). */
void rt_knee_add_products(struct rt_knee_search *search);

/* The fit of the line (used = RT_KNEE_BEND) or with the bend (RT_KNEE_Y) at the best share to within tolerance. */
struct rt_knee_fit rt_knee_best_fit(const struct rt_knee_search *search,
                                    const struct rt_knee_products *products, int used, double tolerance);

/* p of the knee found against a straight line. Takes the line off search->y. */
enum rt_status rt_knee_test_line(struct rt_knee *result, struct rt_knee_search *search,
                                 const struct rt_knee_fit *line, const struct rt_knee_design *design,
                                 struct rt_error *error);

/* Which candidates are kept, and the ends of their set. search->y is as it was for the search. */
enum rt_status rt_knee_find_interval(struct rt_knee *result, struct rt_knee_search *search,
                                     const struct rt_knee_design *design, struct rt_error *error);

#endif
