#include "ridgetally/audit/due.h"

#include "ridgetally/audit/case_labels.h"
#include "ridgetally/audit/info.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/number.h"
#include "ridgetally/store/narrow.h"
#include "ridgetally/store/query.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { BASELINE_DAYS = 30, WORDS = 320 };

/* In its place, in a patient who lives and has not moved away since the last visit. */
static bool in_place(const struct rt_audit_implant *implant)
{
    return implant->removed_on == RT_NO_DATE && implant->elective_on == RT_NO_DATE &&
           implant->died_on == RT_NO_DATE &&
           (implant->moved_on == RT_NO_DATE || implant->moved_on < implant->last_seen_on);
}

static int today(const struct rt_case_writer *writer)
{
    return writer->cohort->period.last_day;
}

/* --- recalls ---------------------------------------------------------------------------------------------- */

static void take_recalls(struct rt_case_writer *writer)
{
    const struct rt_cohort *cohort = writer->cohort;
    for (size_t first = 0, end; first < cohort->count; first = end) {
        int seen = RT_NO_DATE;
        long implants = 0;
        bool followed = false;
        for (end = first;
             end < cohort->count && cohort->implants[end].patient == cohort->implants[first].patient; end++) {
            const struct rt_audit_implant *implant = &cohort->implants[end];
            seen = implant->last_seen_on > seen ? implant->last_seen_on : seen;
            implants += in_place(implant);
            followed = followed || implant->followed;
        }
        if (implants == 0 || seen + cohort->recall_days >= today(writer))
            continue;
        char finding[WORDS];
        snprintf(finding, sizeof finding,
                 followed ? "%d days without a visit" : "not seen since placement, %d days",
                 today(writer) - seen);
        char beside[WORDS];
        snprintf(beside, sizeof beside, implants == 1 ? "%ld implant in place" : "%ld implants in place",
                 implants);
        rt_write_case(writer, RT_CASE_RECALL, first, true, seen, finding, beside);
    }
}

/* --- baseline films ------------------------------------------------------------------------------------------ */

static const struct rt_film *baseline_film(const struct rt_cohort *cohort,
                                           const struct rt_audit_implant *implant, enum rt_baseline baseline)
{
    int day = rt_baseline_day(implant, baseline);
    return day == RT_NO_DATE
               ? NULL
               : rt_baseline_film(rt_films_of(cohort, implant), implant->film_count, baseline, day);
}

static bool both_sites(const struct rt_film *film)
{
    return film != NULL && !isnan(film->mesial_mm) && !isnan(film->distal_mm);
}

static void take_baselines(struct rt_case_writer *writer)
{
    const struct rt_cohort *cohort = writer->cohort;
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        const struct rt_film *film = baseline_film(cohort, implant, RT_BASELINE_PLACEMENT);
        if (!in_place(implant) || implant->placed_on + BASELINE_DAYS >= today(writer) || both_sites(film))
            continue;
        const char *beside = implant->loaded_on == RT_NO_DATE ? ""
                             : both_sites(baseline_film(cohort, implant, RT_BASELINE_LOADING))
                                 ? "a film around loading is there"
                                 : "none around loading either";
        rt_write_case(writer, RT_CASE_BASELINE, i, false, implant->placed_on,
                      film == NULL ? "no film with a level" : "only one side read", beside);
    }
}

/* --- loading --------------------------------------------------------------------------------------------------- */

static const char *loading_words(const struct rt_audit_implant *implant)
{
    return implant->loaded == RT_ANSWER_NO ? "not loaded" : "loading not recorded";
}

static bool is_unloaded(const struct rt_audit_implant *implant)
{
    return in_place(implant) && implant->loaded_on == RT_NO_DATE && implant->loaded != RT_ANSWER_YES;
}

static enum rt_status read_wait(struct rt_store *store, double *days, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    *days = NAN;
    enum rt_status status = rt_query_open(store, "sql/queries/due-wait.sql", &query, error);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    if (status == RT_OK && row)
        *days = rt_column_real(query, 0);
    rt_query_close(query);
    return status;
}

static void take_loadings(struct rt_case_writer *writer)
{
    double wait = NAN;
    if (writer->status != RT_OK)
        return;
    writer->status = read_wait(writer->store, &wait, writer->error);
    for (size_t i = 0; i < writer->cohort->count; i++) {
        const struct rt_audit_implant *implant = &writer->cohort->implants[i];
        int days = today(writer) - implant->placed_on;
        if (!is_unloaded(implant) || implant->unused_on != RT_NO_DATE || !((double)days > wait))
            continue;
        char finding[WORDS], beside[WORDS], seen[11];
        snprintf(finding, sizeof finding, "%s, %d days after placement", loading_words(implant), days);
        snprintf(beside, sizeof beside, "last seen %s; house rule %.15g days",
                 rt_format_iso_date(implant->last_seen_on, seen), wait);
        rt_write_case(writer, RT_CASE_LOADING, i, false, implant->placed_on, finding, beside);
    }
}

static void take_torques(struct rt_case_writer *writer)
{
    for (size_t i = 0; i < writer->cohort->count; i++) {
        const struct rt_audit_implant *implant = &writer->cohort->implants[i];
        if (!is_unloaded(implant) || implant->torque_class != 0)
            continue;
        char finding[WORDS];
        snprintf(finding, sizeof finding, "final torque %.15g Ncm, %s", implant->final_torque_ncm,
                 loading_words(implant));
        rt_write_case(writer, RT_CASE_TORQUE, i, false, implant->placed_on, finding,
                      implant->unused_on != RT_NO_DATE ? "recorded as unused" : "");
    }
}

/* --- bone ---------------------------------------------------------------------------------------------------- */

/* The latest answers and the first and latest probing of an implant. */
struct clinic {
    enum rt_answer bleeding, suppuration;
    double first_probing_mm, probing_mm;
    int seen_on; /* of the latest probing; RT_NO_DATE without one */
};

static struct clinic clinic_of(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    struct clinic clinic = {RT_ANSWER_MISSING, RT_ANSWER_MISSING, NAN, NAN, RT_NO_DATE};
    const struct rt_finding *findings = rt_findings_of(cohort, implant);
    for (size_t i = 0; i < implant->finding_count; i++) {
        const struct rt_finding *one = &findings[i];
        clinic.bleeding = one->bleeding != RT_ANSWER_MISSING ? one->bleeding : clinic.bleeding;
        clinic.suppuration = one->suppuration != RT_ANSWER_MISSING ? one->suppuration : clinic.suppuration;
        if (isnan(one->probing_mm))
            continue;
        clinic.first_probing_mm = isnan(clinic.first_probing_mm) ? one->probing_mm : clinic.first_probing_mm;
        clinic.probing_mm = one->probing_mm;
        clinic.seen_on = one->seen_on;
    }
    return clinic;
}

/* The other findings that the definition asks for, as they were last recorded. */
static void describe_clinic(const struct clinic *clinic, char *text, size_t size)
{
    static const char *const answers[] = {"not recorded", "no", "yes"};
    char probing[64] = "not recorded";
    if (!isnan(clinic->probing_mm))
        snprintf(probing, sizeof probing, "%.15g mm (first %.15g mm)", clinic->probing_mm,
                 clinic->first_probing_mm);
    snprintf(text, size, "last recorded: bleeding %s, pus %s, probing %s", answers[clinic->bleeding + 1],
             answers[clinic->suppuration + 1], probing);
}

/* The film before `latest` that stands for the baseline: around loading, else around placement. */
static const struct rt_film *compared_film(const struct rt_cohort *cohort,
                                           const struct rt_audit_implant *implant,
                                           const struct rt_film *latest, enum rt_baseline *which)
{
    static const enum rt_baseline order[] = {RT_BASELINE_LOADING, RT_BASELINE_PLACEMENT};
    for (size_t i = 0; i < 2; i++) {
        const struct rt_film *film = baseline_film(cohort, implant, order[i]);
        *which = order[i];
        if (film != NULL && film->seen_on < latest->seen_on && film->contact == latest->contact)
            return film;
    }
    return NULL;
}

static const char *const sites[] = {"mesial", "distal"};

/* The site with the larger number, and the number; NaN where neither has one. */
static double worse_site(double mesial, double distal, const char **site)
{
    bool second = isnan(mesial) || distal > mesial;
    *site = sites[second];
    return second ? distal : mesial;
}

static bool reaches(double mm, int threshold)
{
    return !isnan(mm) && rt_hundredths(mm) >= threshold;
}

/* What the films show, "" when no threshold is reached; *day is that of the latest film. */
static void describe_bone(const struct rt_cohort *cohort, const struct rt_audit_implant *implant, char *text,
                          size_t size, int *day, bool *with_baseline)
{
    const struct rt_film *films = rt_films_of(cohort, implant);
    const char *site = "";
    text[0] = '\0';
    *with_baseline = false;
    *day = RT_NO_DATE;
    if (implant->film_count == 0)
        return;
    const struct rt_film *latest = &films[implant->film_count - 1];
    enum rt_baseline which;
    const struct rt_film *first = compared_film(cohort, implant, latest, &which);
    char from[11], to[11];
    *day = latest->seen_on;
    *with_baseline = first != NULL;
    rt_format_iso_date(latest->seen_on, to);
    if (first != NULL) {
        double lost =
            worse_site(first->mesial_mm - latest->mesial_mm, first->distal_mm - latest->distal_mm, &site);
        if (reaches(lost, RT_LOSS_WITH_BASELINE))
            snprintf(text, size, "crest lost %.2f mm (%s) from the film around %s, %s, to %s", lost, site,
                     rt_baseline_name(which), rt_format_iso_date(first->seen_on, from), to);
        return;
    }
    double below = worse_site(-latest->mesial_mm, -latest->distal_mm, &site);
    if (reaches(below, RT_BONE_WITHOUT_BASELINE))
        snprintf(text, size, "bone %.2f mm below the platform (%s) on %s, no baseline film", below, site, to);
}

static void take_bone(struct rt_case_writer *writer)
{
    const struct rt_cohort *cohort = writer->cohort;
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        char finding[WORDS], beside[WORDS];
        int day;
        bool with_baseline;
        if (!in_place(implant))
            continue;
        const struct clinic clinic = clinic_of(cohort, implant);
        describe_bone(cohort, implant, finding, sizeof finding, &day, &with_baseline);
        describe_clinic(&clinic, beside, sizeof beside);
        bool inflamed = clinic.bleeding == RT_ANSWER_YES || clinic.suppuration == RT_ANSWER_YES;
        if (finding[0] == '\0' && !with_baseline && inflamed &&
            reaches(clinic.probing_mm, RT_PROBING_WITHOUT_BASELINE)) {
            snprintf(finding, sizeof finding,
                     "probing %.15g mm with bleeding or pus, no baseline film; fits only the wording and/or",
                     clinic.probing_mm);
            day = clinic.seen_on;
        }
        if (finding[0] != '\0')
            rt_write_case(writer, RT_CASE_BONE, i, false, day, finding, beside);
    }
}

/* --- the list -------------------------------------------------------------------------------------------------- */

enum rt_status rt_due_cases(struct rt_store *store, const struct rt_cohort *cohort, struct rt_case_list *list,
                            struct rt_error *error)
{
    struct rt_case_writer writer = {store, cohort, list, error, RT_OK};
    take_recalls(&writer);
    take_baselines(&writer);
    take_loadings(&writer);
    take_bone(&writer);
    take_torques(&writer);
    rt_write_contradictions(&writer, RT_CASE_CONTRADICTION);
    return writer.status;
}

/* Cases of one patient follow each other within a kind, as long as the list is not sorted. */
static void count_cases(const struct rt_case_list *list, enum rt_case_kind kind, struct rt_figure *row)
{
    const struct rt_case *last = NULL;
    long cases = 0, implants = 0, patients = 0;
    for (size_t i = 0; i < list->count; i++) {
        const struct rt_case *one = &list->of[i];
        if (one->kind != kind)
            continue;
        bool new_patient = last == NULL || strcmp(last->patient, one->patient) != 0;
        cases++;
        patients += new_patient;
        implants += one->implant[0] != '\0' && (new_patient || strcmp(last->implant, one->implant) != 0);
        last = one;
    }
    row->value = (double)cases;
    row->n_patients = patients;
    if (kind == RT_CASE_RECALL)
        row->unit_of_analysis = "patient";
    else
        row->n_implants = implants;
}

static void put_counts(const struct rt_case_list *list, struct rt_rows *rows)
{
    for (int kind = 0; kind < RT_DUE_KINDS; kind++) {
        struct rt_row_key key = rt_key_text("due", rt_case_kind_name((enum rt_case_kind)kind), "", "");
        struct rt_figure row = rt_row_of(rows, "flow", "due_cases", &key);
        count_cases(list, (enum rt_case_kind)kind, &row);
        rt_put_row(rows, &row);
    }
}

void rt_due_figures(struct rt_store *store, const struct rt_cohort *cohort, struct rt_rows *rows)
{
    struct rt_case_list list = {.of = NULL};
    if (rows->status == RT_OK && rt_rows_check(rows, rt_due_cases(store, cohort, &list, rows->error)))
        put_counts(&list, rows);
    rt_release_cases(&list);
}

static enum rt_status due_shown(struct rt_store *store, int day, const char *filter_words,
                                struct rt_case_list *list, struct rt_figure_list *figures,
                                struct rt_audit_info *info, struct rt_error *error)
{
    const struct rt_period period = {day, day};
    struct rt_rows rows = {.list = figures, .error = error, .status = RT_OK};
    struct rt_cohort cohort;
    enum rt_status status = rt_load_cohort(store, &period, &cohort, error);
    if (status == RT_OK)
        status = rt_audit_info(store, &cohort, filter_words, info, error);
    if (status == RT_OK)
        status = rt_due_cases(store, &cohort, list, error);
    if (status == RT_OK) {
        put_counts(list, &rows);
        rt_reader_figures(store, &cohort, &rows);
        status = rows.status;
    }
    rt_sort_cases(list);
    rt_release_cohort(&cohort);
    return status;
}

enum rt_status rt_due_run(struct rt_store *store, int day, const struct rt_audit_filters *filters,
                          struct rt_case_list *list, struct rt_figure_list *figures,
                          struct rt_audit_info *info, struct rt_error *error)
{
    struct rt_text words = {0};
    rt_text_add(&words, "");
    rt_filter_words(filters, &words);
    enum rt_status status = rt_text_status(&words, error);
    if (status == RT_OK)
        status = rt_apply_filters(store, filters, error);
    if (status == RT_OK)
        status = due_shown(store, day, words.bytes, list, figures, info, error);
    enum rt_status widened = rt_widen_store(store, error);
    rt_text_release(&words);
    return status == RT_OK ? widened : status;
}
