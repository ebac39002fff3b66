#include "ridgetally/audit/crest_sample.h"

#include "ridgetally/audit/window_cases.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/mean.h"

#include <math.h>

static enum rt_status start(struct rt_crest_sample *sample, size_t room, struct rt_error *error)
{
    room++;
    *sample = (struct rt_crest_sample){.change_mm = rt_new_array(room, sizeof(double)),
                                       .level_mm = rt_new_array(room, sizeof(double)),
                                       .depth_mm = rt_new_array(room, sizeof(double)),
                                       .tissue_mm = rt_new_array(room, sizeof(double)),
                                       .smoking = rt_new_array(room, sizeof(size_t)),
                                       .density = rt_new_array(room, sizeof(size_t)),
                                       .cluster = rt_new_array(room, sizeof(size_t)),
                                       .implant = rt_new_array(room, sizeof(size_t))};
    bool complete = sample->change_mm != NULL && sample->level_mm != NULL && sample->depth_mm != NULL &&
                    sample->tissue_mm != NULL && sample->smoking != NULL && sample->density != NULL &&
                    sample->cluster != NULL && sample->implant != NULL;
    return complete ? RT_OK : rt_fail_memory(error);
}

static bool is_complete(const struct rt_audit_implant *implant, const struct rt_window_case *one)
{
    return one->status == RT_WINDOW_READ && !isnan(implant->achieved_depth_mm) &&
           !isnan(implant->tissue_mm) && implant->smoking >= 0 && implant->found.of > 0;
}

static bool at_surgery(const struct rt_audit_implant *implant)
{
    return implant->depth_at_surgery == RT_ANSWER_YES;
}

/* Which density scale and which source of depth are the more frequent; ties go to D and to surgery. */
static void choose(const struct rt_cohort *cohort, const struct rt_window_cases *cases,
                   struct rt_crest_sample *sample)
{
    long scale[2] = {0, 0}, surgery = 0, other = 0;
    for (size_t i = 0; i < cases->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[cases->of[i].implant];
        if (is_complete(implant, &cases->of[i]))
            scale[implant->found.lz]++;
    }
    sample->lz = scale[1] > scale[0];
    sample->other_scale = scale[!sample->lz];
    for (size_t i = 0; i < cases->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[cases->of[i].implant];
        if (!is_complete(implant, &cases->of[i]) || implant->found.lz != sample->lz)
            continue;
        surgery += at_surgery(implant);
        other += !at_surgery(implant);
    }
    sample->depth_at_surgery = surgery >= other;
    sample->other_source = sample->depth_at_surgery ? other : surgery;
}

static void add(struct rt_crest_sample *sample, const struct rt_cohort *cohort,
                const struct rt_window_case *one)
{
    const struct rt_audit_implant *implant = &cohort->implants[one->implant];
    const size_t row = sample->n++;
    bool same = row > 0 && cohort->implants[sample->implant[row - 1]].patient == implant->patient;
    sample->clusters += !same;
    sample->cluster[row] = sample->clusters - 1;
    sample->implant[row] = one->implant;
    sample->change_mm[row] = one->change.mean;
    sample->level_mm[row] = (one->later->mesial_mm + one->later->distal_mm) / 2.0;
    sample->depth_mm[row] = implant->achieved_depth_mm;
    sample->tissue_mm[row] = implant->tissue_mm;
    sample->smoking[row] = (size_t)implant->smoking;
    sample->density[row] = (size_t)(implant->found.of - 1);
}

/* Take the mean off; *centre receives it. */
static enum rt_status centre(double *values, size_t n, double *mean, struct rt_error *error)
{
    struct rt_estimate estimate;
    enum rt_status status = rt_mean(values, n, NULL, &estimate, error);
    *mean = status == RT_OK ? estimate.value : NAN;
    for (size_t i = 0; status == RT_OK && i < n; i++)
        values[i] -= *mean;
    return status;
}

enum rt_status rt_take_crest_sample(const struct rt_cohort *cohort, int first_closing_day,
                                    struct rt_crest_sample *sample, struct rt_error *error)
{
    struct rt_window_cases cases = {.of = NULL};
    enum rt_status status = start(sample, cohort->count, error);
    if (status == RT_OK)
        status = rt_window_cases_start(&cases, cohort, error);
    if (status == RT_OK) {
        rt_take_window(cohort, RT_BASELINE_PLACEMENT, &rt_windows()[RT_YEAR_WINDOW], first_closing_day,
                       &cases);
        choose(cohort, &cases, sample);
        for (size_t i = 0; i < cases.count; i++) {
            const struct rt_audit_implant *implant = &cohort->implants[cases.of[i].implant];
            if (is_complete(implant, &cases.of[i]) && implant->found.lz == sample->lz &&
                at_surgery(implant) == sample->depth_at_surgery)
                add(sample, cohort, &cases.of[i]);
        }
        status = centre(sample->depth_mm, sample->n, &sample->depth_centre_mm, error);
    }
    if (status == RT_OK)
        status = centre(sample->tissue_mm, sample->n, &sample->tissue_centre_mm, error);
    rt_window_cases_release(&cases);
    return status;
}

enum rt_status rt_crest_design_with(const struct rt_crest_sample *sample, const size_t *operators,
                                    const char *const *names, size_t count, struct rt_design *design,
                                    struct rt_error *error)
{
    static const char *const smoking[] = {"never", "former", "current"};
    static const char *const classes[2][4] = {{"D1", "D2", "D3", "D4"}, {"LZ1", "LZ2", "LZ3", "LZ4"}};
    const struct rt_number_column numbers[] = {{"achieved_depth_mm", sample->depth_mm},
                                               {"tissue_mm", sample->tissue_mm}};
    const struct rt_category_column categories[] = {
        {"smoking", sample->smoking, smoking, 3},
        {"density_found", sample->density, classes[sample->lz], 4},
        {"operator", operators, names, count}};
    const struct rt_product product = {0, 1};
    const struct rt_design_columns columns = {.n = sample->n,
                                              .numbers = numbers,
                                              .number_count = 2,
                                              .categories = categories,
                                              .category_count = operators != NULL ? 3 : 2,
                                              .products = &product,
                                              .product_count = 1};
    return rt_design_build(design, &columns, error);
}

enum rt_status rt_crest_design(const struct rt_crest_sample *sample, struct rt_design *design,
                               struct rt_error *error)
{
    return rt_crest_design_with(sample, NULL, NULL, 0, design, error);
}

void rt_release_crest_sample(struct rt_crest_sample *sample)
{
    free(sample->change_mm);
    free(sample->level_mm);
    free(sample->depth_mm);
    free(sample->tissue_mm);
    free(sample->smoking);
    free(sample->density);
    free(sample->cluster);
    free(sample->implant);
    *sample = (struct rt_crest_sample){.n = 0};
}
