#include "ridgetally/audit/fate.h"

#include "ridgetally/base/date.h"

const char *rt_fate_name(enum rt_fate fate)
{
    static const char *const names[RT_FATES] = {"in place", "lost", "removed",
                                                "elective", "died", "moved away"};
    return names[fate];
}

const char *rt_censoring_name(enum rt_censoring censoring)
{
    static const char *const names[RT_CENSORINGS] = {"last sighting", "recall", "worst case", "best case"};
    return names[censoring];
}

/* The earlier of removal and elective removal; a removal on the same day counts as the failure it is. */
static enum rt_fate removal(const struct rt_audit_implant *implant, int *day)
{
    bool removed = implant->removed_on != RT_NO_DATE, elective = implant->elective_on != RT_NO_DATE;
    if (removed && (!elective || implant->removed_on <= implant->elective_on)) {
        *day = implant->removed_on;
        return RT_REMOVED;
    }
    if (elective) {
        *day = implant->elective_on;
        return RT_ELECTIVE;
    }
    *day = RT_NO_DATE;
    return RT_IN_PLACE;
}

static bool death_competes(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    return implant->died_on - implant->last_seen_on <= cohort->death_recall_days;
}

enum rt_fate rt_fate_of(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    int removal_day;
    enum rt_fate removed = removal(implant, &removal_day);
    bool died = implant->died_on != RT_NO_DATE;
    if (removed != RT_IN_PLACE && (!died || removal_day <= implant->died_on))
        return removed;
    if (died)
        return RT_DIED;
    if (implant->moved_on != RT_NO_DATE && implant->moved_on >= implant->last_seen_on)
        return RT_MOVED_AWAY;
    return implant->last_seen_on + cohort->recall_days < cohort->period.last_day ? RT_LOST : RT_IN_PLACE;
}

/* Day on which observation ends, and why. */
static int end_day(const struct rt_cohort *cohort, const struct rt_audit_implant *implant,
                   enum rt_censoring censoring, enum rt_cause *cause)
{
    const int cut = cohort->period.last_day;
    int day;
    *cause = RT_CENSORED;
    switch (rt_fate_of(cohort, implant)) {
    case RT_REMOVED:
        *cause = RT_FAILURE;
        return implant->removed_on;
    case RT_ELECTIVE:
        *cause = RT_ELECTIVE_REMOVAL;
        return implant->elective_on;
    case RT_DIED:
        if (!death_competes(cohort, implant))
            return implant->last_seen_on;
        *cause = RT_DEATH;
        return implant->died_on;
    case RT_MOVED_AWAY:
        return implant->last_seen_on;
    case RT_IN_PLACE:
        return censoring == RT_LAST_SIGHTING ? implant->last_seen_on : cut;
    case RT_LOST:
        break;
    }
    switch (censoring) {
    case RT_LAST_SIGHTING:
        return implant->last_seen_on;
    case RT_RECALL:
        day = implant->last_seen_on + cohort->recall_days;
        return day < cut ? day : cut;
    case RT_WORST_CASE:
        *cause = RT_FAILURE;
        return implant->last_seen_on + 1;
    case RT_BEST_CASE:
        break;
    }
    return cut;
}

bool rt_observe(const struct rt_cohort *cohort, const struct rt_audit_implant *implant,
                enum rt_censoring censoring, struct rt_observation *observation)
{
    observation->exit = end_day(cohort, implant, censoring, &observation->cause) - implant->placed_on;
    observation->entry = 0;
    bool late = cohort->complete_since != RT_NO_DATE && implant->placed_on < cohort->complete_since;
    if (!late)
        return true;
    if (implant->first_seen_on == RT_NO_DATE)
        return false;
    observation->entry = implant->first_seen_on - implant->placed_on;
    return observation->entry == 0 || observation->entry < observation->exit;
}

bool rt_is_analysed(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    struct rt_observation observation;
    return (implant->blocked & RT_BLOCKS_SURVIVAL) == 0 &&
           rt_observe(cohort, implant, RT_RECALL, &observation);
}

bool rt_early_is_due(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    bool complete = cohort->complete_since == RT_NO_DATE || implant->placed_on >= cohort->complete_since;
    return complete && implant->placed_on + RT_EARLY_DAYS <= cohort->period.last_day &&
           (implant->blocked & RT_BLOCKS_SURVIVAL) == 0;
}

enum rt_early_state rt_early_state(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    struct rt_observation observation;
    enum rt_cause cause;
    observation.exit = end_day(cohort, implant, RT_LAST_SIGHTING, &cause) - implant->placed_on;
    if (cause == RT_FAILURE && observation.exit <= RT_EARLY_DAYS)
        return RT_EARLY_FAILED;
    if (cause != RT_CENSORED || observation.exit >= RT_EARLY_DAYS)
        return RT_EARLY_NOT_FAILED;
    return RT_EARLY_UNKNOWN;
}
