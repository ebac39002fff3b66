#include "ridgetally/audit/observations.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"

enum rt_status rt_observations_start(struct rt_observations *set, const struct rt_cohort *cohort,
                                     struct rt_error *error)
{
    size_t room = cohort->count + 1;
    *set = (struct rt_observations){.time = rt_new_array(room, sizeof(double)),
                                    .entry = rt_new_array(room, sizeof(double)),
                                    .cause = rt_new_array(room, sizeof(int)),
                                    .event = rt_new_array(room, sizeof(int)),
                                    .cluster = rt_new_array(room, sizeof(size_t)),
                                    .level = rt_new_array(room, sizeof(size_t))};
    bool complete = set->time != NULL && set->entry != NULL && set->cause != NULL && set->event != NULL &&
                    set->cluster != NULL && set->level != NULL;
    return complete ? RT_OK : rt_fail_memory(error);
}

void rt_observations_release(struct rt_observations *set)
{
    free(set->time);
    free(set->entry);
    free(set->cause);
    free(set->event);
    free(set->cluster);
    free(set->level);
    *set = (struct rt_observations){.n = 0};
}

static void clear(struct rt_observations *set)
{
    set->n = set->clusters = set->never_observed = 0;
    set->late = false;
}

/* While rows are added `cluster` holds the patient; close_clusters makes codes of it. */
void rt_observations_add(struct rt_observations *set, size_t patient,
                         const struct rt_observation *observation, size_t level)
{
    size_t row = set->n++;
    set->time[row] = observation->exit;
    set->entry[row] = observation->entry > 0 ? observation->entry : -1.0; /* day 0 included */
    set->cause[row] = (int)observation->cause;
    set->event[row] = observation->cause == RT_FAILURE;
    set->cluster[row] = patient;
    set->level[row] = level;
    set->late = set->late || observation->entry > 0;
}

static void close_clusters(struct rt_observations *set)
{
    size_t last = (size_t)-1;
    set->clusters = 0;
    for (size_t i = 0; i < set->n; i++) {
        size_t patient = set->cluster[i];
        if (patient != last)
            set->clusters++;
        last = patient;
        set->cluster[i] = set->clusters - 1;
    }
}

void rt_observe_implants(struct rt_observations *set, const struct rt_cohort *cohort,
                         enum rt_censoring censoring, enum rt_grouping_of grouping, int level)
{
    clear(set);
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        int found = rt_level_of(cohort, implant, grouping);
        bool wanted = level == RT_ANY_LEVEL ? found != RT_NO_LEVEL : found == level;
        struct rt_observation observation;
        if (!wanted || !rt_is_analysed(cohort, implant))
            continue;
        if (rt_observe(cohort, implant, censoring, &observation))
            rt_observations_add(set, implant->patient, &observation, found < 0 ? 0 : (size_t)found);
        else
            set->never_observed++;
    }
    close_clusters(set);
}

/* One patient's implants from `from` on as one observation; *next receives where the next patient begins. */
static bool observe_patient(const struct rt_cohort *cohort, enum rt_censoring censoring, size_t from,
                            size_t *next, struct rt_observation *whole)
{
    int first_placed = 0, first_entry = 0, last_exit = 0, first_failure = RT_NO_DATE;
    bool any = false;
    size_t i = from;
    for (; i < cohort->count && cohort->implants[i].patient == cohort->implants[from].patient; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        struct rt_observation one;
        if (!rt_is_analysed(cohort, implant) || !rt_observe(cohort, implant, censoring, &one))
            continue;
        int entry = implant->placed_on + one.entry, exit = implant->placed_on + one.exit;
        first_placed = !any || implant->placed_on < first_placed ? implant->placed_on : first_placed;
        first_entry = !any || entry < first_entry ? entry : first_entry;
        last_exit = !any || exit > last_exit ? exit : last_exit;
        if (one.cause == RT_FAILURE && (first_failure == RT_NO_DATE || exit < first_failure))
            first_failure = exit;
        any = true;
    }
    *next = i;
    whole->entry = first_entry - first_placed;
    whole->exit = (first_failure != RT_NO_DATE ? first_failure : last_exit) - first_placed;
    whole->cause = first_failure != RT_NO_DATE ? RT_FAILURE : RT_CENSORED;
    return any && (whole->entry == 0 || whole->entry < whole->exit);
}

void rt_observe_patients(struct rt_observations *set, const struct rt_cohort *cohort,
                         enum rt_censoring censoring)
{
    clear(set);
    for (size_t i = 0; i < cohort->count;) {
        struct rt_observation whole;
        size_t patient = cohort->implants[i].patient;
        if (observe_patient(cohort, censoring, i, &i, &whole))
            rt_observations_add(set, patient, &whole, 0);
    }
    close_clusters(set);
}

void rt_observations_keep_levels(struct rt_observations *set, const bool *kept)
{
    size_t to = 0;
    for (size_t i = 0; i < set->n; i++) {
        if (!kept[set->level[i]])
            continue;
        set->time[to] = set->time[i];
        set->entry[to] = set->entry[i];
        set->cause[to] = set->cause[i];
        set->event[to] = set->event[i];
        set->cluster[to] = set->cluster[i];
        set->level[to] = set->level[i];
        to++;
    }
    set->n = to;
    close_clusters(set);
}

/* Patients with rows of a level. */
static size_t patients_in_level(const struct rt_observations *set, size_t level)
{
    size_t patients = 0, last = (size_t)-1;
    for (size_t i = 0; i < set->n; i++) {
        if (set->level[i] != level || set->cluster[i] == last)
            continue;
        patients++;
        last = set->cluster[i];
    }
    return patients;
}

enum rt_status rt_keep_comparable_levels(struct rt_observations *set, int first, int last, size_t least,
                                         int *level_of, size_t *count, struct rt_error *error)
{
    size_t top = (size_t)last;
    for (size_t i = 0; i < set->n; i++)
        top = set->level[i] >= top ? set->level[i] + 1 : top;
    bool *kept = rt_new_array(top + 1, sizeof *kept);
    size_t *numbers = rt_new_array(top + 1, sizeof *numbers);
    enum rt_status status = kept != NULL && numbers != NULL ? RT_OK : rt_fail_memory(error);
    *count = 0;
    for (int level = first; status == RT_OK && level < last; level++) {
        kept[level] = patients_in_level(set, (size_t)level) >= least;
        if (!kept[level])
            continue;
        if (level_of != NULL)
            level_of[*count] = level;
        numbers[level] = (*count)++;
    }
    if (status == RT_OK)
        rt_observations_keep_levels(set, kept);
    for (size_t i = 0; status == RT_OK && i < set->n; i++)
        set->level[i] = numbers[set->level[i]];
    free(kept);
    free(numbers);
    return status;
}

struct rt_follow_up rt_follow_up_of(const struct rt_observations *set, bool causes)
{
    return (struct rt_follow_up){.n = set->n,
                                 .time = set->time,
                                 .entry = set->late ? set->entry : NULL,
                                 .event = causes ? set->cause : set->event,
                                 .clusters = {.of = set->cluster, .count = set->clusters}};
}

size_t rt_event_patients(const struct rt_observations *set)
{
    size_t patients = 0, last = (size_t)-1;
    for (size_t i = 0; i < set->n; i++) {
        if (set->event[i] == 0 || set->cluster[i] == last)
            continue;
        patients++;
        last = set->cluster[i];
    }
    return patients;
}
