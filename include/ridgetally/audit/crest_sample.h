/*
 * The implants of the crest models: one row per implant whose 12-month window from placement was read, with every
 * covariate recorded.
 *
 * Densities of two scales, and depths of two sources, are never pooled: the more frequent density scale is used, and
 * of depths those measured at surgery or the others (read from film, or unknown), whichever are more.
 */
#ifndef RIDGETALLY_AUDIT_CREST_SAMPLE_H
#define RIDGETALLY_AUDIT_CREST_SAMPLE_H

#include "ridgetally/audit/cohort.h"
#include "ridgetally/stats/design_matrix.h"

struct rt_crest_sample {
    size_t n;
    double *change_mm, *level_mm; /* n: mean of both sites */
    double *depth_mm, *tissue_mm; /* n: centred at the means below */
    size_t *smoking, *density;    /* n: codes 0..2 and 0..3 */
    size_t *cluster, *implant;    /* n */
    size_t clusters;
    double depth_centre_mm, tissue_centre_mm;
    bool lz; /* the density scale is Lekholm and Zarb */
    bool depth_at_surgery;
    long other_scale, other_source; /* complete implants left out for their scale or source */
};

/* Take the implants whose window closed from first_closing_day on. Release also after a failure. */
enum rt_status rt_take_crest_sample(const struct rt_cohort *cohort, int first_closing_day,
                                    struct rt_crest_sample *sample, struct rt_error *error);

/* The model matrix: intercept, depth, tissue, smoking, density, depth x tissue. Release with rt_design_release. */
enum rt_status rt_crest_design(const struct rt_crest_sample *sample, struct rt_design *design,
                               struct rt_error *error);

/* The same with a category `operator` before the product: operators[n] are codes into names[count]. */
enum rt_status rt_crest_design_with(const struct rt_crest_sample *sample, const size_t *operators,
                                    const char *const *names, size_t count, struct rt_design *design,
                                    struct rt_error *error);

void rt_release_crest_sample(struct rt_crest_sample *sample);

#endif
