/*
 * What became of an implant by the end of the period, and the times survival is computed from.
 *
 * Failure = removed or exfoliated. Elective removal competes. Death competes when it comes within the recall
 * interval plus 6 months of the last sighting; else it ends observation at that sighting. Having moved away
 * ends observation at the last sighting (a sighting after the move makes the move void). Lost = none of these
 * and no sighting within the recall interval before the cut. Months are 30.4375 days, intervals of months
 * whole days rounded down.
 */
#ifndef RIDGETALLY_AUDIT_FATE_H
#define RIDGETALLY_AUDIT_FATE_H

#include "ridgetally/audit/cohort.h"

enum { RT_EARLY_DAYS = 180 }; /* a failure up to this many days after placement is early */

enum rt_fate { RT_IN_PLACE, RT_LOST, RT_REMOVED, RT_ELECTIVE, RT_DIED, RT_MOVED_AWAY };
enum { RT_FATES = 6 };

/* in place, lost, removed, elective, died, moved away */
const char *rt_fate_name(enum rt_fate fate);

enum rt_fate rt_fate_of(const struct rt_cohort *cohort, const struct rt_audit_implant *implant);

/* How the end of follow-up is taken (figure/catalogue.h). */
enum rt_censoring { RT_LAST_SIGHTING, RT_RECALL, RT_WORST_CASE, RT_BEST_CASE };
enum { RT_CENSORINGS = 4 };

/* last sighting, recall, worst case, best case */
const char *rt_censoring_name(enum rt_censoring censoring);

/* Causes of leaving: event codes of incidence. */
enum rt_cause { RT_CENSORED = 0, RT_FAILURE = 1, RT_DEATH = 2, RT_ELECTIVE_REMOVAL = 3 };

/* Days since placement: under observation from entry to exit, leaving for cause. */
struct rt_observation {
    int entry, exit;
    enum rt_cause cause;
};

/* The observation of an implant under a censoring. False when it never is under observation: it was placed
 * before the records are complete and was not seen before it left. entry is 0 from the start. */
bool rt_observe(const struct rt_cohort *cohort, const struct rt_audit_implant *implant,
                enum rt_censoring censoring, struct rt_observation *observation);

/* Does it count for survival: not left out for a doubt, and under observation with the recall censoring? */
bool rt_is_analysed(const struct rt_cohort *cohort, const struct rt_audit_implant *implant);

/* Does it count for early failure: placed within complete records and at least 180 days before the cut, and not left out
 * for a doubt? */
bool rt_early_is_due(const struct rt_cohort *cohort, const struct rt_audit_implant *implant);

/* State 180 days after placement. */
enum rt_early_state { RT_EARLY_FAILED, RT_EARLY_NOT_FAILED, RT_EARLY_UNKNOWN };

/* Failed: removed by then. Not failed: seen, removed, electively removed or (competing) dead after that day,
 * or electively removed or (competing) dead before it. Else unknown. */
enum rt_early_state rt_early_state(const struct rt_cohort *cohort, const struct rt_audit_implant *implant);

#endif
