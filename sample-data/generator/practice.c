#include "practice.h"

#include "steps.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"

#include <math.h>
#include <string.h>

struct rt_sample_settings rt_sample_defaults(void)
{
    struct rt_sample_settings settings = {
        .seed = 20200706,
        .patients = 250,
        .first_day = rt_parse_iso_date("2020-07-01"),
        .last_day = rt_parse_iso_date("2026-06-30"),
        .cut_day = rt_parse_iso_date("2026-07-10"),
        .recorded_gaps = true,
    };
    struct rt_sample_truths truths = {
        .depth_bias_mm = {0.10, -0.25, 0.40},
        .depth_patient_sd_mm = 0.15,
        .depth_implant_sd_mm = 0.35,
        .torque_mean_ncm = {50, 41, 31, 19},
        .torque_patient_sd_ncm = 5,
        .torque_implant_sd_ncm = 7,
        .torque_per_mm_ncm = 10,
        .torque_gain_sd_ncm = 3.5,
        .torque_limit_ncm = {30, 30, 35},
        .torque_cap_ncm = 70,
        .density_planned_right = 0.62,
        .density_found_right = 0.85,
        .change_mm = -0.60,
        .change_per_depth = -0.25,
        .change_per_tissue = 0.30,
        .change_per_product = 0.15,
        .centre_depth_mm = 1.4,
        .centre_tissue_mm = 2.6,
        .change_former_smoker_mm = -0.10,
        .change_current_smoker_mm = -0.35,
        .change_patient_sd_mm = 0.30,
        .change_implant_sd_mm = 0.30,
        .yearly_change_mm = -0.03,
        .yearly_change_sd_mm = 0.03,
        .reading_sd_mm = 0.15,
        .second_reader_bias_mm = 0.05,
        .heaped_share = 0.12,
        .early_logit = -4.4,
        .log_odds_low_torque = 1.791759469228055, /* log 6 */
        .log_odds_current_smoker = 0.6,
        .frailty_sd = 1.5,
        .late_rate_per_year = 0.005,
        .lost_per_year = 0.05,
        .lost_after_failure_factor = 3,
        .moved_per_year = 0.012,
        .death_per_year_at_60 = 0.006,
        .failure_never_reported = 0.08,
    };
    settings.truths = truths;
    return settings;
}

/* Tooth positions that get implants, most wanted first by weight: molars and premolars before front teeth. */
static const int mouth[RT_SAMPLE_MOUTH] = {11, 12, 13, 14, 15, 16, 17, 21, 22, 23, 24, 25, 26, 27,
                                           31, 32, 33, 34, 35, 36, 37, 41, 42, 43, 44, 45, 46, 47};

static double site_weight(int tooth)
{
    static const double by_position[8] = {0, 3, 2, 2, 5, 5, 8, 3};
    double weight = by_position[tooth % 10];
    return tooth >= 30 && tooth % 10 < 4 ? weight / 3 : weight;
}

static int draw_tooth(struct rt_sample_random *random, bool *taken)
{
    double weights[RT_SAMPLE_MOUTH];
    for (size_t i = 0; i < RT_SAMPLE_MOUTH; i++)
        weights[i] = taken[i] ? 0 : site_weight(mouth[i]);
    size_t chosen = rt_sample_choose(random, weights, RT_SAMPLE_MOUTH);
    taken[chosen] = true;
    return mouth[chosen];
}

static enum rt_status add_implant(struct rt_sample_practice *practice,
                                  const struct rt_sample_implant *implant, struct rt_error *error)
{
    void *grown = rt_grow_array(practice->implants, &practice->implant_capacity, practice->implant_count + 1,
                                sizeof *practice->implants);
    if (grown == NULL)
        return rt_fail_memory(error);
    practice->implants = grown;
    practice->implants[practice->implant_count++] = *implant;
    return RT_OK;
}

enum rt_status rt_sample_add_followup(struct rt_sample_practice *practice,
                                      const struct rt_sample_followup *followup, struct rt_error *error)
{
    void *grown = rt_grow_array(practice->followups, &practice->followup_capacity,
                                practice->followup_count + 1, sizeof *practice->followups);
    if (grown == NULL)
        return rt_fail_memory(error);
    practice->followups = grown;
    practice->followups[practice->followup_count++] = *followup;
    return RT_OK;
}

enum rt_status rt_sample_add_event(struct rt_sample_practice *practice, const struct rt_sample_event *event,
                                   struct rt_error *error)
{
    void *grown = rt_grow_array(practice->events, &practice->event_capacity, practice->event_count + 1,
                                sizeof *practice->events);
    if (grown == NULL)
        return rt_fail_memory(error);
    practice->events = grown;
    practice->events[practice->event_count++] = *event;
    return RT_OK;
}

int rt_sample_working_day(int day)
{
    int weekday = ((day + 4) % 7 + 7) % 7; /* day 0 was a Thursday; 0 = Sunday */
    return weekday == 6 ? day + 2 : weekday == 0 ? day + 1 : day;
}

int rt_sample_last_day(const struct rt_sample_settings *settings, const struct rt_sample_patient *patient)
{
    int last = settings->cut_day;
    const int ends[] = {patient->died_on, patient->moved_on, patient->lost_on};
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++)
        if (ends[i] != RT_NO_DATE && ends[i] < last)
            last = ends[i];
    return last;
}

/* After a failure the practice hears of, the patient may turn away: more often than others. */
static void turn_away_after_failure(struct rt_sample_random *random,
                                    const struct rt_sample_settings *settings,
                                    struct rt_sample_patient *patient,
                                    const struct rt_sample_implant *implant)
{
    double extra = settings->truths.lost_per_year * (settings->truths.lost_after_failure_factor - 1);
    double years = rt_sample_waiting_time(random, extra);
    if (implant->fate == RT_FAILED_UNREPORTED)
        years = 0;
    if (implant->fate != RT_FAILED && implant->fate != RT_FAILED_UNREPORTED)
        return;
    double day = implant->ended_on + years * 365.25;
    if (day < rt_sample_last_day(settings, patient))
        patient->lost_on = (int)day - (implant->fate == RT_FAILED_UNREPORTED ? 1 : 0);
}

static enum rt_status add_session(struct rt_sample_random *random, struct rt_sample_practice *practice,
                                  struct rt_sample_patient *patient, const int *teeth, int count, int turn,
                                  int placed_on, struct rt_error *error)
{
    for (int i = 0; i < count; i++) {
        struct rt_sample_implant implant =
            rt_sample_draw_surgery(random, &practice->settings, patient, teeth[i], turn, placed_on);
        implant.patient = practice->patient_count;
        rt_sample_draw_outcome(random, &practice->settings, patient, &implant);
        turn_away_after_failure(random, &practice->settings, patient, &implant);
        enum rt_status status = add_implant(practice, &implant, error);
        if (status != RT_OK)
            return status;
    }
    return RT_OK;
}

/* A failed implant is placed again in two of five cases, about half a year later. */
static enum rt_status add_replacements(struct rt_sample_random *random, struct rt_sample_practice *practice,
                                       struct rt_sample_patient *patient, size_t first,
                                       struct rt_error *error)
{
    size_t last = practice->implant_count;
    for (size_t i = first; i < last; i++) {
        struct rt_sample_implant failed = practice->implants[i];
        bool again = rt_sample_chance(random, 0.4);
        int day = failed.ended_on == RT_NO_DATE
                      ? RT_NO_DATE
                      : rt_sample_working_day(failed.ended_on + rt_sample_integer(random, 110, 240));
        if (!again || failed.fate != RT_FAILED || day > practice->settings.last_day ||
            day > rt_sample_last_day(&practice->settings, patient) - 30)
            continue;
        enum rt_status status = add_session(random, practice, patient, &failed.tooth, 1, 1, day, error);
        if (status != RT_OK)
            return status;
    }
    return RT_OK;
}

/* The visits of each session, then the events of all the patient's implants. */
static enum rt_status add_follow_up(struct rt_sample_random *random, struct rt_sample_practice *practice,
                                    size_t patient, size_t first, struct rt_error *error)
{
    size_t last = practice->implant_count;
    for (size_t start = first; start < last;) {
        size_t end = start + 1;
        while (end < last && practice->implants[end].placed_on == practice->implants[start].placed_on)
            end++;
        enum rt_status status = rt_sample_add_visits(random, practice, start, end, error);
        if (status != RT_OK)
            return status;
        start = end;
    }
    return rt_sample_add_events(random, practice, patient, first, last, error);
}

/* Four or more implants are placed in two sessions when there is time left, and the patient is still about.
 */
static enum rt_status add_sessions(struct rt_sample_random *random, struct rt_sample_practice *practice,
                                   struct rt_sample_patient *patient, const int *teeth, int count,
                                   struct rt_error *error)
{
    const struct rt_sample_settings *settings = &practice->settings;
    int second_day = rt_sample_working_day(patient->first_day + rt_sample_integer(random, 60, 150));
    bool split = count >= 4 && second_day <= settings->last_day;
    int first_count = split ? (count + 1) / 2 : count;
    enum rt_status status =
        add_session(random, practice, patient, teeth, first_count, 0, patient->first_day, error);
    if (status == RT_OK && split && second_day < rt_sample_last_day(settings, patient) - 30)
        status = add_session(random, practice, patient, teeth + first_count, count - first_count, 0,
                             second_day, error);
    return status;
}

/* A failure may have turned the patient away before other implants were loaded, or failed: what happened
 * after the last visit is not known to the practice, and the dead lose no implants. */
static void settle(struct rt_sample_practice *practice, const struct rt_sample_patient *patient, size_t first)
{
    int last_day = rt_sample_last_day(&practice->settings, patient);
    for (size_t i = first; i < practice->implant_count; i++) {
        struct rt_sample_implant *implant = &practice->implants[i];
        if (implant->ended_on != RT_NO_DATE && patient->died_on != RT_NO_DATE &&
            implant->ended_on > patient->died_on) {
            implant->ended_on = RT_NO_DATE;
            implant->fate = RT_STANDING;
        }
        if (implant->ended_on != RT_NO_DATE && implant->ended_on > last_day) {
            implant->fate = implant->fate == RT_FAILED ? RT_FAILED_UNREPORTED : implant->fate;
            if (implant->fate == RT_REMOVED_ELECTIVE) {
                implant->ended_on = RT_NO_DATE;
                implant->fate = RT_STANDING;
            }
        }
        rt_sample_forget_later_steps(implant, last_day);
    }
}

static enum rt_status add_patient(struct rt_sample_practice *practice, struct rt_error *error)
{
    const struct rt_sample_settings *settings = &practice->settings;
    struct rt_sample_random random;
    rt_sample_random_start(&random, settings->seed, practice->patient_count + 1);
    struct rt_sample_patient patient =
        rt_sample_draw_patient(&random, settings, (int)practice->patient_count + 1);
    rt_sample_draw_departure(&random, settings, &patient);
    int count = rt_sample_cluster_size(&random);
    if (settings->implants > 0 && count > settings->implants - (int)practice->implant_count)
        count = settings->implants - (int)practice->implant_count;
    int teeth[8];
    bool taken[RT_SAMPLE_MOUTH] = {false};
    for (int i = 0; i < count; i++)
        teeth[i] = draw_tooth(&random, taken);
    size_t first = practice->implant_count;
    enum rt_status status = add_sessions(&random, practice, &patient, teeth, count, error);
    if (status == RT_OK && settings->implants == 0)
        status = add_replacements(&random, practice, &patient, first, error);
    if (status != RT_OK)
        return status;
    settle(practice, &patient, first);
    void *grown = rt_grow_array(practice->patients, &practice->patient_capacity, practice->patient_count + 1,
                                sizeof *practice->patients);
    if (grown == NULL)
        return rt_fail_memory(error);
    practice->patients = grown;
    practice->patients[practice->patient_count++] = patient;
    return add_follow_up(&random, practice, practice->patient_count - 1, first, error);
}

enum rt_status rt_generate_practice(const struct rt_sample_settings *settings,
                                    struct rt_sample_practice *practice, struct rt_error *error)
{
    memset(practice, 0, sizeof *practice);
    practice->settings = *settings;
    enum rt_status status = RT_OK;
    while (status == RT_OK && (settings->implants > 0 ? (int)practice->implant_count < settings->implants
                                                      : (int)practice->patient_count < settings->patients))
        status = add_patient(practice, error);
    return status;
}

void rt_release_practice(struct rt_sample_practice *practice)
{
    free(practice->patients);
    free(practice->implants);
    free(practice->followups);
    free(practice->events);
    memset(practice, 0, sizeof *practice);
}

double rt_sample_true_level(const struct rt_sample_implant *implant, int days)
{
    /* the bone settles over 9 months (a quadratic approach), is steady to 12, then changes slowly */
    double months = days / 30.4375;
    double left = months < 9 ? 1 - months / 9 : 0;
    double settled = 1 - left * left;
    double years_after = months > 12 ? (months - 12) / 12 : 0;
    return implant->true_depth_mm + implant->change_12_mm * settled + implant->yearly_change_mm * years_after;
}
