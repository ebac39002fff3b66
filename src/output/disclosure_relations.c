/* What a reader may add and subtract: outcomes of a group, levels of a whole, groups within groups. */
#include "disclosure_relations.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"

#include <string.h>

static bool same(const char *a, const char *b)
{
    return strcmp(a, b) == 0;
}

static bool has_outcome(const struct rt_cell *cell)
{
    return cell->outcome[0] != '\0';
}

static bool same_group(const struct rt_cell *a, const struct rt_cell *b)
{
    return same(a->family, b->family) && a->from == b->from && a->to == b->to &&
           same(a->conditions, b->conditions);
}

bool same_frame(const struct rt_cell *a, const struct rt_cell *b)
{
    return same(a->family, b->family) && same(a->outcome, b->outcome) && same(a->conditions, b->conditions);
}

bool days_within(const struct rt_cell *inner, const struct rt_cell *outer)
{
    bool from = outer->from == RT_NO_DATE || (inner->from != RT_NO_DATE && inner->from >= outer->from);
    return from && inner->to <= outer->to;
}

static bool same_days(const struct rt_cell *a, const struct rt_cell *b)
{
    return a->from == b->from && a->to == b->to;
}

static long all_implants(const struct rt_cell *cell)
{
    return cell->implants + (has_outcome(cell) ? cell->other_implants : 0);
}

size_t node_at(const struct relations *relations, size_t cell, enum rt_cell_part part)
{
    return relations->node_of[3 * cell + (size_t)part];
}

enum rt_status add_node(struct relations *relations, long patients, long implants, size_t cell, bool given,
                        size_t *node, struct rt_error *error)
{
    struct node *grown =
        rt_grow_array(relations->nodes, &relations->node_capacity, relations->node_count + 1, sizeof *grown);
    if (grown == NULL)
        return rt_fail_memory(error);
    relations->nodes = grown;
    grown[relations->node_count] = (struct node){patients, implants, cell, given};
    *node = relations->node_count++;
    return RT_OK;
}

enum rt_status add_relation(struct relations *relations, size_t whole, const size_t *parts, size_t count,
                            bool patients, struct rt_error *error)
{
    struct relation *grown =
        rt_grow_array(relations->all, &relations->capacity, relations->count + 1, sizeof *grown);
    if (grown == NULL)
        return rt_fail_memory(error);
    relations->all = grown;
    size_t *copy = rt_new_array(count, sizeof *copy);
    if (copy == NULL)
        return rt_fail_memory(error);
    memcpy(copy, parts, count * sizeof *copy);
    grown[relations->count++] = (struct relation){whole, copy, count, patients};
    return RT_OK;
}

/* Whole and parts with the rest; `rest` receives it, NO_NODE when there is none. Where the parts are more than the whole, what
 * they are more is a group too: it is what was corrected between two decks, and a reader may subtract it. */
static enum rt_status add_sum(struct relations *relations, size_t whole, size_t *parts, size_t count,
                              size_t *rest, struct rt_error *error)
{
    const size_t cell = relations->nodes[whole].cell;
    long implants = relations->nodes[whole].implants, sum = 0, patients = 0, most = 0;
    for (size_t i = 0; i < count; i++) {
        const struct node *part = &relations->nodes[parts[i]];
        sum += part->implants;
        patients += part->patients == NOT_KNOWN ? part->implants : part->patients;
        most = part->patients > most ? part->patients : most;
    }
    size_t total = NO_NODE, both[2] = {whole, NO_NODE};
    *rest = NO_NODE;
    if (sum > implants) {
        enum rt_status status = add_node(relations, NOT_KNOWN, sum, cell, false, &total, error);
        if (status == RT_OK)
            status = add_relation(relations, total, parts, count, false, error);
        if (status == RT_OK)
            status = add_node(relations, NOT_KNOWN, sum - implants, cell, false, &both[1], error);
        return status == RT_OK ? add_relation(relations, total, both, 2, false, error) : status;
    }
    /* patients of other numbers than the parts can have: corrected, too */
    long own = relations->nodes[whole].patients;
    bool fits = own == NOT_KNOWN || (most <= own && patients + (implants - sum) >= own);
    enum rt_status status = RT_OK;
    if (sum < implants) {
        status = add_node(relations, NOT_KNOWN, implants - sum, cell, false, rest, error);
        parts[count] = *rest;
    }
    return status == RT_OK ? add_relation(relations, whole, parts, count + (*rest != NO_NODE), fits, error)
                           : status;
}

enum rt_status add_pair(struct relations *relations, size_t inner, size_t outer, struct rt_error *error)
{
    size_t parts[2] = {inner, NO_NODE}, rest;
    if (inner == outer)
        return RT_OK;
    if (relations->nodes[inner].implants > relations->nodes[outer].implants) {
        parts[0] = outer;
        outer = inner;
    }
    return add_sum(relations, outer, parts, 1, &rest, error);
}

/* --- nodes --- */

static bool same_numbers(const struct rt_cell *a, const struct rt_cell *b)
{
    return a->patients == b->patients && a->implants == b->implants &&
           (!has_outcome(a) ||
            (a->other_patients == b->other_patients && a->other_implants == b->other_implants));
}

/* The group of a cell with an outcome: known by its implants, or a node of its own. */
static enum rt_status find_group(struct relations *relations, size_t at, size_t *node, struct rt_error *error)
{
    const struct rt_cell *cell = &relations->cells[at];
    size_t found = NO_NODE;
    for (size_t i = 0; i < relations->cell_count; i++) {
        const struct rt_cell *other = &relations->cells[i];
        size_t own = node_at(relations, i, RT_CELL_ALL);
        if (own == NO_NODE || !same_group(cell, other) || all_implants(cell) != all_implants(other))
            continue;
        if (found == NO_NODE || (other->deck == cell->deck && !has_outcome(other)))
            found = own;
    }
    *node = found;
    return found != NO_NODE ? RT_OK
                            : add_node(relations, NOT_KNOWN, all_implants(cell), at, true, node, error);
}

static enum rt_status add_outcome(struct relations *relations, size_t at, struct rt_error *error)
{
    const struct rt_cell *cell = &relations->cells[at];
    size_t *nodes = &relations->node_of[3 * at], group = NO_NODE, rest;
    enum rt_status status = find_group(relations, at, &group, error);
    nodes[RT_CELL_ALL] = group;
    if (status == RT_OK)
        status = add_node(relations, cell->patients, cell->implants, at, true, &nodes[RT_CELL_WITH], error);
    if (status == RT_OK)
        status = add_node(relations, cell->other_patients, cell->other_implants, at, true,
                          &nodes[RT_CELL_WITHOUT], error);
    size_t parts[3] = {nodes[RT_CELL_WITH], nodes[RT_CELL_WITHOUT]};
    return status == RT_OK ? add_sum(relations, group, parts, 2, &rest, error) : status;
}

static size_t first_alike(const struct relations *relations, size_t at)
{
    const struct rt_cell *cell = &relations->cells[at];
    for (size_t i = 0; i < at; i++)
        if (same_group(cell, &relations->cells[i]) && same(cell->outcome, relations->cells[i].outcome) &&
            same_numbers(cell, &relations->cells[i]))
            return i;
    return at;
}

static enum rt_status add_nodes(struct relations *relations, bool outcomes, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < relations->cell_count; i++) {
        const struct rt_cell *cell = &relations->cells[i];
        if (has_outcome(cell) != outcomes)
            continue;
        size_t first = relations->alike[i];
        if (first < i)
            memcpy(&relations->node_of[3 * i], &relations->node_of[3 * first], 3 * sizeof(size_t));
        else if (outcomes)
            status = add_outcome(relations, i, error);
        else
            status = add_node(relations, cell->patients, cell->implants, i, true,
                              &relations->node_of[3 * i + RT_CELL_ALL], error);
    }
    return status;
}

/* --- levels --- */

/* The name of the one condition that inner has beside those of outer; NULL when it has not just one more. Both are sorted. */
static const char *further_condition(const char *inner, const char *outer, size_t *name_length)
{
    const char *further = NULL;
    while (*inner != '\0') {
        size_t length = strcspn(inner, "&"), outer_length = strcspn(outer, "&");
        if (length == outer_length && memcmp(inner, outer, length) == 0) {
            outer += outer_length + (outer[outer_length] == '&');
        } else if (further == NULL) {
            further = inner;
            *name_length = strcspn(inner, "=");
        } else {
            return NULL;
        }
        inner += length + (inner[length] == '&');
    }
    return *outer == '\0' ? further : NULL;
}

/* The levels of one grouping below a whole. */
struct levels {
    size_t whole; /* cell */
    const char *name;
    size_t length;
    enum rt_cell_part part;
    size_t *cells; /* one a group */
    size_t count;
    size_t rest; /* node */
};

struct level_book {
    struct relations *relations;
    struct levels *all;
    size_t count, capacity;
};

static bool is_level_of(const struct relations *relations, size_t cell, const struct levels *levels)
{
    const struct rt_cell *one = &relations->cells[cell], *whole = &relations->cells[levels->whole];
    size_t length = 0;
    if (!same(one->family, whole->family) || !same(one->outcome, whole->outcome) || !same_days(one, whole))
        return false;
    const char *name = further_condition(one->conditions, whole->conditions, &length);
    return name != NULL &&
           (levels->name == NULL || (length == levels->length && memcmp(name, levels->name, length) == 0));
}

static bool has_group(const struct relations *relations, const struct levels *levels, size_t cell)
{
    for (size_t i = 0; i < levels->count; i++)
        if (same_group(&relations->cells[levels->cells[i]], &relations->cells[cell]))
            return true;
    return false;
}

/* Those of the deck of the whole first, then those of others, newest last given first, as far as they add up. */
static void gather_levels(const struct relations *relations, const size_t *chosen, size_t chosen_count,
                          struct levels *levels)
{
    const long deck = relations->cells[levels->whole].deck;
    long left = relations->nodes[node_at(relations, levels->whole, levels->part)].implants;
    for (int other = 0; other < 2; other++)
        for (size_t i = chosen_count; i-- > 0;) {
            size_t cell = chosen[i];
            if ((relations->cells[cell].deck != deck) != (other == 1) ||
                !is_level_of(relations, cell, levels) || has_group(relations, levels, cell))
                continue;
            long implants = relations->nodes[node_at(relations, cell, levels->part)].implants;
            if (other == 1 && implants > left)
                continue;
            levels->cells[levels->count++] = cell;
            left -= implants;
        }
}

/* The same sum of another deck stands there already. */
static bool known_levels(const struct level_book *book, const struct levels *levels)
{
    const struct relations *relations = book->relations;
    for (size_t i = 0; i < book->count; i++) {
        const struct levels *other = &book->all[i];
        bool equal = other->part == levels->part && other->count == levels->count &&
                     node_at(relations, other->whole, other->part) ==
                         node_at(relations, levels->whole, levels->part) &&
                     other->length == levels->length &&
                     memcmp(other->name, levels->name, levels->length) == 0;
        for (size_t k = 0; equal && k < levels->count; k++) {
            bool found = false;
            for (size_t j = 0; j < other->count; j++)
                found = found || relations->alike[other->cells[j]] == relations->alike[levels->cells[k]];
            equal = found;
        }
        if (equal)
            return true;
    }
    return false;
}

static enum rt_status keep_levels(struct level_book *book, struct levels *levels, struct rt_error *error)
{
    struct relations *relations = book->relations;
    struct levels *grown = rt_grow_array(book->all, &book->capacity, book->count + 1, sizeof *grown);
    size_t *parts = rt_new_array(levels->count + 1, sizeof *parts);
    enum rt_status status = grown != NULL && parts != NULL ? RT_OK : rt_fail_memory(error);
    if (grown != NULL)
        book->all = grown;
    for (size_t i = 0; status == RT_OK && i < levels->count; i++)
        parts[i] = node_at(relations, levels->cells[i], levels->part);
    if (status == RT_OK)
        status = add_sum(relations, node_at(relations, levels->whole, levels->part), parts, levels->count,
                         &levels->rest, error);
    free(parts);
    if (status == RT_OK)
        grown[book->count++] = *levels;
    else
        free(levels->cells);
    return status;
}

static enum rt_status find_levels_named(struct level_book *book, struct levels seed, const size_t *chosen,
                                        size_t chosen_count, struct rt_error *error)
{
    struct levels levels = seed;
    levels.cells = rt_new_array(chosen_count, sizeof *levels.cells);
    if (levels.cells == NULL)
        return rt_fail_memory(error);
    gather_levels(book->relations, chosen, chosen_count, &levels);
    if (levels.count > 0 && !known_levels(book, &levels))
        return keep_levels(book, &levels, error);
    free(levels.cells);
    return RT_OK;
}

static enum rt_status find_levels(struct level_book *book, size_t whole, size_t *chosen,
                                  struct rt_error *error)
{
    struct relations *relations = book->relations;
    struct levels seed = {.whole = whole};
    size_t count = 0;
    for (size_t i = 0; i < relations->cell_count; i++)
        if (is_level_of(relations, i, &seed))
            chosen[count++] = i;
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < count; i++) {
        seed.name = further_condition(relations->cells[chosen[i]].conditions,
                                      relations->cells[whole].conditions, &seed.length);
        bool before = false;
        for (size_t k = 0; k < i; k++)
            before = before || is_level_of(relations, chosen[k], &seed);
        bool outcome = has_outcome(&relations->cells[whole]);
        for (int part = outcome ? RT_CELL_WITH : RT_CELL_ALL;
             status == RT_OK && !before && part <= (outcome ? RT_CELL_WITHOUT : RT_CELL_ALL); part++) {
            seed.part = (enum rt_cell_part)part;
            status = find_levels_named(book, seed, chosen, count, error);
        }
        seed.name = NULL;
    }
    return status;
}

/* The same levels of the same whole. */
static bool same_levels(const struct relations *relations, const struct levels *a, const struct levels *b)
{
    bool equal = a->part == b->part && a->count == b->count && a->length == b->length &&
                 memcmp(a->name, b->name, a->length) == 0 &&
                 same_frame(&relations->cells[a->whole], &relations->cells[b->whole]);
    for (size_t i = 0; equal && i < a->count; i++) {
        bool found = false;
        for (size_t k = 0; k < b->count; k++)
            found = found ||
                    same(relations->cells[a->cells[i]].conditions, relations->cells[b->cells[k]].conditions);
        equal = found;
    }
    return equal;
}

/* What is in none of the levels, over a shorter and a longer span. */
static enum rt_status pair_rests(struct level_book *book, struct rt_error *error)
{
    struct relations *relations = book->relations;
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < book->count; i++)
        for (size_t k = 0; status == RT_OK && k < book->count; k++) {
            const struct levels *inner = &book->all[i], *outer = &book->all[k];
            if (i != k && inner->rest != NO_NODE && outer->rest != NO_NODE &&
                same_levels(relations, inner, outer) &&
                days_within(&relations->cells[inner->whole], &relations->cells[outer->whole]))
                status = add_pair(relations, inner->rest, outer->rest, error);
        }
    return status;
}

static enum rt_status find_all_levels(struct relations *relations, struct rt_error *error)
{
    struct level_book book = {.relations = relations};
    size_t *chosen = rt_new_array(relations->cell_count, sizeof *chosen);
    enum rt_status status = chosen != NULL ? RT_OK : rt_fail_memory(error);
    for (size_t whole = 0; status == RT_OK && whole < relations->cell_count; whole++)
        status = find_levels(&book, whole, chosen, error);
    if (status == RT_OK)
        status = pair_rests(&book, error);
    for (size_t i = 0; i < book.count; i++)
        free(book.all[i].cells);
    free(book.all);
    free(chosen);
    return status;
}

/* --- groups within groups --- */

bool conditions_within(const char *inner, const char *outer)
{
    while (*outer != '\0') {
        size_t length = strcspn(outer, "&");
        while (*inner != '\0' && (strcspn(inner, "&") != length || memcmp(inner, outer, length) != 0)) {
            inner += strcspn(inner, "&");
            inner += *inner == '&';
        }
        if (*inner == '\0')
            return false;
        outer += length + (outer[length] == '&');
    }
    return true;
}

/* inner lies in outer, by what their keys say. */
static bool lies_in(const struct rt_cell *inner, const struct rt_cell *outer)
{
    return same(inner->family, outer->family) && same(inner->outcome, outer->outcome) &&
           days_within(inner, outer) && conditions_within(inner->conditions, outer->conditions);
}

static bool add_up(const struct relations *relations, size_t inner, size_t outer, enum rt_cell_part part)
{
    return relations->nodes[node_at(relations, inner, part)].implants <=
           relations->nodes[node_at(relations, outer, part)].implants;
}

/* A cell lies between the two, so that what holds between them follows. */
static bool goes_without_saying(const struct relations *relations, size_t inner, size_t outer,
                                enum rt_cell_part part)
{
    for (size_t i = 0; i < relations->cell_count; i++)
        if (!same_group(&relations->cells[i], &relations->cells[inner]) &&
            !same_group(&relations->cells[i], &relations->cells[outer]) &&
            lies_in(&relations->cells[inner], &relations->cells[i]) &&
            lies_in(&relations->cells[i], &relations->cells[outer]) && add_up(relations, inner, i, part) &&
            add_up(relations, i, outer, part))
            return true;
    return false;
}

/* Groups that differ in their conditions, but not just as a level from its whole; spans of one frame are set in relation
 * elsewhere. */
static bool is_part(const struct relations *relations, size_t inner, size_t outer)
{
    const struct rt_cell *one = &relations->cells[inner], *other = &relations->cells[outer];
    size_t length;
    return relations->alike[inner] == inner && relations->alike[outer] == outer && !same_frame(one, other) &&
           lies_in(one, other) &&
           !(same_days(one, other) && further_condition(one->conditions, other->conditions, &length) != NULL);
}

static enum rt_status find_parts(struct relations *relations, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t outer = 0; outer < relations->cell_count; outer++)
        for (size_t inner = 0; inner < relations->cell_count; inner++) {
            if (!is_part(relations, inner, outer))
                continue;
            bool outcome = has_outcome(&relations->cells[outer]);
            for (int part = outcome ? RT_CELL_WITH : RT_CELL_ALL;
                 status == RT_OK && part <= (outcome ? RT_CELL_WITHOUT : RT_CELL_ALL); part++)
                if (!goes_without_saying(relations, inner, outer, (enum rt_cell_part)part))
                    status = add_pair(relations, node_at(relations, inner, (enum rt_cell_part)part),
                                      node_at(relations, outer, (enum rt_cell_part)part), error);
        }
    return status;
}

static enum rt_status find_nested(struct relations *relations, const struct rt_nesting *nestings,
                                  size_t count, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < count; i++) {
        const struct rt_nesting *nesting = &nestings[i];
        size_t inner = node_at(relations, nesting->inner, nesting->inner_part);
        size_t outer = node_at(relations, nesting->outer, nesting->outer_part);
        bool before = relations->alike[nesting->inner] != nesting->inner ||
                      relations->alike[nesting->outer] != nesting->outer;
        for (size_t k = 0; k < i && !before; k++)
            before = node_at(relations, nestings[k].inner, nestings[k].inner_part) == inner &&
                     node_at(relations, nestings[k].outer, nestings[k].outer_part) == outer;
        if (!before && inner != NO_NODE && outer != NO_NODE)
            status = add_pair(relations, inner, outer, error);
    }
    return status;
}

void release_relations(struct relations *relations)
{
    for (size_t i = 0; i < relations->count; i++)
        free(relations->all[i].parts);
    free(relations->all);
    free(relations->nodes);
    free(relations->node_of);
    free(relations->alike);
    *relations = (struct relations){0};
}

enum rt_status find_relations(const struct rt_cell *cells, size_t count, const struct rt_nesting *nestings,
                              size_t nesting_count, bool cautious, struct relations *relations,
                              struct rt_error *error)
{
    *relations = (struct relations){.cells = cells, .cell_count = count};
    relations->node_of = rt_new_array(3 * count, sizeof *relations->node_of);
    relations->alike = rt_new_array(count, sizeof *relations->alike);
    if (relations->node_of == NULL || relations->alike == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < 3 * count; i++)
        relations->node_of[i] = NO_NODE;
    for (size_t i = 0; i < count; i++)
        relations->alike[i] = first_alike(relations, i);
    enum rt_status status = add_nodes(relations, false, error);
    if (status == RT_OK)
        status = add_nodes(relations, true, error);
    if (status == RT_OK)
        status = find_all_levels(relations, error);
    if (status == RT_OK)
        status = find_spans(relations, cautious, error);
    if (status == RT_OK)
        status = find_parts(relations, error);
    if (status == RT_OK)
        status = find_nested(relations, nestings, nesting_count, error);
    return status;
}
