/* Films and reviews of the implants of one session. */
#include "steps.h"

#include "ridgetally/base/date.h"

#include <math.h>
#include <string.h>

static bool in_place(const struct rt_sample_practice *practice, size_t index, int day)
{
    const struct rt_sample_implant *implant = &practice->implants[index];
    const struct rt_sample_patient *patient = &practice->patients[implant->patient];
    return day >= implant->placed_on && day <= rt_sample_last_day(&practice->settings, patient) &&
           (implant->ended_on == RT_NO_DATE || day < implant->ended_on);
}

/* One side as read: truth, lean of the reader, error, the film's enlargement, then rounding or heaping. */
static double read_side(struct rt_sample_random *random, const struct rt_sample_truths *truths, double level,
                        bool second_reader, double enlargement)
{
    double error = rt_sample_normal(random, 0, truths->reading_sd_mm);
    bool heaped = rt_sample_chance(random, truths->heaped_share);
    double seen = (level + error + (second_reader ? truths->second_reader_bias_mm : 0)) * enlargement;
    return rt_sample_round(seen, heaped ? 0.5 : 0.1);
}

struct film {
    int number;         /* 0 = none */
    double enlargement; /* 1 when the film holder keeps true size */
    bool measured;      /* imaged length noted */
};

static struct film take_film(struct rt_sample_random *random, struct rt_sample_practice *practice,
                             double share)
{
    bool taken = rt_sample_chance(random, share);
    bool enlarged = rt_sample_chance(random, 0.25);
    double enlargement = 1 + rt_sample_normal(random, 0.06, 0.03);
    struct film film = {.enlargement = 1};
    if (taken)
        film.number =
            (int)practice->followup_count + 1; /* unique: the number of the first row it appears on */
    if (enlarged) {
        film.enlargement = enlargement < 0.95 ? 0.95 : enlargement;
        film.measured = true;
    }
    return film;
}

static void read_film(struct rt_sample_random *random, const struct rt_sample_practice *practice,
                      const struct film *film, bool second_reader, struct rt_sample_followup *row)
{
    const struct rt_sample_truths *truths = &practice->settings.truths;
    const struct rt_sample_implant *implant = &practice->implants[row->implant];
    double level = rt_sample_true_level(implant, row->seen_on - implant->placed_on);
    double side = implant->side_difference_mm;
    row->film = film->number;
    row->reader = second_reader ? "R2" : "R1";
    row->mesial_mm = read_side(random, truths, level + side, second_reader, film->enlargement);
    row->distal_mm = read_side(random, truths, level - side, second_reader, film->enlargement);
    if (film->measured)
        row->imaged_length_mm = rt_sample_round(implant->length_mm * film->enlargement, 0.1);
    bool unread = rt_sample_chance(random, 0.03);
    bool one_side = rt_sample_chance(random, 0.015);
    if (!practice->settings.recorded_gaps)
        return;
    if (unread) {
        row->readable = false;
        row->mesial_mm = row->distal_mm = NAN;
    } else if (one_side) {
        row->distal_mm = NAN;
    }
}

static void examine(struct rt_sample_random *random, const struct rt_sample_practice *practice,
                    struct rt_sample_followup *row)
{
    const struct rt_sample_implant *implant = &practice->implants[row->implant];
    bool ailing = implant->ended_on != RT_NO_DATE && implant->ended_on - row->seen_on < 200;
    bool loaded = implant->loaded_on != RT_NO_DATE && implant->loaded_on <= row->seen_on;
    double level = rt_sample_true_level(implant, row->seen_on - implant->placed_on);
    double probing = rt_sample_round(2.6 - 0.5 * level + 0.2 * implant->tissue_mm +
                                         rt_sample_normal(random, 0, 0.6) + (ailing ? 2 : 0),
                                     1);
    row->probing_mm = !loaded ? NAN : probing < 1 ? 1 : probing > 12 ? 12 : probing;
    row->bleeding = rt_sample_chance(random, ailing ? 0.7 : 0.22);
    row->suppuration = rt_sample_chance(random, ailing ? 0.25 : 0.015);
    row->mobile = rt_sample_chance(random, ailing ? 0.2 : 0);
    row->pain = rt_sample_chance(random, ailing ? 0.25 : 0.01);
    row->radiolucency = rt_sample_chance(random, ailing ? 0.2 : 0.004) && row->film > 0;
}

/* A second reading of the same film: by the same reader again, or by the other one. */
static enum rt_status add_second_readings(struct rt_sample_random *random,
                                          struct rt_sample_practice *practice, const struct film *film,
                                          const struct rt_sample_followup *first, struct rt_error *error)
{
    bool again = rt_sample_chance(random, 0.07);
    bool other = rt_sample_chance(random, 0.07);
    struct rt_sample_followup row = *first;
    if (!practice->settings.recorded_gaps || !first->readable || first->film == 0)
        return RT_OK;
    enum rt_status status = RT_OK;
    bool first_is_second_reader = strcmp(first->reader, "R2") == 0;
    if (again) {
        read_film(random, practice, film, first_is_second_reader, &row);
        row.reading = 2;
        status = rt_sample_add_followup(practice, &row, error);
    }
    row = *first;
    if (status == RT_OK && other) {
        read_film(random, practice, film, !first_is_second_reader, &row);
        status = rt_sample_add_followup(practice, &row, error);
    }
    return status;
}

static enum rt_status add_visit(struct rt_sample_random *random, struct rt_sample_practice *practice,
                                size_t index, int day, const char *visit, const struct film *film,
                                bool second_reader, struct rt_error *error)
{
    struct rt_sample_followup row = {
        .implant = index,
        .seen_on = day,
        .visit = visit,
        .reading = 1,
        .mesial_mm = NAN,
        .distal_mm = NAN,
        .imaged_length_mm = NAN,
        .probing_mm = NAN,
        .readable = true,
    };
    if (film->number > 0)
        read_film(random, practice, film, second_reader, &row);
    if (strcmp(visit, "placement") != 0)
        examine(random, practice, &row);
    enum rt_status status = rt_sample_add_followup(practice, &row, error);
    if (status != RT_OK)
        return status;
    return add_second_readings(random, practice, film, &row, error);
}

/* One visit of all the session's implants that are still in place. `due` may be NULL (day for all) or give
 * each implant's own day. */
static enum rt_status add_session_visit(struct rt_sample_random *random, struct rt_sample_practice *practice,
                                        size_t first, size_t last, int day, const char *visit,
                                        double film_share, struct rt_error *error)
{
    bool gaps = practice->settings.recorded_gaps;
    struct film film = take_film(random, practice, gaps ? film_share : 1);
    bool second_reader = rt_sample_chance(random, 0.15) && gaps;
    enum rt_status status = RT_OK;
    for (size_t i = first; i < last && status == RT_OK; i++)
        if (in_place(practice, i, day))
            status = add_visit(random, practice, i, day, visit, &film, second_reader, error);
    return status;
}

static enum rt_status add_own_visit(struct rt_sample_random *random, struct rt_sample_practice *practice,
                                    size_t index, int day, const char *visit, double film_share,
                                    struct rt_error *error)
{
    if (day == RT_NO_DATE)
        return RT_OK;
    return add_session_visit(random, practice, index, index + 1, day, visit, film_share, error);
}

static enum rt_status add_reviews(struct rt_sample_random *random, struct rt_sample_practice *practice,
                                  size_t first, size_t last, struct rt_error *error)
{
    int placed_on = practice->implants[first].placed_on;
    enum rt_status status = RT_OK;
    for (int year = 1; status == RT_OK; year++) {
        int day =
            rt_sample_working_day(placed_on + (int)(365.25 * year) + rt_sample_integer(random, -40, 55));
        bool came = rt_sample_chance(random, 0.9) || !practice->settings.recorded_gaps;
        if (day > practice->settings.cut_day)
            break;
        if (came)
            status = add_session_visit(random, practice, first, last, day, "review", 0.93, error);
    }
    return status;
}

enum rt_status rt_sample_add_visits(struct rt_sample_random *random, struct rt_sample_practice *practice,
                                    size_t first, size_t last, struct rt_error *error)
{
    int placed_on = practice->implants[first].placed_on;
    enum rt_status status =
        add_session_visit(random, practice, first, last, placed_on, "placement", 0.96, error);
    for (size_t i = first; i < last && status == RT_OK; i++) {
        int uncovered_on = practice->implants[i].uncovered_on;
        int loaded_on = practice->implants[i].loaded_on;
        status = add_own_visit(random, practice, i, uncovered_on, "uncovering", 0.6, error);
        if (status == RT_OK)
            status = add_own_visit(random, practice, i, loaded_on, "loading", 0.92, error);
    }
    if (status == RT_OK)
        status = add_reviews(random, practice, first, last, error);
    return status;
}
