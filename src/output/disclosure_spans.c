/* Spans of days: quarters, years, and all up to a day. Between the days on which any span of a frame begins or ends lie the shortest
 * spans that can be told apart; every span is the sum of its own. So a quarter is found as a year less three quarters, or as what
 * came between two decks. */
#include "disclosure_relations.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"

#include <stdlib.h>

struct frame {
    struct relations *relations;
    enum rt_cell_part part;
    size_t *cells; /* one a node */
    size_t count;
    long *days; /* first days of the shortest spans, and the day after the last; 2 a cell */
    size_t day_count;
    size_t *shortest; /* their nodes; NO_NODE: in no cell */
    size_t *parts;    /* room for as many */
};

static long first_day(const struct rt_cell *cell)
{
    return cell->from;
}

static long day_after(const struct rt_cell *cell)
{
    return (long)cell->to + 1;
}

static int compare_days(const void *a, const void *b)
{
    const long one = *(const long *)a, other = *(const long *)b;
    return (one > other) - (one < other);
}

static const struct rt_cell *cell_of(const struct frame *frame, size_t at)
{
    return &frame->relations->cells[frame->cells[at]];
}

static size_t node_of(const struct frame *frame, size_t at)
{
    return node_at(frame->relations, frame->cells[at], frame->part);
}

static bool chosen(const struct frame *frame, size_t at, const long *deck)
{
    if (deck == NULL)
        return true;
    /* a cell that is alike in several decks stands for all of them */
    for (size_t i = frame->cells[at]; i < frame->relations->cell_count; i++)
        if (frame->relations->alike[i] == frame->cells[at] && frame->relations->cells[i].deck == *deck)
            return true;
    return false;
}

static void cut_days(struct frame *frame, const long *deck)
{
    size_t count = 0;
    for (size_t i = 0; i < frame->count; i++)
        if (chosen(frame, i, deck)) {
            frame->days[count++] = first_day(cell_of(frame, i));
            frame->days[count++] = day_after(cell_of(frame, i));
        }
    qsort(frame->days, count, sizeof *frame->days, compare_days);
    frame->day_count = 0;
    for (size_t i = 0; i < count; i++)
        if (i == 0 || frame->days[i] != frame->days[i - 1])
            frame->days[frame->day_count++] = frame->days[i];
}

static bool covers(const struct rt_cell *cell, const struct frame *frame, size_t span)
{
    return first_day(cell) <= frame->days[span] && frame->days[span + 1] <= day_after(cell);
}

static size_t spans_of(const struct frame *frame, size_t at)
{
    size_t count = 0;
    for (size_t k = 0; k + 1 < frame->day_count; k++)
        count += covers(cell_of(frame, at), frame, k);
    return count;
}

/* A node for each shortest span: that of a cell which is just that span, or a new one. */
static enum rt_status name_spans(struct frame *frame, const long *deck, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t k = 0; status == RT_OK && k + 1 < frame->day_count; k++) {
        size_t within = frame->count;
        frame->shortest[k] = NO_NODE;
        for (size_t i = 0; i < frame->count; i++) {
            if (!chosen(frame, i, deck) || !covers(cell_of(frame, i), frame, k))
                continue;
            within = i;
            if (spans_of(frame, i) == 1)
                frame->shortest[k] = node_of(frame, i);
        }
        if (within < frame->count && frame->shortest[k] == NO_NODE)
            status = add_node(frame->relations, NOT_KNOWN, NOT_KNOWN, frame->cells[within], false,
                              &frame->shortest[k], error);
    }
    return status;
}

/* Work out the true numbers of the new nodes where a sum leaves one open. False when one would be below nothing, or a sum is wrong. */
static bool fill_numbers(const struct frame *frame, size_t first_relation)
{
    const struct relations *relations = frame->relations;
    for (bool more = true; more;) {
        more = false;
        for (size_t i = first_relation; i < relations->count; i++) {
            const struct relation *sum = &relations->all[i];
            long left = relations->nodes[sum->whole].implants;
            size_t open = 0, place = NO_NODE;
            for (size_t k = 0; k < sum->count; k++) {
                const struct node *part = &relations->nodes[sum->parts[k]];
                if (part->implants == NOT_KNOWN) {
                    open++;
                    place = sum->parts[k];
                } else {
                    left -= part->implants;
                }
            }
            if (left < 0 || (open == 0 && left != 0))
                return false;
            if (open == 1) {
                relations->nodes[place].implants = left;
                more = true;
            }
        }
    }
    return true;
}

/* The patients of a span can be those of its parts. */
static bool patients_fit(const struct relations *relations, const struct relation *sum)
{
    const struct node *whole = &relations->nodes[sum->whole];
    long most = 0;
    for (size_t i = 0; i < sum->count; i++) {
        const struct node *part = &relations->nodes[sum->parts[i]];
        long patients = part->patients != NOT_KNOWN ? part->patients : part->implants;
        if (whole->patients == NOT_KNOWN || patients == NOT_KNOWN)
            return true;
        if (part->patients > whole->patients)
            return false;
        most += patients;
    }
    return most >= whole->patients;
}

/* Each cell as the sum of its shortest spans. False in *fits, and nothing left behind, when the true numbers contradict that. */
static enum rt_status sum_spans(struct frame *frame, const long *deck, bool *fits, struct rt_error *error)
{
    struct relations *relations = frame->relations;
    const size_t nodes = relations->node_count, first = relations->count;
    cut_days(frame, deck);
    enum rt_status status = name_spans(frame, deck, error);
    for (size_t i = 0; status == RT_OK && i < frame->count; i++) {
        size_t count = 0;
        for (size_t k = 0; chosen(frame, i, deck) && k + 1 < frame->day_count; k++)
            if (covers(cell_of(frame, i), frame, k))
                frame->parts[count++] = frame->shortest[k];
        if (count > 1 || (count == 1 && frame->parts[0] != node_of(frame, i)))
            status = add_relation(relations, node_of(frame, i), frame->parts, count, true, error);
    }
    if (status != RT_OK)
        return status;
    *fits = fill_numbers(frame, first);
    for (size_t i = first; i < relations->count; i++)
        relations->all[i].patients = patients_fit(relations, &relations->all[i]);
    while (!*fits && relations->count > first)
        free(relations->all[--relations->count].parts);
    relations->node_count = *fits ? relations->node_count : nodes;
    return RT_OK;
}

/* The decks in turn, each for itself; and every two spans of different decks of which one is part of the other. */
static enum rt_status sum_decks(struct frame *frame, struct rt_error *error)
{
    struct relations *relations = frame->relations;
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < relations->cell_count; i++) {
        const long deck = relations->cells[i].deck;
        bool before = false, fits;
        for (size_t k = 0; k < i && !before; k++)
            before = relations->cells[k].deck == deck;
        if (!before)
            status = sum_spans(frame, &deck, &fits, error);
    }
    for (size_t i = 0; status == RT_OK && i < frame->count; i++)
        for (size_t k = 0; status == RT_OK && k < frame->count; k++) {
            const bool inside = days_within(cell_of(frame, i), cell_of(frame, k));
            const bool both = inside && days_within(cell_of(frame, k), cell_of(frame, i));
            if (i != k && inside && (!both || i < k))
                status = add_pair(relations, node_of(frame, i), node_of(frame, k), error);
        }
    return status;
}

static enum rt_status relate_frame(struct frame *frame, bool cautious, struct rt_error *error)
{
    bool fits = false;
    enum rt_status status = RT_OK;
    if (!cautious)
        status = sum_spans(frame, NULL, &fits, error);
    return status == RT_OK && !fits ? sum_decks(frame, error) : status;
}

static enum rt_status find_frame(struct frame *frame, size_t seed, bool cautious, struct rt_error *error)
{
    const struct relations *relations = frame->relations;
    const bool outcome = relations->cells[seed].outcome[0] != '\0';
    enum rt_status status = RT_OK;
    for (size_t i = 0; i < seed; i++)
        if (same_frame(&relations->cells[i], &relations->cells[seed]))
            return RT_OK;
    frame->count = 0;
    for (size_t i = seed; i < relations->cell_count; i++)
        if (relations->alike[i] == i && same_frame(&relations->cells[i], &relations->cells[seed]))
            frame->cells[frame->count++] = i;
    for (int part = outcome ? RT_CELL_WITH : RT_CELL_ALL;
         status == RT_OK && frame->count > 1 && part <= (outcome ? RT_CELL_WITHOUT : RT_CELL_ALL); part++) {
        frame->part = (enum rt_cell_part)part;
        status = relate_frame(frame, cautious, error);
    }
    return status;
}

enum rt_status find_spans(struct relations *relations, bool cautious, struct rt_error *error)
{
    const size_t room = 2 * relations->cell_count + 2;
    struct frame frame = {.relations = relations,
                          .cells = rt_new_array(room, sizeof *frame.cells),
                          .days = rt_new_array(room, sizeof *frame.days),
                          .shortest = rt_new_array(room, sizeof *frame.shortest),
                          .parts = rt_new_array(room, sizeof *frame.parts)};
    enum rt_status status = RT_OK;
    if (frame.cells == NULL || frame.days == NULL || frame.shortest == NULL || frame.parts == NULL)
        status = rt_fail_memory(error);
    for (size_t i = 0; status == RT_OK && i < relations->cell_count; i++)
        status = find_frame(&frame, i, cautious, error);
    free(frame.cells);
    free(frame.days);
    free(frame.shortest);
    free(frame.parts);
    return status;
}
