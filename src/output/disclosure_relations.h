/* The relations between cells that a reader may use; private to the output layer. */
#ifndef RIDGETALLY_SRC_OUTPUT_DISCLOSURE_RELATIONS_H
#define RIDGETALLY_SRC_OUTPUT_DISCLOSURE_RELATIONS_H

#include "ridgetally/output/disclosure.h"

/* whole = all parts and a rest, a group of its own that is not shown. The numbers of the rest are the true ones; with an
 * outcome, those with the event and those without it. */
struct relation {
    size_t whole;
    size_t *parts; /* owned */
    size_t count;
    long rest_implants, rest_others;
    bool others; /* the parts without the event add up likewise (levels of one span; events may come later) */
};

struct relations {
    struct relation *all;
    size_t count, capacity;
};

/* Find the relations of the cells. Those that the true numbers contradict (records corrected since an earlier deck) are left
 * out: a reader who believes them finds nothing true. Release also after a failure. */
enum rt_status find_relations(const struct rt_cell *cells, size_t count, const struct rt_nesting *nestings,
                              size_t nesting_count, struct relations *relations, struct rt_error *error);

void release_relations(struct relations *relations);

/* Same family, span and conditions: one group. */
bool same_group(const struct rt_cell *a, const struct rt_cell *b);

#endif
