#include "cohort.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"

#include <math.h>
#include <string.h>

static enum rt_answer yes_no(bool yes)
{
    return yes ? RT_ANSWER_YES : RT_ANSWER_NO;
}

static int diabetes_code(const char *diabetes)
{
    return strcmp(diabetes, "none") == 0 ? 0 : strcmp(diabetes, "controlled") == 0 ? 1 : 2;
}

static struct rt_audit_implant facts_of(const struct rt_sample_practice *practice,
                                        const struct rt_sample_implant *placed,
                                        const struct rt_class_cuts *cuts)
{
    struct rt_audit_implant implant = {
        .patient = placed->patient,
        .placed_on = placed->placed_on,
        .tooth = placed->tooth,
        .operator_code = placed->operator_index,
        .smoking = (int)practice->patients[placed->patient].smoking,
        .diameter_mm = placed->diameter_mm,
        .length_mm = placed->length_mm,
        .planned_depth_mm = placed->planned_depth_mm,
        .achieved_depth_mm = placed->achieved_depth_mm,
        .tissue_mm = placed->tissue_mm,
        .depth_at_surgery = yes_no(!placed->depth_from_film),
        .planned = {placed->density_planned + 1, false},
        .found = {placed->density_found + 1, false},
        .stalled = yes_no(placed->stalled),
        .stall_height_mm = placed->stall_height_mm,
        .stall_torque_ncm = placed->stall_torque_ncm,
        .final_torque_ncm = placed->final_torque_ncm,
        .final_torque_capped = placed->torque_capped,
        .wall_buccal_mm = placed->wall_buccal_mm,
        .wall_lingual_mm = placed->wall_lingual_mm,
        .changed = yes_no(placed->changed),
        .dense_drilling = yes_no(placed->dense_drilling),
        .next_size_possible = yes_no(placed->next_size_possible),
        .two_stage = yes_no(placed->two_stage),
        .periodontitis = yes_no(practice->patients[placed->patient].periodontitis),
        .diabetes = diabetes_code(practice->patients[placed->patient].diabetes),
        .loaded_on = placed->loaded_on,
        .loaded = yes_no(placed->loaded_on != RT_NO_DATE),
        .graft = yes_no(placed->graft),
        .line_code = -1,
        .unused_on = RT_NO_DATE,
        .removed_on = RT_NO_DATE,
        .elective_on = RT_NO_DATE,
        .died_on = RT_NO_DATE,
        .moved_on = RT_NO_DATE,
        .first_seen_on = RT_NO_DATE,
        .last_seen_on = placed->placed_on,
        .last_seen_before_removal = placed->placed_on,
    };
    implant.depth_class = rt_class_of(&cuts->depth, implant.achieved_depth_mm);
    implant.tissue_class = rt_class_of(&cuts->tissue, implant.tissue_mm);
    implant.torque_class =
        rt_class_of_capped(&cuts->torque, implant.final_torque_ncm, implant.final_torque_capped);
    return implant;
}

/* --- what happened --------------------------------------------------------------------------------------- */

static void take_event(struct rt_audit_implant *implant, const struct rt_sample_event *event)
{
    const int day = event->happened_on;
    if (day < implant->placed_on)
        return;
    if (strcmp(event->event, "removed") == 0)
        implant->removed_on = day;
    else if (strcmp(event->event, "elective") == 0)
        implant->elective_on = day;
    else if (strcmp(event->event, "died") == 0)
        implant->died_on = day;
    else if (strcmp(event->event, "moved_away") == 0)
        implant->moved_on = day;
}

static void take_recorded_events(const struct rt_sample_practice *practice, struct rt_cohort *cohort)
{
    for (size_t i = 0; i < practice->event_count; i++) {
        const struct rt_sample_event *event = &practice->events[i];
        if (event->implant != RT_WHOLE_PATIENT) {
            take_event(&cohort->implants[event->implant], event);
            continue;
        }
        for (size_t j = 0; j < cohort->count; j++)
            if (cohort->implants[j].patient == event->patient)
                take_event(&cohort->implants[j], event);
    }
}

/* Everything up to the cut is known: no sighting is missing, no failure unheard of. */
static void take_all_that_happened(const struct rt_sample_practice *practice, struct rt_cohort *cohort)
{
    const int cut = practice->settings.cut_day;
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_sample_implant *placed = &practice->implants[i];
        const int died_on = practice->patients[placed->patient].died_on;
        struct rt_audit_implant *implant = &cohort->implants[i];
        implant->died_on = died_on != RT_NO_DATE && died_on >= placed->placed_on ? died_on : RT_NO_DATE;
        int last = implant->died_on != RT_NO_DATE ? implant->died_on : cut;
        if ((placed->fate == RT_FAILED || placed->fate == RT_FAILED_UNREPORTED) && placed->ended_on <= last)
            implant->removed_on = placed->ended_on;
        if (placed->fate == RT_REMOVED_ELECTIVE)
            implant->elective_on = placed->ended_on;
        if (implant->removed_on != RT_NO_DATE || implant->elective_on != RT_NO_DATE)
            last = placed->ended_on;
        implant->first_seen_on = placed->placed_on;
        implant->last_seen_on = implant->last_seen_before_removal = last;
        implant->followed = last > placed->placed_on;
    }
}

/* --- sightings and films --------------------------------------------------------------------------------- */

/* Reader code 0 is R1. */
static int reader_of(const struct rt_sample_followup *seen)
{
    return seen->reader != NULL && strcmp(seen->reader, "R2") == 0;
}

static bool is_first_reading(const struct rt_sample_followup *seen)
{
    return seen->film > 0 && seen->reading == 1 && (!isnan(seen->mesial_mm) || !isnan(seen->distal_mm));
}

/* The reader with the most first readings. */
static int primary_reader(const struct rt_sample_practice *practice)
{
    long readings[2] = {0, 0};
    for (size_t i = 0; i < practice->followup_count; i++)
        readings[reader_of(&practice->followups[i])] += is_first_reading(&practice->followups[i]);
    return readings[1] > readings[0];
}

/* A follow-up with all that decides its place in the order of reading. */
struct seen {
    const struct rt_sample_followup *row;
    bool other_reader;
};

static int compare_seen(const void *left, const void *right)
{
    const struct seen *a = left, *b = right;
    if (a->row->implant != b->row->implant)
        return a->row->implant < b->row->implant ? -1 : 1;
    if (a->row->seen_on != b->row->seen_on)
        return a->row->seen_on < b->row->seen_on ? -1 : 1;
    if (a->other_reader != b->other_reader)
        return a->other_reader ? 1 : -1;
    return a->row->reading - b->row->reading;
}

static void take_sighting(struct rt_audit_implant *implant, int day)
{
    if (day < implant->placed_on)
        return;
    if (implant->first_seen_on == RT_NO_DATE)
        implant->first_seen_on = day;
    implant->last_seen_on = day;
    implant->followed = implant->followed || day > implant->placed_on;
    if (implant->removed_on != RT_NO_DATE && day < implant->removed_on)
        implant->last_seen_before_removal = day;
}

/* One film per day, the primary reader's before the other's; levels are brought to size by the implant's length where
 * that was measured on the film. cohort->films has room for every follow-up. */
static void take_film(struct rt_cohort *cohort, struct rt_audit_implant *implant,
                      const struct rt_sample_followup *row)
{
    bool gone = (implant->removed_on != RT_NO_DATE && row->seen_on > implant->removed_on) ||
                (implant->elective_on != RT_NO_DATE && row->seen_on > implant->elective_on);
    bool same_day = implant->film_count > 0 && cohort->films[cohort->film_count - 1].seen_on == row->seen_on;
    const double scale = isnan(row->imaged_length_mm) ? 1.0 : implant->length_mm / row->imaged_length_mm;
    if (gone || same_day || !row->readable || !is_first_reading(row))
        return;
    if (implant->film_count++ == 0)
        implant->first_film = cohort->film_count;
    cohort->films[cohort->film_count++] = (struct rt_film){.seen_on = row->seen_on,
                                                           .reader = reader_of(row),
                                                           .mesial_mm = scale * row->mesial_mm,
                                                           .distal_mm = scale * row->distal_mm};
}

/* What was found at a visit, as the sheet of follow-ups gives it (table.c). cohort->findings has room for every
 * follow-up. */
static void take_finding(struct rt_cohort *cohort, struct rt_audit_implant *implant,
                         const struct rt_sample_followup *row)
{
    const bool film = row->film > 0;
    const bool examined = strcmp(row->visit, "placement") != 0;
    bool gone = (implant->removed_on != RT_NO_DATE && row->seen_on > implant->removed_on) ||
                (implant->elective_on != RT_NO_DATE && row->seen_on > implant->elective_on);
    if (gone || (!examined && isnan(row->probing_mm)))
        return;
    if (implant->finding_count++ == 0)
        implant->first_finding = cohort->finding_count;
    cohort->findings[cohort->finding_count++] =
        (struct rt_finding){.seen_on = row->seen_on,
                            .mobile = examined ? yes_no(row->mobile) : RT_ANSWER_MISSING,
                            .radiolucency = film && examined ? yes_no(row->radiolucency) : RT_ANSWER_MISSING,
                            .pain = examined ? yes_no(row->pain) : RT_ANSWER_MISSING,
                            .suppuration = examined ? yes_no(row->suppuration) : RT_ANSWER_MISSING,
                            .bleeding = examined ? yes_no(row->bleeding) : RT_ANSWER_MISSING,
                            .probing_mm = row->probing_mm};
}

static enum rt_status take_follow_ups(const struct rt_sample_practice *practice, bool sightings,
                                      struct rt_cohort *cohort, struct rt_error *error)
{
    const size_t count = practice->followup_count;
    const int primary = primary_reader(practice);
    struct seen *order = rt_new_array(count + 1, sizeof *order);
    cohort->films = rt_new_array(count + 1, sizeof *cohort->films);
    cohort->findings = rt_new_array(count + 1, sizeof *cohort->findings);
    if (order == NULL || cohort->films == NULL || cohort->findings == NULL) {
        free(order);
        return rt_fail_memory(error);
    }
    cohort->film_capacity = cohort->finding_capacity = count + 1;
    for (size_t i = 0; i < count; i++) {
        const struct rt_sample_followup *row = &practice->followups[i];
        order[i] = (struct seen){row, reader_of(row) != primary};
    }
    qsort(order, count, sizeof *order, compare_seen);
    for (size_t i = 0; i < count; i++) {
        struct rt_audit_implant *implant = &cohort->implants[order[i].row->implant];
        if (sightings)
            take_sighting(implant, order[i].row->seen_on);
        take_film(cohort, implant, order[i].row);
        take_finding(cohort, implant, order[i].row);
    }
    free(order);
    return RT_OK;
}

/* --- the whole ------------------------------------------------------------------------------------------- */

/* Operators without an implant have no code. */
static enum rt_status name_operators(struct rt_cohort *cohort, struct rt_error *error)
{
    static const char *const names[RT_SAMPLE_OPERATORS] = {"A", "B", "C"};
    int code[RT_SAMPLE_OPERATORS] = {0, 0, 0};
    const char **present = rt_new_array(RT_SAMPLE_OPERATORS, sizeof *present);
    if (present == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < cohort->count; i++)
        code[cohort->implants[i].operator_code] = 1;
    for (int i = 0; i < RT_SAMPLE_OPERATORS; i++)
        if (code[i]) {
            code[i] = (int)cohort->operator_count;
            present[cohort->operator_count++] = names[i];
        }
    for (size_t i = 0; i < cohort->count; i++)
        cohort->implants[i].operator_code = code[cohort->implants[i].operator_code];
    cohort->operators = present;
    return RT_OK;
}

enum rt_status cohort_of_practice(const struct rt_sample_practice *practice, const struct rt_cohort *empty,
                                  enum knowledge knowledge, struct rt_cohort *cohort, struct rt_error *error)
{
    *cohort = (struct rt_cohort){
        .period = {practice->settings.first_day, practice->settings.cut_day},
        .cuts = empty->cuts,
        .complete_since = RT_NO_DATE,
        .recall_days = empty->recall_days,
        .death_recall_days = empty->death_recall_days,
        .patients = practice->patient_count,
    };
    cohort->implants = rt_new_array(practice->implant_count + 1, sizeof *cohort->implants);
    if (cohort->implants == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < practice->implant_count; i++)
        cohort->implants[cohort->count++] = facts_of(practice, &practice->implants[i], &empty->cuts);
    if (knowledge == AS_RECORDED)
        take_recorded_events(practice, cohort);
    else
        take_all_that_happened(practice, cohort);
    enum rt_status status = take_follow_ups(practice, knowledge == AS_RECORDED, cohort, error);
    return status == RT_OK ? name_operators(cohort, error) : status;
}

void forget_patients(struct rt_cohort *cohort)
{
    for (size_t i = 0; i < cohort->count; i++)
        cohort->implants[i].patient = i;
    cohort->patients = cohort->count;
}
