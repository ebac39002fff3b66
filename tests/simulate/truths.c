#include "truths.h"

#include "loaded.h"
#include "stored.h"

#include "ridgetally/audit/audit.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/file.h"
#include "ridgetally/base/memory.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* What is asked of one practice. Terms of the crest model hold at the model's own centre. */
enum truth {
    BIAS_A,
    BIAS_B,
    BIAS_C,
    TORQUE_PER_MM,
    CHANGE_PER_DEPTH,
    CHANGE_PER_TISSUE,
    CHANGE_PER_PRODUCT,
    FORMER_SMOKER,
    CURRENT_SMOKER,
    DENSITY_2,
    DENSITY_3,
    DENSITY_4,
    EARLY_FAILURE,
    TRUTHS
};

#define BIAS(operator)                                                                                       \
    {                                                                                                        \
        "depth", "depth_bias", "window|operator", "period|" operator, 0, "", "", "implant", false, false     \
    }
#define TERM(term)                                                                                           \
    {                                                                                                        \
        "crest", "crest_model", "window|term", "all|" term, 12, "placement", "mean", "implant", false, false \
    }

static const struct simulated_measure figures_of_truths[TRUTHS] = {
    [BIAS_A] = BIAS("A"),
    [BIAS_B] = BIAS("B"),
    [BIAS_C] = BIAS("C"),
    [TORQUE_PER_MM] = {"stability", "torque_per_mm_censored", "window", "all", 0, "", "", "implant", false,
                       false},
    [CHANGE_PER_DEPTH] = TERM("achieved_depth_mm"),
    [CHANGE_PER_TISSUE] = TERM("tissue_mm"),
    [CHANGE_PER_PRODUCT] = TERM("achieved_depth_mm x tissue_mm"),
    [FORMER_SMOKER] = TERM("smoking=former"),
    [CURRENT_SMOKER] = TERM("smoking=current"),
    [DENSITY_2] = TERM("density_found=D2"),
    [DENSITY_3] = TERM("density_found=D3"),
    [DENSITY_4] = TERM("density_found=D4"),
    [EARLY_FAILURE] = {"survival", "early_failure", "window", "all", 0, "", "", "implant", true, true},
};

/* One truth of one practice. */
struct answer {
    struct interval interval;
    double truth; /* NaN for early failure: its truth is the share in all practices together */
};

/* Implants whose 180 days closed before the cut, and how many of them truly failed in these days. */
struct early {
    long due, failed;
};

struct truth_run {
    const struct truth_settings *settings;
    struct answer *answers; /* [practice][truth], shared by the processes */
    struct early *early;    /* [practice], shared */
};

static struct early count_early(const struct rt_sample_practice *practice)
{
    struct early early = {0, 0};
    for (size_t i = 0; i < practice->implant_count; i++) {
        const struct rt_sample_implant *implant = &practice->implants[i];
        if (implant->placed_on + 180 > practice->settings.cut_day)
            continue;
        early.due++;
        early.failed += (implant->fate == RT_FAILED || implant->fate == RT_FAILED_UNREPORTED) &&
                        implant->ended_on <= implant->placed_on + 180;
    }
    return early;
}

/* Value of the centre of the crest model's term. */
static double centre_of(const struct rt_figure_list *figures, const char *term)
{
    struct rt_figure key = rt_empty_figure();
    key.section = "crest";
    key.measure = "crest_model_centre";
    key.grouping = "window|term";
    key.level = term;
    key.baseline = key.site = key.unit_of_analysis = NULL;
    const struct rt_figure *row = rt_find_figure(figures, &key);
    return row == NULL ? NAN : row->value;
}

static double truth_value(const struct rt_sample_truths *truths, const struct rt_figure_list *figures,
                          enum truth truth)
{
    switch (truth) {
    case BIAS_A:
    case BIAS_B:
    case BIAS_C:
        return truths->depth_bias_mm[truth - BIAS_A];
    case TORQUE_PER_MM:
        return truths->torque_per_mm_ncm;
    case CHANGE_PER_DEPTH:
        return truths->change_per_depth +
               truths->change_per_product * (centre_of(figures, "all|tissue_mm") - truths->centre_tissue_mm);
    case CHANGE_PER_TISSUE:
        return truths->change_per_tissue +
               truths->change_per_product *
                   (centre_of(figures, "all|achieved_depth_mm") - truths->centre_depth_mm);
    case CHANGE_PER_PRODUCT:
        return truths->change_per_product;
    case FORMER_SMOKER:
        return truths->change_former_smoker_mm;
    case CURRENT_SMOKER:
        return truths->change_current_smoker_mm;
    case DENSITY_2:
    case DENSITY_3:
    case DENSITY_4:
        return 0.0;
    case EARLY_FAILURE:
    case TRUTHS:
        break;
    }
    return NAN;
}

static void take_answers(const struct rt_sample_truths *truths, const struct rt_figure_list *figures,
                         struct answer *answers)
{
    for (size_t i = 0; i < TRUTHS; i++) {
        answers[i] = (struct answer){{NAN, NAN, NAN, RT_NO_COUNT, RT_NO_COUNT},
                                     truth_value(truths, figures, (enum truth)i)};
        for (size_t j = 0; j < figures->count; j++) {
            const struct rt_figure *row = &figures->rows[j];
            if (row->state == RT_FIGURE_OK && is_measure(row, &figures_of_truths[i]))
                answers[i].interval =
                    (struct interval){row->value, row->lower, row->upper, row->n_events, row->n_patients};
        }
    }
}

static enum rt_status ask_practice(const struct truth_run *run, long number, struct rt_error *error)
{
    struct rt_sample_settings settings = rt_sample_defaults();
    settings.seed = (uint64_t)number + 1;
    const struct rt_period period = {settings.first_day, settings.cut_day};
    struct rt_sample_practice practice = {.implant_count = 0};
    struct loaded loaded = {.store = NULL};
    struct rt_figure_list figures = {.count = 0};
    enum rt_status status = rt_generate_practice(&settings, &practice, error);
    if (status == RT_OK)
        status = load_practice(&practice, true, &loaded, error);
    if (status == RT_OK)
        status = rt_audit_run(loaded.store, &period, NULL, &figures, NULL, NULL, error);
    if (status == RT_OK) {
        take_answers(&settings.truths, &figures, run->answers + (size_t)number * TRUTHS);
        run->early[number] = count_early(&practice);
    }
    rt_release_figures(&figures);
    close_loaded(&loaded);
    rt_release_practice(&practice);
    return status;
}

static enum rt_status work(void *context, long process, struct rt_error *error)
{
    const struct truth_run *run = context;
    enum rt_status status = RT_OK;
    for (long i = process; i < run->settings->practices && status == RT_OK; i += run->settings->processes)
        status = ask_practice(run, i, error);
    return status;
}

static double early_share(const struct truth_run *run)
{
    long due = 0, failed = 0;
    for (long i = 0; i < run->settings->practices; i++) {
        due += run->early[i].due;
        failed += run->early[i].failed;
    }
    return due > 0 ? (double)failed / (double)due : NAN;
}

/* The row of one truth; false when fewer intervals hold it than chance allows at 93%. */
static bool add_truth(const struct truth_run *run, enum truth truth, double early, struct rt_text *text)
{
    char name[160];
    long defined = 0, covered = 0;
    for (long i = 0; i < run->settings->practices; i++) {
        const struct answer *answer = &run->answers[(size_t)i * TRUTHS + (size_t)truth];
        const double value = truth == EARLY_FAILURE ? early : answer->truth;
        if (!is_defined(&answer->interval) || isnan(value))
            continue;
        defined++;
        covered += covers(&answer->interval, value);
    }
    name_of_measure(&figures_of_truths[truth], name, sizeof name);
    rt_text_format(text, "%s,%ld,%ld,", name, run->settings->practices, defined);
    if (defined > 0)
        rt_text_format(text, "%.4f", (double)covered / (double)defined);
    rt_text_add(text, "\n");
    bool holds = 2 * defined > run->settings->practices &&
                 !(gsl_cdf_binomial_P((unsigned)covered, 0.93, (unsigned)defined) < 0.0005);
    if (!holds)
        fprintf(stderr, "simulate: %s: the truth is held by %ld of %ld intervals\n", name, covered, defined);
    return holds;
}

static enum rt_status write_truths(const struct truth_run *run, struct rt_error *error)
{
    struct rt_text text = {0};
    const double early = early_share(run);
    long faults = 0;
    rt_text_add(&text, "figure,practices,defined,coverage\n");
    for (int truth = 0; truth < TRUTHS; truth++)
        faults += !add_truth(run, (enum truth)truth, early, &text);
    enum rt_status status = rt_text_status(&text, error);
    if (status == RT_OK && run->settings->out != NULL)
        status = rt_write_file(run->settings->out, text.bytes, text.length, error);
    else if (status == RT_OK)
        fwrite(text.bytes, 1, text.length, stdout);
    rt_text_release(&text);
    if (status == RT_OK && faults > 0)
        status = rt_fail(error, RT_PARTIAL, "%ld truths are held too seldom", faults);
    return status;
}

enum rt_status simulate_truths(const struct truth_settings *settings, struct rt_error *error)
{
    struct truth_run run = {.settings = settings};
    run.answers = shared_array((size_t)settings->practices * TRUTHS, sizeof *run.answers);
    run.early = shared_array((size_t)settings->practices, sizeof *run.early);
    if (run.answers == NULL || run.early == NULL)
        return rt_fail_memory(error);
    enum rt_status status = in_processes(settings->processes, work, &run, error);
    return status == RT_OK ? write_truths(&run, error) : status;
}

/* --- the short way against the whole way ----------------------------------------------------------------- */

static bool same(double a, double b)
{
    return (isnan(a) && isnan(b)) || fabs(a - b) <= 1e-9 * fmax(1.0, fabs(a));
}

static enum rt_status compare_ways(const struct interval *short_way, const struct interval *whole_way,
                                   struct rt_error *error)
{
    size_t count, differ = 0;
    char name[160];
    const struct simulated_measure *measures = simulated_measures(&count);
    for (size_t i = 0; i < count; i++) {
        const struct interval *a = &short_way[i], *b = &whole_way[i];
        if (same(a->value, b->value) && same(a->lower, b->lower) && same(a->upper, b->upper) &&
            a->events == b->events && a->patients == b->patients)
            continue;
        differ++;
        fprintf(stderr, "simulate: %s: %.10g (%.10g to %.10g) from the files, %.10g (%.10g to %.10g) here\n",
                name_of_measure(&measures[i], name, sizeof name), b->value, b->lower, b->upper, a->value,
                a->lower, a->upper);
    }
    return differ == 0 ? RT_OK
                       : rt_fail(error, RT_PARTIAL, "%zu intervals differ from those of the files", differ);
}

enum rt_status check_cohort(const struct new_store *new_store, struct rt_error *error)
{
    bool all[PARTS];
    size_t count;
    simulated_measures(&count);
    const struct rt_sample_settings settings = settings_of(400, 0);
    const struct rt_period period = {settings.first_day, settings.cut_day};
    struct rt_sample_practice practice = {.implant_count = 0};
    struct rt_cohort cohort = {.count = 0}, from_files = {.count = 0};
    struct loaded loaded = {.store = NULL};
    struct interval *ways = rt_new_array(2 * count, sizeof *ways);
    for (int part = 0; part < PARTS; part++)
        all[part] = !is_stored((enum part)part); /* those go the whole way anyway */
    enum rt_status status =
        ways == NULL ? rt_fail_memory(error) : rt_generate_practice(&settings, &practice, error);
    if (status == RT_OK)
        status = cohort_of_practice(&practice, &new_store->empty, AS_RECORDED, &cohort, error);
    if (status == RT_OK)
        status = load_practice(&practice, false, &loaded, error);
    if (status == RT_OK)
        status = rt_load_cohort(loaded.store, &period, &from_files, error);
    if (status == RT_OK)
        status = audit_intervals(new_store->store, &cohort, all, ways, error);
    if (status == RT_OK)
        status = audit_intervals(loaded.store, &from_files, all, ways + count, error);
    if (status == RT_OK)
        status = compare_ways(ways, ways + count, error);
    rt_release_cohort(&cohort);
    rt_release_cohort(&from_files);
    close_loaded(&loaded);
    rt_release_practice(&practice);
    free(ways);
    return status;
}
