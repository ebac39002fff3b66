/*
 * The cohort: every implant placed by the end of a period as typed facts, with what happened to it and its
 * films. Nothing dated after the period's last day is in it. Memory grows with the number of implants and
 * films only.
 */
#ifndef RIDGETALLY_AUDIT_COHORT_H
#define RIDGETALLY_AUDIT_COHORT_H

#include "ridgetally/audit/class_cuts.h"
#include "ridgetally/audit/period.h"
#include "ridgetally/audit/window.h"
#include "ridgetally/base/arena.h"
#include "ridgetally/base/error.h"
#include "ridgetally/store/store.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Sections that may leave a case out because of an open doubt; bits of rt_audit_implant.blocked. */
enum rt_blocked { RT_BLOCKS_DEPTH = 1, RT_BLOCKS_STABILITY = 2, RT_BLOCKS_CREST = 4, RT_BLOCKS_SURVIVAL = 8 };

/* Yes, no and not recorded. */
enum rt_answer { RT_ANSWER_NO = 0, RT_ANSWER_YES = 1, RT_ANSWER_MISSING = -1 };

/* A class on one of the two density scales; class 0 is not recorded. */
struct rt_density {
    int of;  /* 1..4 */
    bool lz; /* Lekholm and Zarb type instead of D class */
};

/* One implant. Missing numbers are NaN, missing codes -1, missing dates RT_NO_DATE. What most sections ask of every implant
 * stands first: a million implants are walked over some hundred times, and memory is fetched 64 bytes at a time. */
struct rt_audit_implant {
    size_t patient; /* 0..cohort.patients-1 */
    int placed_on;
    unsigned blocked; /* enum rt_blocked */
    /* events, the earliest of each kind on or after placement (moved: the latest) */
    int removed_on, elective_on, unused_on, died_on, moved_on;
    /* sightings: follow-up rows on or after placement; the last one is placed_on where there is none */
    int first_seen_on, last_seen_on;
    int last_seen_before_removal; /* last sighting before removed_on, placed_on where there is none */
    int loaded_on;
    bool followed;     /* seen after the day of placement */
    int operator_code; /* index into cohort.operators */
    int depth_class;   /* RT_NO_CLASS where not classed, as the two classes below */
    /* the next 64 bytes */
    struct rt_density planned, found;
    double planned_depth_mm, achieved_depth_mm, tissue_mm, final_torque_ncm;
    int tissue_class, torque_class;
    int smoking; /* 0 never, 1 former, 2 current */
    bool stall_torque_capped, final_torque_capped;
    /* the rest */
    size_t first_film, film_count;       /* into cohort.films, in order of days */
    size_t first_finding, finding_count; /* into cohort.findings, in order of days */
    double diameter_mm, length_mm;
    double stall_height_mm, stall_torque_ncm;
    double wall_buccal_mm, wall_lingual_mm;
    int tooth;                       /* ISO 3950 */
    int line_code;                   /* index into cohort.lines */
    int diabetes;                    /* 0 none, 1 controlled, 2 uncontrolled */
    enum rt_answer depth_at_surgery; /* source of the achieved depth: surgery, film, unknown */
    enum rt_answer stalled, loaded;
    enum rt_answer graft; /* bone grafted at this surgery */
    enum rt_answer changed, dense_drilling, next_size_possible, two_stage, periodontitis;
    int64_t record; /* id of its row in the store: for the lists that name cases */
};

/* What was found at one follow-up row, a film's radiolucency included. */
struct rt_finding {
    int seen_on;
    enum rt_answer mobile, radiolucency, pain, suppuration, bleeding;
    double probing_mm; /* NaN where not probed */
};

struct rt_cohort {
    struct rt_period period;
    struct rt_class_cuts cuts;
    int complete_since;    /* RT_NO_DATE: the records are complete from the first on */
    int recall_days;       /* how long without a sighting before an implant counts as lost */
    int death_recall_days; /* recall interval plus 6 months: a later death is not seen as competing */
    struct rt_audit_implant *implants; /* patients together */
    size_t count, capacity;
    size_t patients;
    int64_t *patient_keys; /* patients: what tells a patient in another cohort of the store, ascending */
    struct rt_film *films; /* implants together; films with at least one site read */
    size_t film_count, film_capacity;
    struct rt_finding *findings; /* implants together; visits at which something was examined */
    size_t finding_count, finding_capacity;
    const char *const *operators; /* in order of their text */
    size_t operator_count;
    const char *const *lines; /* implant lines in order of their text */
    size_t line_count;
    bool without_resampling; /* set by whoever loaded it: what resampling makes is left out */
    long placed_later;       /* implants placed after the period */
    long undated;            /* implants without a placement date */
    struct rt_arena text;
};

/* Load the cohort of a period. Release it also after a failure. */
enum rt_status rt_load_cohort(struct rt_store *store, const struct rt_period *period,
                              struct rt_cohort *cohort, struct rt_error *error);

void rt_release_cohort(struct rt_cohort *cohort);

/* Films of one implant. */
const struct rt_film *rt_films_of(const struct rt_cohort *cohort, const struct rt_audit_implant *implant);

/* Findings of one implant. */
const struct rt_finding *rt_findings_of(const struct rt_cohort *cohort,
                                        const struct rt_audit_implant *implant);

/* The day the windows of a baseline are counted from: placement, or loading (RT_NO_DATE when not loaded). */
int rt_baseline_day(const struct rt_audit_implant *implant, enum rt_baseline baseline);

#endif
