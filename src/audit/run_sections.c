#include "run_sections.h"

#include "ridgetally/audit/due.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/base/progress.h"

#include <math.h>
#include <pthread.h>
#include <stdatomic.h>
#include <unistd.h>

enum { LEAST_IMPLANTS = 200 }; /* fewer are done before a second thread has begun */

struct work;

/* A section and what it wrote. One that asks the store runs in the thread that opened it. */
struct section {
    void (*of_cohort)(const struct rt_cohort *cohort, struct rt_rows *rows);
    void (*of_store)(struct rt_store *store, const struct rt_cohort *cohort, struct rt_rows *rows);
    void (*of_work)(const struct work *work, struct rt_rows *rows);
    struct rt_figure_list list;
    struct rt_error error;
    struct rt_rows rows;
    bool done;
};

enum { SECTIONS = 19 + RT_EARLIER_PERIODS };

struct work {
    struct rt_store *store;
    const struct rt_cohort *cohort;
    struct rt_house_rules rules;
    struct rt_reading_errors errors;
    pthread_mutex_t *reading; /* held until the errors are there */
    struct section sections[SECTIONS];
    atomic_int next; /* counts down: the longest stand last */
};

static void run_rules(const struct work *work, struct rt_rows *rows)
{
    rt_rule_figures(&work->rules, work->cohort, rows);
}

/* The errors of reading, which the thread of the store asks for while the other has begun. */
static const struct rt_reading_errors *reading_errors(const struct work *work)
{
    pthread_mutex_lock(work->reading);
    pthread_mutex_unlock(work->reading);
    return &work->errors;
}

static void run_crest_models(const struct work *work, struct rt_rows *rows)
{
    rt_crest_model_figures(reading_errors(work), work->cohort, rows);
}

static void run_crest_error(const struct work *work, struct rt_rows *rows)
{
    rt_crest_error_figures(reading_errors(work), work->cohort, rows);
}

static void run_success(const struct work *work, struct rt_rows *rows)
{
    rt_success_figures(reading_errors(work), work->cohort, rows);
}

static void run_since_last(struct rt_store *store, const struct rt_cohort *cohort, struct rt_rows *rows)
{
    rt_change_figures(store, cohort, RT_LAST_PERIOD, rows);
}

static void run_since_year(struct rt_store *store, const struct rt_cohort *cohort, struct rt_rows *rows)
{
    rt_change_figures(store, cohort, RT_YEAR_AGO, rows);
}

/* In the reader's order, one a line; last the changes, whose rows stand apart. */
/* clang-format off */
static const struct section all_sections[] = {
    {.of_cohort = rt_flow_figures},
    {.of_store = rt_due_figures},
    {.of_cohort = rt_depth_figures},
    {.of_cohort = rt_stability_figures},
    {.of_cohort = rt_torque_slope_figures},
    {.of_cohort = rt_crest_figures},
    {.of_work = run_crest_models},
    {.of_work = run_crest_error},
    {.of_cohort = rt_crest_adjusted_figures},
    {.of_cohort = rt_crest_curve_figures},
    {.of_cohort = rt_survival_figures},
    {.of_cohort = rt_hazard_figures},
    {.of_cohort = rt_survival_table_figures},
    {.of_cohort = rt_failure_figures},
    {.of_cohort = rt_survival_check_figures},
    {.of_work = run_success},
    {.of_work = run_rules},
    {.of_store = rt_operator_figures},
    {.of_store = rt_reader_figures},
    {.of_store = run_since_last},
    {.of_store = run_since_year},
};
/* clang-format on */
_Static_assert(sizeof all_sections / sizeof all_sections[0] == SECTIONS, "SECTIONS counts all_sections");

static void run_section(struct work *work, struct section *section)
{
    section->rows = (struct rt_rows){.list = &section->list, .error = &section->error, .status = RT_OK};
    if (section->of_cohort != NULL)
        section->of_cohort(work->cohort, &section->rows);
    else if (section->of_work != NULL)
        section->of_work(work, &section->rows);
    else
        section->of_store(work->store, work->cohort, &section->rows);
    section->done = true;
}

/* Only the thread that opened the store tells. Sections differ too much for a time that is left to be said. */
static void tell(struct work *work)
{
    rt_progress_show(rt_store_progress(work->store), "computing figures", NAN, "", NAN);
}

/* Sections that need no store, as long as there are any. */
static void *take_sections(void *context)
{
    struct work *work = context;
    for (int i = atomic_fetch_sub(&work->next, 1); i >= 0; i = atomic_fetch_sub(&work->next, 1))
        if (work->sections[i].of_store == NULL)
            run_section(work, &work->sections[i]);
    return NULL;
}

static void load_errors(struct work *work, struct rt_rows *rows)
{
    rt_rows_check(rows,
                  rt_reading_errors(work->store, work->cohort->period.last_day, &work->errors, rows->error));
}

static void run_on_two(struct work *work, struct rt_rows *rows)
{
    pthread_t helper;
    pthread_mutex_lock(work->reading);
    bool helped = pthread_create(&helper, NULL, take_sections, work) == 0;
    load_errors(work, rows);
    pthread_mutex_unlock(work->reading);
    for (size_t i = 0; i < SECTIONS; i++)
        if (work->sections[i].of_store != NULL) {
            run_section(work, &work->sections[i]);
            tell(work);
        }
    take_sections(work);
    if (helped)
        pthread_join(helper, NULL);
}

/* Hand on what a section wrote; the first failure in the reader's order is the one that is told. */
static void append(struct rt_rows *rows, struct section *section)
{
    if (section->done && rows->status == RT_OK)
        rows->status = rt_move_figures(rows->list, &section->list, rows->error);
    if (section->done && rows->status == RT_OK && section->rows.status != RT_OK) {
        rows->status = section->rows.status;
        if (rows->error != NULL)
            *rows->error = section->error;
    }
    rt_release_figures(&section->list);
}

/* What another list takes over; a failure is told by rows. */
static void hand_over(struct rt_rows *rows, struct section *section, struct rt_figure_list *list)
{
    *list = section->list;
    section->list = (struct rt_figure_list){0};
    append(rows, section);
}

void rt_run_sections(struct rt_store *store, const struct rt_cohort *cohort, enum rt_cores cores,
                     struct rt_earlier_changes *changes, struct rt_rows *rows)
{
    pthread_mutex_t reading = PTHREAD_MUTEX_INITIALIZER;
    struct work work = {.store = store, .cohort = cohort, .reading = &reading, .next = SECTIONS - 1};
    bool two = cores == RT_TWO_CORES || (cores == RT_AS_IT_PAYS && cohort->count >= LEAST_IMPLANTS &&
                                         sysconf(_SC_NPROCESSORS_ONLN) > 1);
    *changes = (struct rt_earlier_changes){.since = {{0}}};
    if (!rt_rows_check(rows, rt_load_house_rules(store, &work.rules, rows->error)))
        return;
    for (size_t i = 0; i < SECTIONS; i++)
        work.sections[i] = all_sections[i];
    if (two)
        run_on_two(&work, rows);
    else
        load_errors(&work, rows);
    for (size_t i = 0; i < SECTIONS; i++) {
        if (!two && rows->status == RT_OK) {
            run_section(&work, &work.sections[i]);
            tell(&work);
        }
        if (i < SECTIONS - RT_EARLIER_PERIODS)
            append(rows, &work.sections[i]);
        else
            hand_over(rows, &work.sections[i], &changes->since[i - (SECTIONS - RT_EARLIER_PERIODS)]);
    }
}
