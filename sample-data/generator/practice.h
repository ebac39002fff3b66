/*
 * An invented implant practice with known truths. Nothing here stems from a real practice, person or device.
 *
 * rt_generate_practice makes patients, implants, follow-up readings and events in memory from a seed; table.h
 * turns them into the three record files, dirt.h adds the mistakes real records have. Simulations and
 * benchmarks use the same function with other settings.
 *
 * Signs are those of the record files: depth in mm of the platform below the crest, level in mm of the crest
 * above the platform, change below 0 = loss. Days are day numbers (ridgetally/base/date.h).
 */
#ifndef RIDGETALLY_SAMPLE_PRACTICE_H
#define RIDGETALLY_SAMPLE_PRACTICE_H

#include "ridgetally/base/error.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { RT_SAMPLE_OPERATORS = 3, RT_SAMPLE_DENSITIES = 4 };

/* What is true in the invented practice. Random parts are normal unless said otherwise. */
struct rt_sample_truths {
    /* achieved - planned depth = operator's bias + patient + implant */
    double depth_bias_mm[RT_SAMPLE_OPERATORS];
    double depth_patient_sd_mm, depth_implant_sd_mm;

    /* torque the bone would give at full depth, by density found; then patient and implant */
    double torque_mean_ncm[RT_SAMPLE_DENSITIES];
    double torque_patient_sd_ncm, torque_implant_sd_ncm;

    /* after a stall: final - stall torque = slope x travel + noise; travel = stall height + depth */
    double torque_per_mm_ncm, torque_gain_sd_ncm;
    double torque_limit_ncm[RT_SAMPLE_OPERATORS]; /* where the motor stalls */
    double torque_cap_ncm;                        /* the wrench shows no more: recorded as a limit reached */

    /* density written down by planning and by the drill: probability of naming the true class */
    double density_planned_right, density_found_right;

    /* crest change from placement to 12 months at centre_depth and centre_tissue, never smoked */
    double change_mm, change_per_depth, change_per_tissue, change_per_product;
    double centre_depth_mm, centre_tissue_mm;
    double change_former_smoker_mm, change_current_smoker_mm;
    double change_patient_sd_mm, change_implant_sd_mm;
    double yearly_change_mm, yearly_change_sd_mm; /* after 12 months */

    /* reading a film: one site's error within a reader, the second reader's lean, the share of heaped values
     */
    double reading_sd_mm, second_reader_bias_mm, heaped_share;

    /* failure within 180 days: logit = early + low torque + smoking + patient frailty; below 20 Ncm is low */
    double early_logit, log_odds_low_torque, log_odds_current_smoker;
    double frailty_sd;
    double late_rate_per_year; /* after 180 days, times exp(frailty) */

    /* leaving: per patient-year; after a failure known to the practice the risk of being lost is multiplied
     */
    double lost_per_year, lost_after_failure_factor, moved_per_year, death_per_year_at_60;
    double failure_never_reported; /* share of failures after which the patient goes elsewhere unseen */

    /* house rules that hold; 0 in the sample: added to the crest change where the thinner wall is under 1.5 mm, and for
     * each mm that tissue plus depth falls short of 4 mm (above 0: less loss with more); chance to fail within a year of
     * loading when loaded within 84 days */
    double thin_wall_change_mm, change_below_sum, early_loading_failure;
};

/* Settings of one run. */
struct rt_sample_settings {
    uint64_t seed;
    int patients;            /* how many patients, if implants is 0 */
    int implants;            /* stop at this many implants (the last patient is cut short), if above 0 */
    int first_day, last_day; /* placements */
    int cut_day;             /* nothing is recorded after this day */
    bool recorded_gaps;      /* missed visits, unread films, second readings; false = everything read once */
    struct rt_sample_truths truths;
};

enum rt_sample_smoking { RT_NEVER_SMOKED, RT_FORMER_SMOKER, RT_CURRENT_SMOKER };

struct rt_sample_patient {
    int number;         /* 1, 2, ...: the label is this in four digits */
    int operator_index; /* 0, 1, 2 = A, B, C */
    int birth_year;
    const char *sex, *diabetes;
    enum rt_sample_smoking smoking;
    bool periodontitis;
    int first_day;
    double depth_effect_mm, torque_effect_ncm, change_effect_mm, frailty; /* truths */
    int died_on, moved_on, lost_on; /* RT_NO_DATE when not before the cut */
    bool death_reported;
};

/* What happened to an implant in truth; the records may know less. */
enum rt_sample_fate { RT_STANDING, RT_FAILED, RT_FAILED_UNREPORTED, RT_REMOVED_ELECTIVE };

struct rt_sample_implant {
    size_t patient; /* index */
    int tooth;      /* ISO 3950 */
    int turn;       /* 0 = first implant on this site, 1 = its replacement */
    int placed_on;
    int operator_index;
    const char *line;
    double diameter_mm, length_mm;
    double planned_depth_mm;
    double true_depth_mm;     /* truth */
    double achieved_depth_mm; /* as recorded */
    bool depth_from_film;
    int density; /* truth: 0..3 for D1..D4 */
    int density_planned, density_found;
    bool stalled;
    double stall_height_mm, stall_torque_ncm; /* NaN when it never stalled */
    double final_torque_ncm;
    bool torque_capped;
    double isq, tissue_mm, wall_buccal_mm, wall_lingual_mm, bone_height_mm;
    bool changed, dense_drilling, next_size_possible, two_stage, graft;
    const char *timing;
    int uncovered_on, loaded_on;           /* RT_NO_DATE when not (yet) */
    bool never_loaded;                     /* left unused on purpose */
    double change_12_mm, yearly_change_mm; /* truths */
    double side_difference_mm;             /* mesial stands this much above, distal below the mean; truth */
    enum rt_sample_fate fate;
    int ended_on; /* day of failure or removal, RT_NO_DATE when standing at the cut */
};

struct rt_sample_followup {
    size_t implant; /* index */
    int seen_on;
    const char *visit;
    int film;           /* number of the film, 0 = none taken */
    const char *reader; /* NULL when no film */
    int reading;
    double mesial_mm, distal_mm; /* NaN when not read */
    double imaged_length_mm;     /* NaN when not measured */
    bool readable;
    bool radiolucency, bleeding, suppuration, mobile, pain;
    double probing_mm; /* NaN when not probed */
};

struct rt_sample_event {
    size_t patient;
    size_t implant; /* RT_WHOLE_PATIENT when it concerns the patient */
    int happened_on;
    const char *event, *cause;
};

#define RT_WHOLE_PATIENT ((size_t)-1)

struct rt_sample_practice {
    struct rt_sample_settings settings;
    struct rt_sample_patient *patients;
    size_t patient_count, patient_capacity;
    struct rt_sample_implant *implants;
    size_t implant_count, implant_capacity;
    struct rt_sample_followup *followups;
    size_t followup_count, followup_capacity;
    struct rt_sample_event *events;
    size_t event_count, event_capacity;
};

/* The committed sample: seed 20200706, 250 patients, placements from 2020-07-01 to 2026-06-30, cut
 * 2026-07-10, with the truths stated in sample-data/README.md. */
struct rt_sample_settings rt_sample_defaults(void);

/* Generate a practice. RT_OK or RT_MEMORY; in both cases the caller releases it. */
enum rt_status rt_generate_practice(const struct rt_sample_settings *settings,
                                    struct rt_sample_practice *practice, struct rt_error *error);

void rt_release_practice(struct rt_sample_practice *practice);

/* The crest's true level (mean of both sides) this many days after placement. */
double rt_sample_true_level(const struct rt_sample_implant *implant, int days);

#endif
