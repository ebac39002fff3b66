/*
 * Times under observation as the survival family of stats takes them: days since placement, with delayed
 * entry.
 */
#ifndef RIDGETALLY_AUDIT_OBSERVATIONS_H
#define RIDGETALLY_AUDIT_OBSERVATIONS_H

#include "ridgetally/audit/fate.h"
#include "ridgetally/audit/groups.h"
#include "ridgetally/stats/follow_up.h"

struct rt_observations {
    size_t n;
    double *time, *entry; /* days */
    int *cause;           /* enum rt_cause */
    int *event;           /* 1 for the causes asked for, else 0 */
    size_t *cluster;      /* patient, 0..clusters-1 in order */
    size_t *level;        /* level of the grouping */
    size_t clusters;
    size_t never_observed; /* implants that left before they entered */
    bool late;             /* some enter late */
};

/* Room for every implant of the cohort. Release also after a failure. */
enum rt_status rt_observations_start(struct rt_observations *set, const struct rt_cohort *cohort,
                                     struct rt_error *error);

void rt_observations_release(struct rt_observations *set);

enum { RT_ANY_LEVEL = -2 };

/* Fill with the analysed implants of one level of a grouping (RT_ANY_LEVEL: every recorded level); event
 * marks failures. */
void rt_observe_implants(struct rt_observations *set, const struct rt_cohort *cohort,
                         enum rt_censoring censoring, enum rt_grouping_of grouping, int level);

/* Fill with one row per patient: from the first analysed implant to the first failure of any of them, or to
 * the end of the last observation. */
void rt_observe_patients(struct rt_observations *set, const struct rt_cohort *cohort,
                         enum rt_censoring censoring);

/* Append one row; patients must come together. */
void rt_observations_add(struct rt_observations *set, size_t patient,
                         const struct rt_observation *observation, size_t level);

/* Keep the rows whose level is marked in kept[level]; levels keep their numbers. */
void rt_observations_keep_levels(struct rt_observations *set, const bool *kept);

/* Keep the rows of those levels among first..last-1 that have at least `least` patients, and number these levels 0, 1, ... in
 * their order. *count receives how many; level_of[new number] the old one, room for last - first (may be NULL). */
enum rt_status rt_keep_comparable_levels(struct rt_observations *set, int first, int last, size_t least,
                                         int *level_of, size_t *count, struct rt_error *error);

/* The rows for a curve of events, or with causes = true for incidence of the causes. */
struct rt_follow_up rt_follow_up_of(const struct rt_observations *set, bool causes);

/* Patients with at least one event. */
size_t rt_event_patients(const struct rt_observations *set);

#endif
