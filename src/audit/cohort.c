#include "ridgetally/audit/cohort.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/base/number.h"
#include "ridgetally/store/query.h"

#include <math.h>
#include <string.h>

/* Names in byte order, for coding texts by binary search. */
struct names {
    const char **of;
    size_t count, capacity;
};

/* The order in which every query gives its rows. */
struct row_key {
    int64_t patient, implant;
};

/* What is needed while loading only. */
struct loading {
    struct rt_store *store;
    struct rt_cohort *cohort;
    struct row_key *keys; /* of each implant of the cohort */
    size_t key_capacity;
    struct names operators, lines, readers;
    char *primary_reader;
};

static enum rt_status load_names(struct loading *load, const char *resource, struct names *names,
                                 struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(load->store, resource, &query, error);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        const char **of = rt_grow_array(names->of, &names->capacity, names->count + 1, sizeof *of);
        if (of != NULL)
            names->of = of;
        const char *copy = rt_arena_copy(&load->cohort->text, rt_column_text(query, 0));
        if (of == NULL || copy == NULL)
            status = rt_fail_memory(error);
        else
            of[names->count++] = copy;
    }
    rt_query_close(query);
    return status;
}

static int code_of(const struct names *names, const char *text)
{
    size_t low = 0, high = names->count;
    while (text != NULL && low < high) {
        size_t middle = low + (high - low) / 2;
        int order = strcmp(text, names->of[middle]);
        if (order == 0)
            return (int)middle;
        if (order < 0)
            high = middle;
        else
            low = middle + 1;
    }
    return -1;
}

static enum rt_status load_settings(struct loading *load, struct rt_error *error)
{
    struct rt_cohort *cohort = load->cohort;
    char *since = NULL, *recall = NULL;
    enum rt_status status = rt_setting(load->store, "complete_since", &since, error);
    if (status == RT_OK)
        status = rt_setting(load->store, "recall_interval_months", &recall, error);
    if (status == RT_OK)
        status = rt_setting(load->store, "primary_reader", &load->primary_reader, error);
    if (status == RT_OK) {
        long months = 0;
        cohort->complete_since = rt_parse_iso_date(since);
        if (!rt_parse_integer(recall, &months) || months < 1 || months > 1200)
            status = rt_fail(error, RT_STORE, "setting recall_interval_months is not a number of months");
        cohort->recall_days = (int)((double)months * RT_MONTH_DAYS);
        cohort->death_recall_days = (int)((double)(months + 6) * RT_MONTH_DAYS);
    }
    free(since);
    free(recall);
    return status;
}

/* Where no primary reader is named, the one with the most first readings. */
static enum rt_status choose_primary_reader(struct loading *load, struct rt_error *error)
{
    if (load->primary_reader[0] != '\0')
        return RT_OK;
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(load->store, "sql/queries/audit-primary-reader.sql", &query, error);
    rt_bind_integer(query, ":last_day", load->cohort->period.last_day);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    if (status == RT_OK && row) {
        char *copy = rt_copy_text(rt_column_text(query, 0));
        if (copy == NULL) {
            status = rt_fail_memory(error);
        } else {
            free(load->primary_reader);
            load->primary_reader = copy;
        }
    }
    rt_query_close(query);
    return status;
}

/* Columns of audit-implants.sql. */
enum {
    PATIENT_ID,
    ID,
    PLACED_ON,
    TOOTH,
    OPERATOR,
    DIAMETER,
    LENGTH,
    PLANNED_DEPTH,
    ACHIEVED_DEPTH,
    DEPTH_AT_SURGERY,
    PLANNED_DENSITY,
    PLANNED_LZ,
    FOUND_DENSITY,
    FOUND_LZ,
    STALLED,
    STALL_HEIGHT,
    STALL_TORQUE,
    STALL_CAPPED,
    FINAL_TORQUE,
    FINAL_CAPPED,
    TISSUE,
    SMOKING,
    LOADED_ON,
    LOADED,
    LINE,
    GRAFT,
    BLOCKED,
    WALL_BUCCAL,
    WALL_LINGUAL,
    CHANGED,
    DENSE_DRILLING,
    NEXT_SIZE_POSSIBLE,
    TWO_STAGE,
    PERIODONTITIS,
    DIABETES
};

static enum rt_answer answer(const struct rt_query *query, int column)
{
    return (enum rt_answer)rt_column_integer(query, column, RT_ANSWER_MISSING);
}

static unsigned blocked_sections(const char *sections)
{
    unsigned blocked = 0;
    if (sections == NULL)
        return 0;
    blocked |= strstr(sections, "depth") != NULL ? RT_BLOCKS_DEPTH : 0u;
    blocked |= strstr(sections, "stability") != NULL ? RT_BLOCKS_STABILITY : 0u;
    blocked |= strstr(sections, "crest") != NULL ? RT_BLOCKS_CREST : 0u;
    blocked |= strstr(sections, "survival") != NULL ? RT_BLOCKS_SURVIVAL : 0u;
    return blocked;
}

static struct rt_audit_implant read_implant(const struct rt_query *query, const struct loading *load)
{
    const struct rt_class_cuts *cuts = &load->cohort->cuts;
    struct rt_audit_implant implant = {
        .record = rt_column_integer(query, ID, -1),
        .placed_on = rt_column_date(query, PLACED_ON),
        .tooth = (int)rt_column_integer(query, TOOTH, -1),
        .operator_code = code_of(&load->operators, rt_column_text(query, OPERATOR)),
        .line_code = code_of(&load->lines, rt_column_text(query, LINE)),
        .smoking = (int)rt_column_integer(query, SMOKING, -1),
        .blocked = blocked_sections(rt_column_text(query, BLOCKED)),
        .diameter_mm = rt_column_real(query, DIAMETER),
        .length_mm = rt_column_real(query, LENGTH),
        .planned_depth_mm = rt_column_real(query, PLANNED_DEPTH),
        .achieved_depth_mm = rt_column_real(query, ACHIEVED_DEPTH),
        .tissue_mm = rt_column_real(query, TISSUE),
        .depth_at_surgery = answer(query, DEPTH_AT_SURGERY),
        .planned = {(int)rt_column_integer(query, PLANNED_DENSITY, 0),
                    rt_column_integer(query, PLANNED_LZ, 0) != 0},
        .found = {(int)rt_column_integer(query, FOUND_DENSITY, 0),
                  rt_column_integer(query, FOUND_LZ, 0) != 0},
        .stalled = answer(query, STALLED),
        .stall_height_mm = rt_column_real(query, STALL_HEIGHT),
        .stall_torque_ncm = rt_column_real(query, STALL_TORQUE),
        .final_torque_ncm = rt_column_real(query, FINAL_TORQUE),
        .stall_torque_capped = rt_column_integer(query, STALL_CAPPED, 0) != 0,
        .final_torque_capped = rt_column_integer(query, FINAL_CAPPED, 0) != 0,
        .wall_buccal_mm = rt_column_real(query, WALL_BUCCAL),
        .wall_lingual_mm = rt_column_real(query, WALL_LINGUAL),
        .changed = answer(query, CHANGED),
        .dense_drilling = answer(query, DENSE_DRILLING),
        .next_size_possible = answer(query, NEXT_SIZE_POSSIBLE),
        .two_stage = answer(query, TWO_STAGE),
        .periodontitis = answer(query, PERIODONTITIS),
        .diabetes = (int)rt_column_integer(query, DIABETES, -1),
        .loaded_on = rt_column_date(query, LOADED_ON),
        .loaded = answer(query, LOADED),
        .graft = answer(query, GRAFT),
        .removed_on = RT_NO_DATE,
        .elective_on = RT_NO_DATE,
        .unused_on = RT_NO_DATE,
        .died_on = RT_NO_DATE,
        .moved_on = RT_NO_DATE,
        .first_seen_on = RT_NO_DATE,
    };
    implant.last_seen_on = implant.last_seen_before_removal = implant.placed_on;
    implant.depth_class = rt_class_of(&cuts->depth, implant.achieved_depth_mm);
    implant.tissue_class = rt_class_of(&cuts->tissue, implant.tissue_mm);
    implant.torque_class =
        rt_class_of_capped(&cuts->torque, implant.final_torque_ncm, implant.final_torque_capped);
    return implant;
}

static enum rt_status keep_implant(struct loading *load, const struct rt_audit_implant *implant,
                                   struct row_key key, struct rt_error *error)
{
    struct rt_cohort *cohort = load->cohort;
    size_t needed = cohort->count + 1;
    struct rt_audit_implant *implants =
        rt_grow_array(cohort->implants, &cohort->capacity, needed, sizeof *cohort->implants);
    if (implants != NULL)
        cohort->implants = implants;
    struct row_key *keys = rt_grow_array(load->keys, &load->key_capacity, needed, sizeof *keys);
    if (keys != NULL)
        load->keys = keys;
    if (implants == NULL || keys == NULL)
        return rt_fail_memory(error);
    implants[cohort->count] = *implant;
    keys[cohort->count++] = key;
    return RT_OK;
}

static enum rt_status load_implants(struct loading *load, struct rt_error *error)
{
    struct rt_cohort *cohort = load->cohort;
    struct rt_query *query = NULL;
    bool row = false;
    int64_t last_patient = -1;
    enum rt_status status = rt_query_open(load->store, "sql/queries/audit-implants.sql", &query, error);
    rt_bind_integer(query, ":last_day", cohort->period.last_day);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        struct rt_audit_implant implant = read_implant(query, load);
        if (implant.placed_on == RT_NO_DATE) {
            cohort->undated++;
        } else if (implant.placed_on > cohort->period.last_day) {
            cohort->placed_later++;
        } else {
            struct row_key key = {rt_column_integer(query, PATIENT_ID, 0), rt_column_integer(query, ID, 0)};
            cohort->patients += key.patient != last_patient;
            last_patient = key.patient;
            implant.patient = cohort->patients - 1;
            status = keep_implant(load, &implant, key, error);
        }
    }
    rt_query_close(query);
    return status;
}

/* The implant of the current row, whose first two columns are its key. Rows come in the order of the
 * implants, so that *at moves forward only. NULL for an implant that is not in the cohort. */
static struct rt_audit_implant *walk_to_row(const struct loading *load, const struct rt_query *query,
                                            size_t *at)
{
    const int64_t patient = rt_column_integer(query, 0, 0), implant = rt_column_integer(query, 1, 0);
    while (*at < load->cohort->count) {
        const struct row_key *key = &load->keys[*at];
        if (key->patient == patient && key->implant == implant)
            return &load->cohort->implants[*at];
        if (key->patient > patient || (key->patient == patient && key->implant > implant))
            return NULL;
        ++*at;
    }
    return NULL;
}

static void take_event(struct rt_audit_implant *implant, const char *event, int day)
{
    if (day < implant->placed_on)
        return; /* a contradiction that loading raised a doubt about */
    if (strcmp(event, "removed") == 0 && implant->removed_on == RT_NO_DATE)
        implant->removed_on = day;
    else if (strcmp(event, "elective") == 0 && implant->elective_on == RT_NO_DATE)
        implant->elective_on = day;
    else if (strcmp(event, "unused") == 0 && implant->unused_on == RT_NO_DATE)
        implant->unused_on = day;
    else if (strcmp(event, "died") == 0 && implant->died_on == RT_NO_DATE)
        implant->died_on = day;
    else if (strcmp(event, "moved_away") == 0)
        implant->moved_on = day;
}

static enum rt_status load_events(struct loading *load, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    size_t at = 0;
    enum rt_status status = rt_query_open(load->store, "sql/queries/audit-events.sql", &query, error);
    rt_bind_integer(query, ":last_day", load->cohort->period.last_day);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        struct rt_audit_implant *implant = walk_to_row(load, query, &at);
        if (implant != NULL)
            take_event(implant, rt_column_text(query, 2), rt_column_date(query, 3));
    }
    rt_query_close(query);
    return status;
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

/* Is there already a film of that day? The first one of a day is the primary reader's. */
static bool has_film(const struct rt_cohort *cohort, const struct rt_audit_implant *implant, int day)
{
    return implant->film_count > 0 &&
           cohort->films[implant->first_film + implant->film_count - 1].seen_on == day;
}

/* Had it been removed, for whatever reason, before that day? */
static bool is_gone(const struct rt_audit_implant *implant, int day)
{
    return (implant->removed_on != RT_NO_DATE && day > implant->removed_on) ||
           (implant->elective_on != RT_NO_DATE && day > implant->elective_on);
}

static enum rt_status take_film(struct rt_cohort *cohort, struct rt_audit_implant *implant,
                                const struct rt_film *film, struct rt_error *error)
{
    bool gone = is_gone(implant, film->seen_on);
    bool read = !isnan(film->mesial_mm) || !isnan(film->distal_mm);
    bool early = film->seen_on < implant->placed_on;
    if (gone || early || !read || has_film(cohort, implant, film->seen_on))
        return RT_OK;
    struct rt_film *films =
        rt_grow_array(cohort->films, &cohort->film_capacity, cohort->film_count + 1, sizeof *films);
    if (films == NULL)
        return rt_fail_memory(error);
    cohort->films = films;
    if (implant->film_count == 0)
        implant->first_film = cohort->film_count;
    films[cohort->film_count++] = *film;
    implant->film_count++;
    return RT_OK;
}

/* Columns of audit-readings.sql. */
enum {
    READING_PATIENT,
    READING_IMPLANT,
    SEEN_ON,
    READER,
    MESIAL,
    DISTAL,
    CONTACT,
    MOBILE,
    RADIOLUCENCY,
    PAIN,
    SUPPURATION,
    BLEEDING,
    PROBING
};

/* Keep what was examined at this visit, if anything was, while the implant was in place. */
static enum rt_status take_finding(struct rt_cohort *cohort, struct rt_audit_implant *implant,
                                   const struct rt_query *query, struct rt_error *error)
{
    const struct rt_finding finding = {.seen_on = rt_column_date(query, SEEN_ON),
                                       .mobile = answer(query, MOBILE),
                                       .radiolucency = answer(query, RADIOLUCENCY),
                                       .pain = answer(query, PAIN),
                                       .suppuration = answer(query, SUPPURATION),
                                       .bleeding = answer(query, BLEEDING),
                                       .probing_mm = rt_column_real(query, PROBING)};
    const bool empty = finding.mobile < 0 && finding.radiolucency < 0 && finding.pain < 0 &&
                       finding.suppuration < 0 && finding.bleeding < 0 && isnan(finding.probing_mm);
    if (empty || finding.seen_on < implant->placed_on || is_gone(implant, finding.seen_on))
        return RT_OK;
    struct rt_finding *findings = rt_grow_array(cohort->findings, &cohort->finding_capacity,
                                                cohort->finding_count + 1, sizeof *findings);
    if (findings == NULL)
        return rt_fail_memory(error);
    cohort->findings = findings;
    if (implant->finding_count == 0)
        implant->first_finding = cohort->finding_count;
    findings[cohort->finding_count++] = finding;
    implant->finding_count++;
    return RT_OK;
}

static enum rt_status load_readings(struct loading *load, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    size_t at = 0;
    enum rt_status status = rt_query_open(load->store, "sql/queries/audit-readings.sql", &query, error);
    rt_bind_integer(query, ":last_day", load->cohort->period.last_day);
    rt_bind_text(query, ":primary_reader", load->primary_reader);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        struct rt_audit_implant *implant = walk_to_row(load, query, &at);
        struct rt_film film = {.seen_on = rt_column_date(query, SEEN_ON),
                               .reader = code_of(&load->readers, rt_column_text(query, READER)),
                               .contact = rt_column_integer(query, CONTACT, 0) != 0,
                               .mesial_mm = rt_column_real(query, MESIAL),
                               .distal_mm = rt_column_real(query, DISTAL)};
        if (implant == NULL)
            continue;
        take_sighting(implant, film.seen_on);
        status = take_film(load->cohort, implant, &film, error);
        if (status == RT_OK)
            status = take_finding(load->cohort, implant, query, error);
    }
    rt_query_close(query);
    return status;
}

/* The key of each patient, from those of the implants. */
static enum rt_status keep_patient_keys(const struct loading *load, struct rt_error *error)
{
    struct rt_cohort *cohort = load->cohort;
    cohort->patient_keys = rt_new_array(cohort->patients + 1, sizeof *cohort->patient_keys);
    if (cohort->patient_keys == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < cohort->count; i++)
        cohort->patient_keys[cohort->implants[i].patient] = load->keys[i].patient;
    return RT_OK;
}

enum rt_status rt_load_cohort(struct rt_store *store, const struct rt_period *period,
                              struct rt_cohort *cohort, struct rt_error *error)
{
    *cohort = (struct rt_cohort){.period = *period, .complete_since = RT_NO_DATE};
    struct loading load = {.store = store, .cohort = cohort};
    enum rt_status status = load_settings(&load, error);
    if (status == RT_OK)
        status = rt_load_class_cuts(store, period->last_day, &cohort->cuts, error);
    if (status == RT_OK)
        status = load_names(&load, "sql/queries/audit-operators.sql", &load.operators, error);
    if (status == RT_OK)
        status = load_names(&load, "sql/queries/audit-lines.sql", &load.lines, error);
    if (status == RT_OK)
        status = load_names(&load, "sql/queries/audit-readers.sql", &load.readers, error);
    if (status == RT_OK)
        status = choose_primary_reader(&load, error);
    if (status == RT_OK)
        status = load_implants(&load, error);
    if (status == RT_OK)
        status = keep_patient_keys(&load, error);
    if (status == RT_OK)
        status = load_events(&load, error);
    if (status == RT_OK)
        status = load_readings(&load, error);
    cohort->lines = load.lines.of;
    cohort->line_count = load.lines.count;
    cohort->operators = load.operators.of;
    cohort->operator_count = load.operators.count;
    free(load.readers.of);
    free(load.keys);
    free(load.primary_reader);
    return status;
}

void rt_release_cohort(struct rt_cohort *cohort)
{
    free(cohort->implants);
    free(cohort->patient_keys);
    free(cohort->films);
    free(cohort->findings);
    free((void *)cohort->lines);
    free((void *)cohort->operators);
    rt_arena_release(&cohort->text);
    *cohort = (struct rt_cohort){.count = 0};
}

const struct rt_film *rt_films_of(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    return implant->film_count == 0 ? NULL : cohort->films + implant->first_film;
}

const struct rt_finding *rt_findings_of(const struct rt_cohort *cohort,
                                        const struct rt_audit_implant *implant)
{
    return implant->finding_count == 0 ? NULL : cohort->findings + implant->first_finding;
}

int rt_baseline_day(const struct rt_audit_implant *implant, enum rt_baseline baseline)
{
    return baseline == RT_BASELINE_PLACEMENT ? implant->placed_on : implant->loaded_on;
}
