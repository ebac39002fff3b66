/*
 * Which cells of a deck must be withheld so that no small group of patients can be found, not even by subtraction: between
 * groups and their total, between slides, periods, filters, and decks issued before.
 *
 * A cell is a group of implants behind a number: a family of figures (those that rest on the same implants), a span of days,
 * and the conditions that chose it (`operator=A&smoking=never`, in order of their names). A cell with an outcome is the part of
 * that group with an event, and stands for the part without it too. A number of 1 to threshold - 1 patients is small; 0 is not.
 *
 * A small cell that is not shown is safe when the shown numbers leave it possible that it holds `threshold` patients or
 * more (deduction.h). The reader of a deck is taken to know every shown number exactly, that groups add up to their total, that an
 * implant belongs to one patient, and no more than RT_IMPLANTS_OF_ONE to the same. What lies between two groups of which one is part of
 * the other (the rest beside the levels, what came between two days, those of one condition and not the other) is a group like any
 * other.
 *
 * Where records were corrected since an earlier deck, counts that ought to add up do not: then each deck is taken for itself, and
 * the difference, in either direction, is a group too: it is what was corrected.
 */
#ifndef RIDGETALLY_OUTPUT_DISCLOSURE_H
#define RIDGETALLY_OUTPUT_DISCLOSURE_H

#include "ridgetally/base/error.h"

#include <stdbool.h>
#include <stddef.h>

enum { RT_IMPLANTS_OF_ONE = 32 }; /* sites in a mouth */

/* One cell. Text is borrowed. */
struct rt_cell {
    const char *family;
    int from, to;                        /* days, both in; from RT_NO_DATE: from the beginning */
    const char *conditions;              /* name=value, joined with &, sorted by name; "" = all */
    const char *outcome;                 /* "" = the whole group; else which event is counted */
    long patients, implants;             /* with an outcome: those with the event */
    long other_patients, other_implants; /* with an outcome: those without the event; else unused */
    bool earlier;                        /* stands in a deck that was issued: shown cannot be changed */
    long deck; /* cells of one deck were counted in one state of the records; the new deck's is 0 */
    bool shown;
    int worth;       /* of two that would do, the one of less worth is withheld */
    const char *why; /* filled: why the cell is withheld, "" while it is shown; static text */
};

/* Of a cell: the whole group, those with the event, those without it. The latter two need an outcome. */
enum rt_cell_part { RT_CELL_ALL, RT_CELL_WITH, RT_CELL_WITHOUT };

/* Parts of the cells at these places are nested: every implant of the inner is one of the outer. */
struct rt_nesting {
    size_t inner, outer;
    enum rt_cell_part inner_part, outer_part;
};

/* Withhold (shown = false, why filled) whatever must be withheld among the cells that are not of earlier decks: first the small ones with
 * those of the same group, then, smallest first, what would give a small one away. Groups and totals, spans of days and
 * outcomes are set in relation by their keys; nestings says what else is part of what.
 *
 * open receives the place of a small cell that can be worked out although nothing related is shown any more (earlier decks
 * show too much), or count when there is none. RT_MEMORY; RT_SYSTEM. */
enum rt_status rt_protect_cells(struct rt_cell *cells, size_t count, const struct rt_nesting *nestings,
                                size_t nesting_count, long threshold, size_t *open, struct rt_error *error);

#endif
