#include "ridgetally/output/disclosure.h"

#include "disclosure_relations.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/output/deduction.h"

#include <string.h>

/* Patients and implants of one group as unknowns. */
struct pair {
    size_t patients, implants;
};

struct book {
    struct rt_cell *cells;
    size_t count;
    long threshold;
    struct relations relations;
    struct rt_deduction *deduction;
    struct pair *pairs; /* node_count */
    bool *shown;        /* node_count: by a cell that is shown */
    long *reached;      /* unknowns: what they were found to reach */
    size_t *targets;    /* nodes that a reader must not find to be small */
    bool *safe;         /* targets: found to be safe, and so they stay when less is shown */
    size_t target_count;
};

static bool is_small(long patients, long threshold)
{
    return patients > 0 && patients < threshold;
}

static bool has_outcome(const struct rt_cell *cell)
{
    return cell->outcome[0] != '\0';
}

static struct pair new_pair(struct rt_deduction *deduction, long most)
{
    struct pair pair = {rt_add_unknown(deduction, 0, most), rt_add_unknown(deduction, 0, most)};
    rt_prefer_large(deduction, pair.patients);
    rt_state_not_more(deduction, pair.patients, pair.implants);
    rt_state_at_most_times(deduction, pair.implants, RT_IMPLANTS_OF_ONE, pair.patients);
    return pair;
}

static void show_node(struct book *book, size_t at)
{
    const struct node *node = &book->relations.nodes[at];
    const struct pair *pair = &book->pairs[at];
    book->shown[at] = true;
    if (node->patients != NOT_KNOWN)
        rt_show_unknown(book->deduction, pair->patients, node->patients, node->patients);
    rt_show_unknown(book->deduction, pair->implants, node->implants, node->implants);
}

/* The parts of a cell. */
static void show_cell(struct book *book, size_t at)
{
    bool outcome = has_outcome(&book->cells[at]);
    for (int part = outcome ? RT_CELL_WITH : RT_CELL_ALL; part <= (outcome ? RT_CELL_WITHOUT : RT_CELL_ALL);
         part++)
        show_node(book, node_at(&book->relations, at, (enum rt_cell_part)part));
}

static enum rt_status state_relation(struct book *book, const struct relation *relation,
                                     struct rt_error *error)
{
    size_t *room = rt_new_array(relation->count, sizeof *room);
    if (room == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < relation->count; i++)
        room[i] = book->pairs[relation->parts[i]].implants;
    rt_state_sum(book->deduction, book->pairs[relation->whole].implants, room, relation->count);
    for (size_t i = 0; i < relation->count; i++)
        room[i] = book->pairs[relation->parts[i]].patients;
    if (relation->patients)
        rt_state_union(book->deduction, book->pairs[relation->whole].patients, room, relation->count);
    free(room);
    return RT_OK;
}

/* What a reader thinks the largest group could hold: well over what any holds. */
static long find_most(const struct book *book)
{
    long most = 100;
    for (size_t i = 0; i < book->relations.node_count; i++)
        most = book->relations.nodes[i].implants > most ? book->relations.nodes[i].implants : most;
    return 4 * most;
}

static enum rt_status state_all(struct book *book, struct rt_error *error)
{
    rt_release_deduction(book->deduction);
    book->deduction = rt_new_deduction();
    if (book->deduction == NULL)
        return rt_fail_memory(error);
    const long most = find_most(book);
    for (size_t i = 0; i < book->relations.node_count; i++) {
        book->pairs[i] = new_pair(book->deduction, most);
        book->shown[i] = false;
    }
    for (size_t i = 0; i < book->count; i++)
        if (book->cells[i].shown)
            show_cell(book, i);
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < book->relations.count; i++)
        status = state_relation(book, &book->relations.all[i], error);
    return status;
}

/* The small groups; of those between the cells also the ones whose number is not known to us either. */
static void aim(struct book *book)
{
    book->target_count = 0;
    for (size_t i = 0; i < book->relations.node_count; i++) {
        const struct node *node = &book->relations.nodes[i];
        bool small = node->patients != NOT_KNOWN   ? is_small(node->patients, book->threshold)
                     : node->implants != NOT_KNOWN ? is_small(node->implants, book->threshold)
                                                   : true;
        if (small && !book->shown[i])
            book->targets[book->target_count++] = i;
    }
}

/* What one solution says of all the targets. */
static void note_solution(struct book *book)
{
    size_t count = rt_last_solution(book->deduction, book->reached);
    for (size_t i = 0; i < book->target_count; i++) {
        const size_t unknown = book->pairs[book->targets[i]].patients;
        book->safe[i] = book->safe[i] || (unknown < count && book->reached[unknown] >= book->threshold);
    }
}

/* Could the group hold as many patients as the threshold, for all a reader can know? One that is empty for certain is no
 * group. */
static enum rt_status find_safe(struct book *book, size_t at, struct rt_error *error)
{
    const size_t target = book->targets[at], unknown = book->pairs[target].patients;
    bool safe = false, any = true;
    enum rt_status status = rt_can_reach(book->deduction, unknown, book->threshold, &safe, error);
    if (status == RT_OK && safe)
        note_solution(book);
    if (status == RT_OK && !safe && book->relations.nodes[target].implants == NOT_KNOWN)
        status = rt_can_reach(book->deduction, unknown, 1, &any, error);
    book->safe[at] = safe || !any;
    return status;
}

/* The first target from *found on of which a reader can be certain; target_count when all are safe. */
static enum rt_status find_disclosed(struct book *book, size_t *found, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (; status == RT_OK && *found < book->target_count; ++*found) {
        if (!book->safe[*found])
            status = find_safe(book, *found, error);
        if (status == RT_OK && !book->safe[*found])
            break;
    }
    return status;
}

/* Mark what stands in a relation with a marked node. */
static void mark_around(const struct book *book, const bool *marked, bool *around)
{
    for (size_t i = 0; i < book->relations.count; i++) {
        const struct relation *relation = &book->relations.all[i];
        bool near = marked[relation->whole];
        for (size_t k = 0; k < relation->count; k++)
            near = near || marked[relation->parts[k]];
        for (size_t k = 0; near && k < relation->count; k++)
            around[relation->parts[k]] = true;
        around[relation->whole] = around[relation->whole] || near;
    }
}

static bool is_marked(const struct book *book, size_t cell, const bool *marked)
{
    bool found = false;
    for (int part = RT_CELL_ALL; part <= RT_CELL_WITHOUT; part++) {
        size_t node = node_at(&book->relations, cell, (enum rt_cell_part)part);
        found = found || (node != NO_NODE && marked[node]);
    }
    return found;
}

/* Of two shown cells that are equally near to what is disclosed: which to keep back. */
static bool rather(const struct rt_cell *one, const struct rt_cell *other)
{
    return one->worth != other->worth ? one->worth < other->worth : one->patients < other->patients;
}

/* Withhold the nearest (in one relation with what is disclosed; one relation further; of its family), then least worth, then
 * smallest, shown cell of the new deck. False in *found when there is none. */
static enum rt_status withhold_another(struct book *book, size_t target, bool *found, struct rt_error *error)
{
    bool *marks = rt_new_array(3 * book->relations.node_count, sizeof *marks);
    bool *one = marks, *two = marks + book->relations.node_count, *three = two + book->relations.node_count;
    size_t best = book->count;
    int best_nearness = 0;
    if (marks == NULL)
        return rt_fail_memory(error);
    one[target] = true;
    mark_around(book, one, two);
    mark_around(book, two, three);
    const char *family = book->cells[book->relations.nodes[target].cell].family;
    for (size_t i = 0; i < book->count; i++) {
        if (!book->cells[i].shown || book->cells[i].earlier)
            continue;
        int near = is_marked(book, i, two)                      ? 3
                   : is_marked(book, i, three)                  ? 2
                   : strcmp(book->cells[i].family, family) == 0 ? 1
                                                                : 0;
        if (best == book->count || near > best_nearness ||
            (near == best_nearness && rather(&book->cells[i], &book->cells[best]))) {
            best = i;
            best_nearness = near;
        }
    }
    free(marks);
    *found = best < book->count;
    if (*found) {
        book->cells[best].shown = false;
        book->cells[best].why = "it would give a small group away by subtraction";
    }
    return RT_OK;
}

/* Cells that are small themselves, and cells that stand with an outcome whose group is. */
static void withhold_small(struct book *book)
{
    for (size_t i = 0; i < book->count; i++) {
        struct rt_cell *cell = &book->cells[i];
        if (cell->earlier || !cell->shown)
            continue;
        long patients = cell->patients, others = has_outcome(cell) ? cell->other_patients : 0;
        if (is_small(patients, book->threshold) || is_small(others, book->threshold)) {
            cell->shown = false;
            cell->why = has_outcome(cell) ? "too few patients with, or too few without, the outcome"
                                          : "too few patients";
        }
    }
}

/* Take back what only cells that are not shown any more have shown. */
static void hide_withheld(struct book *book)
{
    memset(book->shown, 0, book->relations.node_count * sizeof *book->shown);
    for (size_t i = 0; i < book->relations.node_count; i++) {
        rt_hide_unknown(book->deduction, book->pairs[i].patients);
        rt_hide_unknown(book->deduction, book->pairs[i].implants);
    }
    for (size_t i = 0; i < book->count; i++)
        if (book->cells[i].shown)
            show_cell(book, i);
}

/* Room for what depends on the relations. */
static enum rt_status make_room(struct book *book, struct rt_error *error)
{
    const size_t nodes = book->relations.node_count;
    free(book->pairs);
    free(book->shown);
    free(book->reached);
    free(book->safe);
    free(book->targets);
    book->pairs = rt_new_array(nodes, sizeof *book->pairs);
    book->shown = rt_new_array(nodes, sizeof *book->shown);
    book->reached = rt_new_array(2 * nodes, sizeof *book->reached);
    book->safe = rt_new_array(nodes, sizeof *book->safe);
    book->targets = rt_new_array(nodes, sizeof *book->targets);
    return book->pairs != NULL && book->shown != NULL && book->reached != NULL && book->safe != NULL &&
                   book->targets != NULL
               ? RT_OK
               : rt_fail_memory(error);
}

/* Everything that holds between the cells. Where the numbers of several decks contradict each other in a way that only shows when
 * all is put together, each deck is taken for itself. */
static enum rt_status relate(struct book *book, const struct rt_nesting *nestings, size_t nesting_count,
                             struct rt_error *error)
{
    enum rt_status status = RT_OK;
    bool fits = false;
    for (int cautious = 0; status == RT_OK && !fits && cautious < 2; cautious++) {
        release_relations(&book->relations);
        status = find_relations(book->cells, book->count, nestings, nesting_count, cautious == 1,
                                &book->relations, error);
        if (status == RT_OK)
            status = make_room(book, error);
        if (status == RT_OK)
            status = state_all(book, error);
        if (status == RT_OK && book->relations.node_count > 0)
            status = rt_can_reach(book->deduction, 0, 0, &fits, error);
        fits = fits || book->relations.node_count == 0;
    }
    return status;
}

static enum rt_status protect(struct book *book, size_t *open, struct rt_error *error)
{
    /* small cells are withheld by now: the targets stay the same, and what is safe stays safe when less is shown */
    enum rt_status status = RT_OK;
    size_t found = 0;
    *open = book->count;
    aim(book);
    while (status == RT_OK) {
        bool another = false;
        status = find_disclosed(book, &found, error);
        if (status != RT_OK || found == book->target_count)
            break;
        status = withhold_another(book, book->targets[found], &another, error);
        if (status == RT_OK && !another) {
            *open = book->relations.nodes[book->targets[found]].cell;
            break;
        }
        if (status == RT_OK)
            hide_withheld(book);
    }
    return status;
}

enum rt_status rt_protect_cells(struct rt_cell *cells, size_t count, const struct rt_nesting *nestings,
                                size_t nesting_count, long threshold, size_t *open, struct rt_error *error)
{
    struct book book = {.cells = cells, .count = count, .threshold = threshold};
    withhold_small(&book);
    enum rt_status status = relate(&book, nestings, nesting_count, error);
    if (status == RT_OK)
        status = protect(&book, open, error);
    rt_release_deduction(book.deduction);
    release_relations(&book.relations);
    free(book.pairs);
    free(book.shown);
    free(book.reached);
    free(book.safe);
    free(book.targets);
    return status;
}
