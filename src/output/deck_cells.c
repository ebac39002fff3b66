/* The groups of patients behind a figure row, and how they lie within each other. */
#include "deck_rows.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/output/disclosure.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static enum rt_status add_cell(struct rt_deck_rows *deck, const struct rt_cell *cell, size_t *place,
                               struct rt_error *error)
{
    struct rt_cell *grown =
        rt_grow_array(deck->cells, &deck->cell_capacity, deck->cell_count + 1, sizeof *grown);
    if (grown == NULL)
        return rt_fail_memory(error);
    deck->cells = grown;
    grown[deck->cell_count] = *cell;
    *place = deck->cell_count++;
    return RT_OK;
}

static const char *keep_text(struct rt_deck_rows *deck, struct rt_text *text)
{
    const char *kept =
        text->failed ? NULL : rt_arena_copy(&deck->text, text->bytes == NULL ? "" : text->bytes);
    rt_text_release(text);
    return kept;
}

/* The name of the grouping without its window: `window|operator` -> `operator`; "" when there is no more. */
static const char *further_grouping(const char *grouping)
{
    if (strcmp(grouping, "window") == 0 || strcmp(grouping, "censoring") == 0)
        return "";
    return strncmp(grouping, "window|", 7) == 0 ? grouping + 7 : grouping;
}

/* A condition `name=value`, in which & and = of a label must not be taken for ours. */
static void add_condition(struct rt_text *text, const char *name, const char *value)
{
    rt_text_format(text, "%s=", name);
    for (; *value != '\0'; value++) {
        if (strchr("&=;%", *value) != NULL)
            rt_text_format(text, "%%%02X", (unsigned)*value);
        else
            rt_text_add_character(text, *value);
    }
}

/* The filters' conditions and the row's own, in order of their names. A level the filter fixed adds nothing. */
static const char *conditions_of(struct rt_deck_rows *deck, const struct rt_figure *figure)
{
    const char *name = further_grouping(figure->grouping), *bar = strchr(figure->level, '|');
    struct rt_text own = {0}, all = {0};
    if (name[0] != '\0')
        add_condition(&own, name, bar == NULL ? figure->level : bar + 1);
    bool placed = own.length == 0;
    for (const char *at = deck->conditions; *at != '\0';) {
        size_t length = strcspn(at, "&");
        if (!placed && strncmp(own.bytes, at, length) == 0 && own.bytes[length] == '\0')
            placed = true;
        if (!placed && strcmp(own.bytes, at) < 0) {
            rt_text_format(&all, "%s%s", all.length > 0 ? "&" : "", own.bytes);
            placed = true;
        }
        rt_text_add(&all, all.length > 0 ? "&" : "");
        rt_text_add_bytes(&all, at, length);
        at += length + (at[length] == '&');
    }
    if (!placed)
        rt_text_format(&all, "%s%s", all.length > 0 ? "&" : "", own.bytes);
    all.failed = all.failed || own.failed;
    rt_text_release(&own);
    return keep_text(deck, &all);
}

static bool covers(const struct rt_figure *figure, const char *window)
{
    size_t length = strlen(window);
    return strncmp(figure->level, window, length) == 0 &&
           (figure->level[length] == '\0' || figure->level[length] == '|');
}

/* All that a curve starts with. */
static const struct rt_figure *start_of_curve(const struct rt_deck_rows *deck, const struct rt_figure *point)
{
    for (size_t i = 0; i < deck->figures->count; i++) {
        const struct rt_figure *row = &deck->figures->rows[i];
        if (strcmp(row->section, point->section) == 0 && strcmp(row->measure, "at_risk") == 0 &&
            strcmp(row->grouping, point->grouping) == 0 && strcmp(row->level, point->level) == 0 &&
            strcmp(row->unit_of_analysis, point->unit_of_analysis) == 0 && row->at == 0.0)
            return row;
    }
    return NULL;
}

/* Patients and implants with and without the event; false when they are not known. */
static bool count_outcome(const struct rt_deck_rows *deck, const struct deck_source *source,
                          const struct rt_figure *figure, struct rt_cell *cell)
{
    const struct rt_figure *all = source->yearly ? start_of_curve(deck, figure) : figure;
    if (all == NULL || (figure->event_patients == RT_NO_COUNT && figure->n_events != 0))
        return false;
    cell->patients = figure->n_events == 0 ? 0 : figure->event_patients;
    cell->implants = figure->n_events;
    cell->other_implants = all->n_implants - figure->n_events;
    cell->other_patients = figure->n_events == 0 || figure->other_patients == RT_NO_COUNT
                               ? all->n_patients - cell->patients
                               : figure->other_patients;
    return true;
}

enum rt_status add_row_cells(struct rt_deck_rows *deck, const struct deck_source *source,
                             const struct rt_figure *figure, struct rt_deck_row *row, struct rt_error *error)
{
    struct rt_text family = {0};
    rt_text_add(&family, source->family);
    if (source->yearly)
        rt_text_format(&family, " %ld", lround(figure->at));
    struct rt_cell cell = {.family = keep_text(deck, &family),
                           .from = RT_NO_DATE,
                           .to = deck->last_day,
                           .conditions = conditions_of(deck, figure),
                           .outcome = "",
                           .patients = figure->n_patients,
                           .implants = figure->n_implants,
                           .shown = true,
                           .why = ""};
    cell.worth = cell.conditions != NULL && strcmp(cell.conditions, deck->conditions) == 0; /* a headline */
    if (cell.family == NULL || cell.conditions == NULL)
        return rt_fail_memory(error);
    if (covers(figure, "12 months"))
        cell.from = rt_add_months(deck->last_day + 1, -12);
    if (covers(figure, "period"))
        cell.from = deck->first_day;
    enum rt_status status = add_cell(deck, &cell, &row->group, error);
    if (status != RT_OK || source->outcome[0] == '\0')
        return status;
    if (source->yearly) {
        family = (struct rt_text){0};
        rt_text_format(&family, "failed by year %ld", lround(figure->at));
        cell.family = keep_text(deck, &family);
        if (cell.family == NULL)
            return rt_fail_memory(error);
    }
    cell.outcome = source->outcome;
    if (!count_outcome(deck, source, figure, &cell)) {
        row->why = "not known how many patients had the event";
        return RT_OK;
    }
    return add_cell(deck, &cell, &row->outcome, error);
}

/* --- nestings --- */

/* The number at the end of a family that begins with stem; 0 when it is none. */
static long year_of(const char *family, const char *stem)
{
    size_t length = strlen(stem);
    return strncmp(family, stem, length) == 0 ? strtol(family + length, NULL, 10) : 0;
}

/* Every implant of the family inner is one of the family outer. */
static bool family_within(const struct rt_cell *inner, const struct rt_cell *outer)
{
    static const char *const placed_before[] = {"depth", "torque", "crest change", "crest exposure", "early"};
    long risk = year_of(inner->family, "still followed "), wider = year_of(outer->family, "still followed ");
    long failed = year_of(inner->family, "failed by year "),
         later = year_of(outer->family, "failed by year ");
    if (risk > 0 && wider > 0)
        return risk > wider;
    if (failed > 0 && later > 0)
        return failed < later && strcmp(inner->outcome, outer->outcome) == 0;
    if (strcmp(outer->family, "placed") == 0) {
        for (size_t i = 0; i < sizeof placed_before / sizeof placed_before[0]; i++)
            if (strcmp(inner->family, placed_before[i]) == 0)
                return true;
        return risk > 0 || failed > 0;
    }
    return strcmp(inner->family, "crest change") == 0 && strcmp(outer->family, "crest exposure") == 0;
}

/* The span of inner is one calendar year, and outer is those placed in that year. */
static bool same_year(const struct rt_cell *inner, const struct rt_cell *outer)
{
    char year[32];
    if (inner->from == RT_NO_DATE || inner->conditions[0] != '\0')
        return false;
    struct rt_civil_date first = rt_civil_date(inner->from), last = rt_civil_date(inner->to);
    snprintf(year, sizeof year, "year=%04d", first.year);
    return first.month == 1 && first.day == 1 && first.year == last.year &&
           strcmp(outer->conditions, year) == 0;
}

static bool span_within(const struct rt_cell *inner, const struct rt_cell *outer)
{
    return (outer->from == RT_NO_DATE || (inner->from != RT_NO_DATE && inner->from >= outer->from)) &&
           inner->to <= outer->to;
}

static bool is_nested(const struct rt_cell *inner, const struct rt_cell *outer)
{
    bool outcomes = strncmp(outer->family, "failed by", 9) == 0;
    if (!family_within(inner, outer) || !span_within(inner, outer))
        return false;
    /* the whole group stands for itself; with an outcome only failures are compared */
    if (outcomes ? inner->outcome[0] == '\0' : inner->outcome[0] != '\0' || outer->outcome[0] != '\0')
        return false;
    return strcmp(inner->conditions, outer->conditions) == 0 || same_year(inner, outer);
}

enum rt_status find_nestings(const struct rt_deck_rows *deck, struct rt_nesting **nestings, size_t *count,
                             struct rt_error *error)
{
    size_t capacity = 0;
    *nestings = NULL;
    *count = 0;
    for (size_t outer = 0; outer < deck->cell_count; outer++) {
        for (size_t inner = 0; inner < deck->cell_count; inner++) {
            if (inner == outer || !is_nested(&deck->cells[inner], &deck->cells[outer]))
                continue;
            struct rt_nesting *grown = rt_grow_array(*nestings, &capacity, *count + 1, sizeof *grown);
            if (grown == NULL)
                return rt_fail_memory(error);
            *nestings = grown;
            grown[(*count)++] = (struct rt_nesting){inner, outer};
        }
    }
    return RT_OK;
}

/* --- the cells of issued decks --- */

/* family;from;to;conditions;outcome;part: what the store keeps of a count. */
static void add_key(struct rt_text *key, const struct rt_cell *cell, const char *part)
{
    rt_text_format(key, "%s;%d;%d;%s;%s;%s", cell->family, cell->from, cell->to, cell->conditions,
                   cell->outcome, part);
}

enum rt_status rt_write_issued_cells(const struct rt_deck_rows *deck,
                                     enum rt_status (*take)(void *context, const char *key, long patients,
                                                            long count, bool shown, struct rt_error *error),
                                     void *context, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < deck->cell_count; i++) {
        const struct rt_cell *cell = &deck->cells[i];
        if (cell->earlier)
            continue;
        struct rt_text key = {0}, other = {0};
        bool outcome = cell->outcome[0] != '\0';
        add_key(&key, cell, outcome ? "with" : "all");
        add_key(&other, cell, "without");
        status = rt_text_status(&key, error);
        if (status == RT_OK)
            status = rt_text_status(&other, error);
        if (status == RT_OK)
            status = take(context, key.bytes, cell->patients, cell->implants, cell->shown, error);
        if (status == RT_OK && outcome)
            status =
                take(context, other.bytes, cell->other_patients, cell->other_implants, cell->shown, error);
        rt_text_release(&key);
        rt_text_release(&other);
    }
    return status;
}

enum { KEY_PARTS = 6 };

static bool split_key(char *key, const char *parts[KEY_PARTS])
{
    for (size_t i = 0; i < KEY_PARTS; i++) {
        parts[i] = key;
        char *end = strchr(key, ';');
        if ((end == NULL) != (i == KEY_PARTS - 1))
            return false;
        if (end != NULL) {
            *end = '\0';
            key = end + 1;
        }
    }
    return true;
}

enum rt_status rt_add_issued_cell(struct rt_deck_rows *deck, const char *key, long patients, long count,
                                  bool shown, struct rt_error *error)
{
    const char *parts[KEY_PARTS];
    size_t length = strlen(key) + 1, place = 0;
    char *copy = rt_arena_new(&deck->text, length);
    if (copy == NULL)
        return rt_fail_memory(error);
    memcpy(copy, key, length);
    if (!split_key(copy, parts))
        return rt_fail(error, RT_STORE, "a count of an issued deck is not readable: '%.100s'", key);
    struct rt_cell cell = {.family = parts[0],
                           .from = (int)strtol(parts[1], NULL, 10),
                           .to = (int)strtol(parts[2], NULL, 10),
                           .conditions = parts[3],
                           .outcome = parts[4],
                           .patients = patients,
                           .implants = count,
                           .earlier = true,
                           .shown = shown,
                           .why = ""};
    struct rt_cell *before = deck->cell_count > 0 ? &deck->cells[deck->cell_count - 1] : NULL;
    if (strcmp(parts[5], "without") != 0)
        return add_cell(deck, &cell, &place, error);
    if (before == NULL || strcmp(before->outcome, cell.outcome) != 0 ||
        strcmp(before->family, cell.family) != 0)
        return rt_fail(error, RT_STORE, "a count of an issued deck stands alone: '%.100s'", key);
    before->other_patients = patients;
    before->other_implants = count;
    return RT_OK;
}
