/* Choosing the rows of a deck, and settling which of them are shown. */
#include "deck_rows.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/base/sha256.h"
#include "ridgetally/output/disclosure.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool wanted(const struct deck_source *source, const struct rt_figure *figure)
{
    size_t length = strlen(source->level);
    bool prefix = length > 0 && source->level[length - 1] == '|';
    bool level = length == 0 || (prefix ? strncmp(figure->level, source->level, length) == 0
                                        : strcmp(figure->level, source->level) == 0);
    return level && strcmp(figure->section, source->section) == 0 &&
           strcmp(figure->measure, source->measure) == 0 && strcmp(figure->grouping, source->grouping) == 0 &&
           strcmp(figure->site, source->site) == 0 && strcmp(figure->unit_of_analysis, "implant") == 0 &&
           (strcmp(figure->section, "crest") != 0 ||
            (figure->at == 12.0 && strcmp(figure->baseline, "placement") == 0)) &&
           (!source->yearly || figure->at == floor(figure->at));
}

static enum rt_status add_row(struct rt_deck_rows *deck, const struct deck_source *source,
                              const struct rt_figure *figure, struct rt_error *error)
{
    struct rt_deck_row *grown =
        rt_grow_array(deck->rows, &deck->row_capacity, deck->row_count + 1, sizeof *grown);
    if (grown == NULL)
        return rt_fail_memory(error);
    deck->rows = grown;
    struct rt_deck_row *row = &grown[deck->row_count++];
    *row = (struct rt_deck_row){source->slide, figure, RT_NO_CELL, RT_NO_CELL, true, ""};
    return add_row_cells(deck, source, figure, row, error);
}

enum rt_status rt_add_deck_slide(struct rt_deck_rows *deck, const char *slide, struct rt_error *error)
{
    size_t count = 0;
    const struct deck_source *sources = deck_sources(&count);
    enum rt_status status =
        rt_is_deck_finding(slide) ? RT_OK : rt_fail(error, RT_USE, "no slide '%s'", slide);
    for (size_t i = 0; i < count; i++)
        for (size_t k = 0;
             strcmp(sources[i].slide, slide) == 0 && status == RT_OK && k < deck->figures->count; k++)
            if (wanted(&sources[i], &deck->figures->rows[k]))
                status = add_row(deck, &sources[i], &deck->figures->rows[k], error);
    return status;
}

static const char *why_not(const struct rt_deck_rows *deck, const struct rt_deck_row *row)
{
    if (row->why[0] != '\0')
        return row->why;
    if (!deck->cells[row->group].shown)
        return deck->cells[row->group].why;
    if (row->outcome != RT_NO_CELL && !deck->cells[row->outcome].shown)
        return deck->cells[row->outcome].why;
    return "";
}

static bool small(long patients)
{
    return patients > 0 && patients < RT_DECK_THRESHOLD;
}

/* What the attack's test is held against: small counts are left out, and nothing else is. */
static void withhold_small_only(struct rt_deck_rows *deck)
{
    for (size_t i = 0; i < deck->cell_count; i++) {
        struct rt_cell *cell = &deck->cells[i];
        if (cell->earlier || !(small(cell->patients) || small(cell->other_patients)))
            continue;
        cell->shown = false;
        cell->why = "too few patients";
    }
}

/* One slide that rests on the cell, or on cells of its family. */
static const char *slide_of(const struct rt_deck_rows *deck, size_t cell)
{
    for (size_t i = 0; i < deck->row_count; i++)
        if (deck->rows[i].group == cell || deck->rows[i].outcome == cell)
            return deck->rows[i].slide;
    for (size_t i = 0; i < deck->row_count; i++)
        if (strcmp(deck->cells[deck->rows[i].group].family, deck->cells[cell].family) == 0)
            return deck->rows[i].slide;
    return deck->row_count > 0 ? deck->rows[0].slide : "";
}

/* A row's numbers go together: what one of its cells keeps back, the other does not show either. */
static void settle_rows(struct rt_deck_rows *deck)
{
    for (size_t i = 0; i < deck->row_count; i++) {
        struct rt_deck_row *row = &deck->rows[i];
        row->why = why_not(deck, row);
        row->shown = row->why[0] == '\0';
        if (row->shown)
            continue;
        deck->cells[row->group].shown = false;
        if (row->outcome != RT_NO_CELL)
            deck->cells[row->outcome].shown = false;
    }
}

enum rt_status rt_settle_deck(struct rt_deck_rows *deck, struct rt_error *error)
{
    struct rt_nesting *nestings = NULL;
    size_t count = 0, open = deck->cell_count;
    enum rt_status status = find_nestings(deck, &nestings, &count, error);
    if (status == RT_OK && deck->unprotected)
        withhold_small_only(deck);
    else if (status == RT_OK && deck->cell_count > 0)
        status =
            rt_protect_cells(deck->cells, deck->cell_count, nestings, count, RT_DECK_THRESHOLD, &open, error);
    free(nestings);
    if (status == RT_OK && open < deck->cell_count) {
        status = rt_fail(error, RT_INPUT,
                         "with what earlier decks show, slide '%s' would let a group of under %d patients be "
                         "worked out",
                         slide_of(deck, open), RT_DECK_THRESHOLD);
        rt_error_remedy(error, "leave the slide out, or choose the period or the records of an earlier deck");
    }
    if (status == RT_OK) {
        settle_rows(deck);
        status = copy_shown(deck, error);
    }
    return status;
}

bool rt_deck_slide_shown(const struct rt_deck_rows *deck, const char *slide)
{
    for (size_t i = 0; i < deck->row_count; i++)
        if (strcmp(deck->rows[i].slide, slide) == 0)
            return deck->rows[i].shown; /* the headline stands first */
    return false;
}

size_t rt_deck_withheld_count(const struct rt_deck_rows *deck, const char *slide)
{
    size_t count = 0;
    for (size_t i = 0; i < deck->row_count; i++)
        count += strcmp(deck->rows[i].slide, slide) == 0 && !deck->rows[i].shown;
    return count;
}

void rt_withheld_to_csv(const struct rt_deck_rows *deck, struct rt_text *csv)
{
    rt_text_add(csv, "internal,slide,section,measure,grouping,level,at,n_implants,n_patients,n_events,why\n");
    for (size_t i = 0; i < deck->row_count; i++) {
        const struct rt_figure *row = deck->rows[i].figure;
        if (deck->rows[i].shown)
            continue;
        const char *cells[] = {deck->rows[i].slide, row->section, row->measure, row->grouping, row->level};
        rt_text_add(csv, "internal: not to be shown");
        for (size_t k = 0; k < sizeof cells / sizeof cells[0]; k++) {
            rt_text_add_character(csv, ',');
            rt_text_add_csv_cell(csv, cells[k], true);
        }
        rt_text_add_character(csv, ',');
        rt_text_add_number(csv, row->at);
        const long counts[] = {row->n_implants, row->n_patients, row->n_events};
        for (size_t k = 0; k < 3; k++) {
            rt_text_add_character(csv, ',');
            if (counts[k] != RT_NO_COUNT)
                rt_text_format(csv, "%ld", counts[k]);
        }
        rt_text_add_character(csv, ',');
        rt_text_add_csv_cell(csv, deck->rows[i].why, false);
        rt_text_add_character(csv, '\n');
    }
}

void rt_release_deck_rows(struct rt_deck_rows *deck)
{
    free(deck->rows);
    free(deck->cells);
    free(deck->letters);
    rt_release_figures(&deck->shown);
    rt_arena_release(&deck->text);
    *deck = (struct rt_deck_rows){0};
}
