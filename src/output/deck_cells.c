/* The groups of patients behind a figure row, and how they lie within each other. */
#include "deck_rows.h"
#include "disclosure_relations.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/output/disclosure.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Families and outcomes of the curve. */
#define FOLLOWED  "still followed "
#define BEGAN     "began"
#define FAILED_BY "failed by year "

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

/* Patients and implants with and without the event; false when they are not known. */
static bool count_outcome(const struct rt_figure *figure, struct rt_cell *cell)
{
    if (figure->n_events == RT_NO_COUNT || (figure->event_patients == RT_NO_COUNT && figure->n_events != 0))
        return false;
    cell->patients = figure->n_events == 0 ? 0 : figure->event_patients;
    cell->implants = figure->n_events;
    cell->other_implants = figure->other_implants != RT_NO_COUNT ? figure->other_implants
                                                                 : figure->n_implants - figure->n_events;
    cell->other_patients =
        figure->other_patients != RT_NO_COUNT ? figure->other_patients : figure->n_patients - cell->patients;
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
    /* a headline, which may be that of several slides, before a point of a curve, of which there are more */
    cell.worth = !source->yearly && cell.conditions != NULL && strcmp(cell.conditions, deck->conditions) == 0;
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
        rt_text_format(&family, FAILED_BY "%ld", lround(figure->at));
        cell.family = BEGAN;
        cell.outcome = keep_text(deck, &family);
        if (cell.outcome == NULL)
            return rt_fail_memory(error);
    } else {
        cell.outcome = source->outcome;
    }
    if (!count_outcome(figure, &cell)) {
        row->why = "not known how many patients had the event";
        return RT_OK;
    }
    return add_cell(deck, &cell, &row->outcome, error);
}

/* --- nestings --- */

/* The number at the end of a text that begins with stem; 0 when it is none. */
static long year_of(const char *text, const char *stem)
{
    size_t length = strlen(stem);
    return strncmp(text, stem, length) == 0 ? strtol(text + length, NULL, 10) : 0;
}

static bool is(const struct rt_cell *cell, const char *family)
{
    return strcmp(cell->family, family) == 0;
}

/* Whole groups: every implant of the one family is one of the other, over the same days or longer. */
static bool group_within(const struct rt_cell *inner, const struct rt_cell *outer)
{
    static const char *const placed_before[] = {"depth",          "torque", "crest change",
                                                "crest exposure", "early",  BEGAN};
    long risk = year_of(inner->family, FOLLOWED), wider = year_of(outer->family, FOLLOWED);
    for (size_t i = 0; is(outer, "placed") && i < sizeof placed_before / sizeof placed_before[0]; i++)
        if (is(inner, placed_before[i]))
            return true;
    return (risk > 0 && wider > 0 && risk > wider) ||
           (is(inner, "crest change") && is(outer, "crest exposure")) ||
           (is(inner, "early") && is(outer, BEGAN)) || (risk > 0 && is(outer, "placed"));
}

/* Parts of two cells of which the inner lies in the outer. */
static bool part_within(const struct rt_cell *inner, enum rt_cell_part inner_part,
                        const struct rt_cell *outer, enum rt_cell_part outer_part)
{
    long risk = year_of(inner->family, FOLLOWED);
    long failed = year_of(inner->outcome, FAILED_BY), later = year_of(outer->outcome, FAILED_BY);
    if (inner_part == RT_CELL_ALL && outer_part == RT_CELL_ALL)
        return group_within(inner, outer);
    if (inner_part == RT_CELL_ALL) /* those still followed have not failed before */
        return outer_part == RT_CELL_WITHOUT && risk > 0 && later > 0 && later <= risk;
    return inner_part == RT_CELL_WITH && outer_part == RT_CELL_WITH && later > 0 &&
           (is(inner, "early") || (failed > 0 && failed < later));
}

/* What lies within days of placement can be part of those placed in one calendar year, which is a condition: `year=2024`. */
static bool year_within(const struct rt_cell *inner, const struct rt_cell *outer)
{
    if (!is(outer, "placed") || !(is(inner, "depth") || is(inner, "torque")) || inner->from == RT_NO_DATE ||
        inner->conditions[0] != '\0')
        return false;
    struct rt_civil_date first = rt_civil_date(inner->from), last = rt_civil_date(inner->to);
    return first.year == last.year && year_of(outer->conditions, "year=") == first.year;
}

static bool has_part(const struct rt_cell *cell, int part)
{
    /* a group that has cells with outcomes only */
    return (part == RT_CELL_ALL) == (cell->outcome[0] == '\0') || (part == RT_CELL_ALL && is(cell, BEGAN));
}

static enum rt_status add_nesting(struct rt_nesting **nestings, size_t *count, size_t *capacity,
                                  const struct rt_nesting *nesting, struct rt_error *error)
{
    struct rt_nesting *grown = rt_grow_array(*nestings, capacity, *count + 1, sizeof *grown);
    if (grown == NULL)
        return rt_fail_memory(error);
    *nestings = grown;
    grown[(*count)++] = *nesting;
    return RT_OK;
}

enum rt_status find_nestings(const struct rt_deck_rows *deck, struct rt_nesting **nestings, size_t *count,
                             struct rt_error *error)
{
    static const enum rt_cell_part parts[][2] = {
        {RT_CELL_ALL, RT_CELL_ALL}, {RT_CELL_ALL, RT_CELL_WITHOUT}, {RT_CELL_WITH, RT_CELL_WITH}};
    size_t capacity = 0;
    enum rt_status status = RT_OK;
    *nestings = NULL;
    *count = 0;
    for (size_t o = 0; o < deck->cell_count; o++)
        for (size_t i = 0; i < deck->cell_count; i++) {
            const struct rt_cell *inner = &deck->cells[i], *outer = &deck->cells[o];
            if (!days_within(inner, outer) ||
                !(conditions_within(inner->conditions, outer->conditions) || year_within(inner, outer)))
                continue;
            for (size_t k = 0; status == RT_OK && k < sizeof parts / sizeof parts[0]; k++)
                if (has_part(inner, (int)parts[k][0]) && part_within(inner, parts[k][0], outer, parts[k][1]))
                    status = add_nesting(nestings, count, &capacity,
                                         &(struct rt_nesting){i, o, parts[k][0], parts[k][1]}, error);
        }
    return status;
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

enum rt_status rt_add_issued_cell(struct rt_deck_rows *deck, long issued, const char *key, long patients,
                                  long count, bool shown, struct rt_error *error)
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
                           .deck = issued,
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
