/* The relations between cells that a reader may use; private to the output layer. */
#ifndef RIDGETALLY_SRC_OUTPUT_DISCLOSURE_RELATIONS_H
#define RIDGETALLY_SRC_OUTPUT_DISCLOSURE_RELATIONS_H

#include "ridgetally/output/disclosure.h"

enum { NOT_KNOWN = -1 };

#define NO_NODE ((size_t)-1)

/* A group whose patients and implants a reader would like to know: a part of a cell, or what lies between cells. */
struct node {
    long patients, implants; /* the true numbers, or NOT_KNOWN */
    size_t cell;             /* the cell it is of, or one it lies beside */
    bool given;              /* is a part of a cell */
};

/* whole = sum of the parts, in implants; where patients is set, also: the patients of the whole are those of the parts,
 * who may be in several. */
struct relation {
    size_t whole;
    size_t *parts; /* owned */
    size_t count;
    bool patients;
};

struct relations {
    const struct rt_cell *cells;
    size_t cell_count;
    struct node *nodes;
    size_t node_count, node_capacity;
    size_t *node_of; /* 3 a cell: by enum rt_cell_part; NO_NODE: has no such part */
    size_t *alike;   /* a cell: the first one that is the same group with the same numbers */
    struct relation *all;
    size_t count, capacity;
};

/* Find the relations of the cells. The true numbers fulfil each of them; cautious: also where spans of several decks might
 * contradict each other together, so that each deck is taken for itself. Release also after a failure. */
enum rt_status find_relations(const struct rt_cell *cells, size_t count, const struct rt_nesting *nestings,
                              size_t nesting_count, bool cautious, struct relations *relations,
                              struct rt_error *error);

void release_relations(struct relations *relations);

/* --- for disclosure_spans.c --- */

size_t node_at(const struct relations *relations, size_t cell, enum rt_cell_part part);

enum rt_status add_node(struct relations *relations, long patients, long implants, size_t cell, bool given,
                        size_t *node, struct rt_error *error);

enum rt_status add_relation(struct relations *relations, size_t whole, const size_t *parts, size_t count,
                            bool patients, struct rt_error *error);

/* outer = inner and a group of its own. Where the true numbers contradict it: inner = outer and a group of its own. */
enum rt_status add_pair(struct relations *relations, size_t inner, size_t outer, struct rt_error *error);

/* Same family, outcome and conditions. */
bool same_frame(const struct rt_cell *a, const struct rt_cell *b);

/* The days of inner lie within those of outer, or are the same. */
bool days_within(const struct rt_cell *inner, const struct rt_cell *outer);

/* The relations between spans of days of each frame: each span is the sum of the shortest spans that the cells tell apart. */
enum rt_status find_spans(struct relations *relations, bool cautious, struct rt_error *error);

/* Every condition of outer is one of inner; both are sorted, and joined with &. */
bool conditions_within(const char *inner, const char *outer);

#endif
