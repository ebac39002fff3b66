#include "ridgetally/audit/estimates.h"
#include "ridgetally/audit/film_readings.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/audit/window_cases.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/agreement.h"
#include "ridgetally/stats/clustered_icc.h"
#include "ridgetally/stats/repeat.h"

#include <limits.h>
#include <math.h>
#include <stdlib.h>

/* A change between two readings must be larger than this many errors of one reading. */
#define DETECTABLE (1.96 * sqrt(2.0))

struct readers_task {
    struct rt_film_readings readings;
    struct rt_reading_pairs pairs;
    struct rt_rows *rows;
    size_t *subject, *order, *patient; /* of the readings compared */
    double *value;
    size_t n, subjects;
    struct rt_row_key key;
    long implants, patients; /* the numbers rest on */
};

static struct rt_figure readers_row(struct readers_task *task, const char *measure)
{
    struct rt_figure row = rt_row_of(task->rows, "readers", measure, &task->key);
    row.n_implants = task->implants;
    row.n_patients = task->patients;
    return row;
}

static void put_estimate(struct readers_task *task, const char *measure, const struct rt_estimate *estimate,
                         bool with_p)
{
    struct rt_figure row = readers_row(task, measure);
    rt_set_estimate(&row, estimate);
    if (!with_p)
        row.p = NAN;
    rt_apply_minimum(&row);
    rt_put_row(task->rows, &row);
}

static void put_films(struct readers_task *task, const char *measure, size_t films)
{
    struct rt_figure row = readers_row(task, measure);
    row.value = (double)films;
    rt_put_row(task->rows, &row);
}

/* --- counts ------------------------------------------------------------------------------------------------ */

/* Implants and patients in order, counted as they change. */
struct counting {
    size_t films;
    long implants, patients;
    size_t last_film, last_implant, last_patient;
};

static struct counting start_counting(void)
{
    return (struct counting){.last_film = (size_t)-1, .last_implant = (size_t)-1, .last_patient = (size_t)-1};
}

static void count_in(struct counting *counting, size_t film, size_t implant, size_t patient)
{
    counting->films += film != counting->last_film;
    counting->implants += implant != counting->last_implant;
    counting->patients += patient != counting->last_patient;
    counting->last_film = film;
    counting->last_implant = implant;
    counting->last_patient = patient;
}

static void count_pairs(struct readers_task *task)
{
    struct counting counting = start_counting();
    for (size_t i = 0; i < task->pairs.n; i++)
        count_in(&counting, i, task->pairs.implant[i], task->pairs.patient[i]);
    task->implants = counting.implants;
    task->patients = counting.patients;
}

/* Films read at all, by one reader or by every; how many there are. A reader without any has no row. */
static size_t write_films(struct readers_task *task, size_t reader)
{
    struct counting counting = start_counting();
    for (size_t i = 0; i < task->readings.count; i++) {
        const struct rt_film_reading *one = &task->readings.of[i];
        if (reader == RT_EVERY_READER || one->reader == reader)
            count_in(&counting, one->film, one->implant, one->patient);
    }
    task->implants = counting.implants;
    task->patients = counting.patients;
    if (counting.films > 0 || reader == RT_EVERY_READER)
        put_films(task, "films_read", counting.films);
    return counting.films;
}

/* --- agreement of two readings of a film ------------------------------------------------------------------- */

static void write_agreement(struct readers_task *task, const char *const measures[3], bool with_p)
{
    const struct rt_reading_pairs *pairs = &task->pairs;
    struct rt_clusters clusters = {pairs->patient, task->readings.patients};
    struct rt_agreement agreement;
    for (size_t i = 0; i < pairs->n; i++)
        task->value[i] = pairs->second[i] - pairs->first[i];
    if (!rt_rows_check(task->rows, rt_agreement(task->value, pairs->n, RT_AGREEMENT_MULTIPLE, &clusters,
                                                &agreement, task->rows->error)))
        return;
    const struct rt_estimate *const estimates[] = {&agreement.bias, &agreement.lower_limit,
                                                   &agreement.upper_limit};
    for (size_t i = 0; i < 3; i++)
        put_estimate(task, measures[i], estimates[i], with_p && i == 0);
}

/* --- the error of one reading ------------------------------------------------------------------------------- */

/* What is called what, within and between readers. */
struct error_measures {
    const char *error, *detectable, *dahlberg; /* dahlberg NULL: not for this one */
};

static void write_error(struct readers_task *task, const struct error_measures *measures)
{
    struct rt_clusters clusters = {task->patient, task->readings.patients};
    struct rt_repeat repeat;
    if (!rt_rows_check(task->rows,
                       rt_repeat(task->subject, task->subjects, task->order, task->readings.count + 1,
                                 task->value, task->n, &clusters, &repeat, task->rows->error)))
        return;
    put_estimate(task, measures->error, &repeat.within_sd, false);
    struct rt_estimate detectable = repeat.within_sd;
    detectable.value *= DETECTABLE;
    detectable.lower *= DETECTABLE;
    detectable.upper *= DETECTABLE;
    put_estimate(task, measures->detectable, &detectable, false);
    if (measures->dahlberg == NULL)
        return;
    struct rt_estimate dahlberg =
        rt_undefined(isnan(repeat.dahlberg) && !isnan(repeat.within_sd.value)
                         ? "a film was read more than twice; the error of one reading says the same there"
                         : repeat.no_dahlberg);
    dahlberg.value = repeat.dahlberg;
    put_estimate(task, measures->dahlberg, &dahlberg, false);
}

static void write_icc(struct readers_task *task, const char *measure)
{
    struct rt_clusters clusters = {task->patient, task->readings.patients};
    struct rt_estimate icc;
    if (rt_rows_check(task->rows, rt_clustered_icc(task->subject, task->subjects, task->value, task->n,
                                                   &clusters, &icc, task->rows->error)))
        put_estimate(task, measure, &icc, false);
}

static void take_reading(struct readers_task *task, size_t index, size_t order)
{
    const struct rt_film_reading *one = &task->readings.of[index];
    task->subject[task->n] = task->subjects;
    task->order[task->n] = order;
    task->patient[task->n] = one->patient;
    task->value[task->n++] = one->level_mm;
}

/* All readings of the films that one reader (or each of them) read more than once; a film of two readers is two subjects. */
static void take_rereadings(struct readers_task *task, size_t reader)
{
    const struct rt_film_readings *readings = &task->readings;
    task->n = task->subjects = 0;
    for (size_t at = 0, end; at < readings->count; at = end) {
        end = rt_end_of_reader(readings, at);
        if (end - at < 2 || (reader != RT_EVERY_READER && readings->of[at].reader != reader))
            continue;
        for (size_t i = at; i < end; i++)
            take_reading(task, i, i - at);
        task->subjects++;
    }
}

static void write_within(struct readers_task *task, size_t reader)
{
    static const struct error_measures measures = {"reread_error", "reread_detectable", "reread_dahlberg"};
    static const char *const agreement[] = {"reread_bias", "reread_limit_lower", "reread_limit_upper"};
    rt_take_rereadings(&task->readings, reader, &task->pairs);
    if (task->pairs.n == 0 && reader != RT_EVERY_READER)
        return;
    count_pairs(task);
    put_films(task, "films_reread", task->pairs.n);
    write_agreement(task, agreement, reader == RT_EVERY_READER);
    take_rereadings(task, reader);
    write_error(task, &measures);
    write_icc(task, "reread_icc");
}

/* --- two readers -------------------------------------------------------------------------------------------- */

/* The first reading of every named reader, of the films that more than one of them read in the same kind of level. */
static void take_first_readings(struct readers_task *task, struct counting *counting)
{
    const struct rt_film_readings *readings = &task->readings;
    task->n = task->subjects = 0;
    for (size_t at = 0, end; at < readings->count; at = end) {
        const size_t before = task->n;
        bool contact = false;
        end = rt_end_of_film(readings, at);
        for (size_t i = at; i < end; i = rt_end_of_reader(readings, i)) {
            if (readings->readers[readings->of[i].reader][0] == '\0')
                continue;
            contact = task->n == before ? readings->of[i].contact : contact;
            if (readings->of[i].contact == contact)
                take_reading(task, i, readings->of[i].reader);
        }
        if (task->n - before < 2) {
            task->n = before;
            continue;
        }
        task->subjects++;
        count_in(counting, readings->of[at].film, readings->of[at].implant, readings->of[at].patient);
    }
}

static const struct error_measures between_measures = {"between_error", "between_detectable", NULL};

static void write_all_readers(struct readers_task *task)
{
    struct counting counting = start_counting();
    take_first_readings(task, &counting);
    task->implants = counting.implants;
    task->patients = counting.patients;
    put_films(task, "films_two_readers", counting.films);
    write_error(task, &between_measures);
    write_icc(task, "between_icc");
}

static void write_two_readers(struct readers_task *task, size_t reader, size_t other)
{
    static const char *const agreement[] = {"between_bias", "between_limit_lower", "between_limit_upper"};
    struct rt_reading_pairs *pairs = &task->pairs;
    struct rt_estimate icc;
    rt_take_two_readers(&task->readings, reader, other, pairs);
    if (pairs->n == 0)
        return;
    task->key =
        rt_key_text("reader", task->readings.readers[reader], "other_reader", task->readings.readers[other]);
    count_pairs(task);
    put_films(task, "films_two_readers", pairs->n);
    write_agreement(task, agreement, true);
    task->n = task->subjects = 0;
    for (size_t i = 0; i < pairs->n; i++, task->subjects++) {
        for (size_t k = 0; k < 2; k++) {
            task->subject[task->n] = i;
            task->order[task->n] = k;
            task->patient[task->n] = pairs->patient[i];
            task->value[task->n++] = k == 0 ? pairs->first[i] : pairs->second[i];
        }
    }
    write_error(task, &between_measures);
    struct rt_clusters clusters = {pairs->patient, task->readings.patients};
    if (rt_rows_check(task->rows, rt_two_reader_icc(pairs->first, pairs->second, pairs->n, &clusters, &icc,
                                                    task->rows->error)))
        put_estimate(task, "between_icc", &icc, false);
}

/* --- changes between films of different readers -------------------------------------------------------------- */

static void write_changes(const struct rt_cohort *cohort, struct rt_rows *rows)
{
    const struct rt_window *window = &rt_windows()[RT_YEAR_WINDOW];
    struct rt_window_cases cases = {.of = NULL};
    struct rt_sample same = {.n = 0}, other = {.n = 0};
    bool ready = rt_rows_check(rows, rt_window_cases_start(&cases, cohort, rows->error)) &&
                 rt_rows_check(rows, rt_sample_start(&same, cohort, rows->error)) &&
                 rt_rows_check(rows, rt_sample_start(&other, cohort, rows->error));
    if (ready) {
        struct rt_row_key key = rt_key_text("window", "all", "", "");
        rt_take_window(cohort, RT_BASELINE_PLACEMENT, window, INT_MIN, &cases);
        for (size_t i = 0; i < cases.count; i++)
            if (!isnan(cases.of[i].change.mean))
                rt_sample_add(cases.of[i].reader_changed ? &other : &same, cohort, cases.of[i].implant,
                              cases.of[i].change.mean);
        struct rt_figure count = rt_row_of(rows, "readers", "changes_two_readers", &key);
        count.at = window->months;
        count.baseline = rt_baseline_name(RT_BASELINE_PLACEMENT);
        count.n_implants = (long)other.n;
        count.n_patients = (long)other.clusters;
        count.n_due = (long)(same.n + other.n);
        count.value = (double)other.n;
        rt_put_row(rows, &count);
        struct rt_figure change = rt_row_of(rows, "readers", "change_one_reader", &key);
        change.at = window->months;
        change.baseline = count.baseline;
        change.site = "mean";
        change.n_due = count.n_due;
        if (!rt_levels_look_like_contact(cohort))
            rt_put_mean(rows, change, &same);
    }
    rt_sample_release(&same);
    rt_sample_release(&other);
    rt_window_cases_release(&cases);
}

/* --- the section ---------------------------------------------------------------------------------------------- */

static enum rt_status start(struct readers_task *task, struct rt_store *store, const struct rt_cohort *cohort,
                            struct rt_error *error)
{
    enum rt_status status = rt_load_film_readings(store, cohort->period.last_day, &task->readings, error);
    size_t room = 2 * task->readings.count + 1; /* two per pair of readings */
    task->subject = rt_new_array(room, sizeof *task->subject);
    task->order = rt_new_array(room, sizeof *task->order);
    task->patient = rt_new_array(room, sizeof *task->patient);
    task->value = rt_new_array(room, sizeof *task->value);
    if (status == RT_OK)
        status = rt_reading_pairs_start(&task->pairs, &task->readings, error);
    if (status == RT_OK &&
        (task->subject == NULL || task->order == NULL || task->patient == NULL || task->value == NULL))
        status = rt_fail_memory(error);
    return status;
}

static void write_readers(struct readers_task *task)
{
    const struct rt_film_readings *readings = &task->readings;
    task->key = rt_key_text("", "", "", "");
    write_films(task, RT_EVERY_READER);
    write_within(task, RT_EVERY_READER);
    for (size_t r = 0; r < readings->reader_count && task->rows->status == RT_OK; r++) {
        const char *name = readings->readers[r];
        task->key = rt_key_text("reader", name[0] == '\0' ? "not recorded" : name, "", "");
        if (write_films(task, r) == 0)
            continue;
        write_within(task, r);
    }
    task->key = rt_key_text("", "", "", "");
    write_all_readers(task);
    for (size_t a = 0; a < readings->reader_count; a++)
        for (size_t b = a + 1; b < readings->reader_count && readings->readers[a][0] != '\0'; b++)
            write_two_readers(task, a, b);
}

void rt_reader_figures(struct rt_store *store, const struct rt_cohort *cohort, struct rt_rows *rows)
{
    struct readers_task task = {.rows = rows};
    if (rows->status != RT_OK)
        return;
    if (rt_rows_check(rows, start(&task, store, cohort, rows->error)))
        write_readers(&task);
    if (rows->status == RT_OK)
        write_changes(cohort, rows);
    rt_release_film_readings(&task.readings);
    rt_release_reading_pairs(&task.pairs);
    free(task.subject);
    free(task.order);
    free(task.patient);
    free(task.value);
}
