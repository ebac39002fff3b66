#include "ridgetally/output/disclosure.h"

#include "disclosure_relations.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/output/deduction.h"

#include <string.h>

enum { MANY = 1000000 };

/* Patients and implants of one group as unknowns. */
struct pair {
    size_t patients, implants;
};

/* A small group that is not shown: its patients must stay open. */
struct target {
    size_t unknown;
    size_t cell;                     /* a cell of it or of its whole */
    const struct relation *relation; /* NULL: the cell itself */
};

struct book {
    struct rt_cell *cells;
    size_t count;
    long threshold;
    struct relations relations;
    struct rt_deduction *deduction;
    struct pair *group, *with, *without; /* count: whole group; with and without the event */
    struct target *targets;              /* room for 2 a cell and 2 a relation */
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

static struct pair new_pair(struct rt_deduction *deduction)
{
    struct pair pair = {rt_add_unknown(deduction, 0, MANY), rt_add_unknown(deduction, 0, MANY)};
    rt_state_not_more(deduction, pair.patients, pair.implants);
    rt_state_at_most_times(deduction, pair.implants, RT_IMPLANTS_OF_ONE, pair.patients);
    return pair;
}

static void show_pair(struct rt_deduction *deduction, struct pair pair, long patients, long implants)
{
    rt_show_unknown(deduction, pair.patients, patients, patients);
    rt_show_unknown(deduction, pair.implants, implants, implants);
}

/* whole = parts + rest, in implants; patients may be in several. */
static void state_whole(struct rt_deduction *deduction, struct pair whole, struct pair *parts, size_t count,
                        size_t *room)
{
    for (size_t i = 0; i < count; i++)
        room[i] = parts[i].implants;
    rt_state_sum(deduction, whole.implants, room, count);
    for (size_t i = 0; i < count; i++)
        room[i] = parts[i].patients;
    rt_state_union(deduction, whole.patients, room, count);
}

static void aim(struct book *book, size_t unknown, size_t cell, const struct relation *relation)
{
    book->targets[book->target_count++] = (struct target){unknown, cell, relation};
}

static long all_implants(const struct rt_cell *cell)
{
    return cell->implants + (has_outcome(cell) ? cell->other_implants : 0);
}

/* The first cell of the same group. Where records were corrected since an earlier deck, the numbers of one group differ from deck
 * to deck: then they are two groups. */
static size_t first_alike(const struct book *book, size_t at, bool same_outcome)
{
    const struct rt_cell *cell = &book->cells[at];
    for (size_t i = 0; i < at; i++) {
        const struct rt_cell *other = &book->cells[i];
        if (!same_group(cell, other) || all_implants(cell) != all_implants(other))
            continue;
        bool counted_alike = strcmp(cell->outcome, other->outcome) == 0 &&
                             cell->patients == other->patients && cell->implants == other->implants;
        if (same_outcome ? counted_alike : has_outcome(cell) || has_outcome(other) || counted_alike)
            return i;
    }
    return at;
}

static void state_group(struct book *book, size_t at)
{
    const struct rt_cell *cell = &book->cells[at];
    if (cell->shown)
        show_pair(book->deduction, book->group[at], cell->patients, cell->implants);
    else if (is_small(cell->patients, book->threshold))
        aim(book, book->group[at].patients, at, NULL);
}

static void state_outcome(struct book *book, size_t at)
{
    struct rt_deduction *deduction = book->deduction;
    const struct rt_cell *cell = &book->cells[at];
    size_t first = first_alike(book, at, true);
    if (first < at) {
        book->with[at] = book->with[first];
        book->without[at] = book->without[first];
    } else {
        size_t room[2];
        struct pair both[] = {new_pair(deduction), new_pair(deduction)};
        state_whole(deduction, book->group[at], both, 2, room);
        book->with[at] = both[0];
        book->without[at] = both[1];
    }
    if (cell->shown) {
        show_pair(deduction, book->with[at], cell->patients, cell->implants);
        show_pair(deduction, book->without[at], cell->other_patients, cell->other_implants);
        return;
    }
    if (is_small(cell->patients, book->threshold))
        aim(book, book->with[at].patients, at, NULL);
    if (is_small(cell->other_patients, book->threshold))
        aim(book, book->without[at].patients, at, NULL);
}

/* The unknowns of all cells, those of one group shared; what is shown of them; the small ones that are not. */
static void state_cells(struct book *book)
{
    for (size_t i = 0; i < book->count; i++) {
        size_t first = first_alike(book, i, false);
        book->group[i] = first < i ? book->group[first] : new_pair(book->deduction);
        if (has_outcome(&book->cells[i]))
            state_outcome(book, i);
        else
            state_group(book, i);
    }
}

/* One relation for one of the three kinds of pairs. */
static enum rt_status state_relation(struct book *book, const struct relation *relation,
                                     const struct pair *pairs, long rest_implants, struct rt_error *error)
{
    struct pair *parts = rt_new_array(relation->count + 1, sizeof *parts);
    size_t *room = rt_new_array(relation->count + 1, sizeof *room);
    enum rt_status status = parts != NULL && room != NULL ? RT_OK : rt_fail_memory(error);
    if (status == RT_OK) {
        for (size_t i = 0; i < relation->count; i++)
            parts[i] = pairs[relation->parts[i]];
        parts[relation->count] = new_pair(book->deduction);
        state_whole(book->deduction, pairs[relation->whole], parts, relation->count + 1, room);
        /* a reader may know that every case is in one of the groups, where it is so */
        if (rest_implants == 0)
            show_pair(book->deduction, parts[relation->count], 0, 0);
        /* more implants than that may be more patients than that, for all a reader can know */
        if (is_small(rest_implants, book->threshold))
            aim(book, parts[relation->count].patients, relation->whole, relation);
    }
    free(parts);
    free(room);
    return status;
}

static enum rt_status state_all(struct book *book, struct rt_error *error)
{
    rt_release_deduction(book->deduction);
    book->deduction = rt_new_deduction();
    if (book->deduction == NULL)
        return rt_fail_memory(error);
    book->target_count = 0;
    state_cells(book);
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < book->relations.count; i++) {
        const struct relation *relation = &book->relations.all[i];
        bool outcome = has_outcome(&book->cells[relation->whole]);
        status = state_relation(book, relation, outcome ? book->with : book->group, relation->rest_implants,
                                error);
        if (status == RT_OK && outcome && relation->others)
            status = state_relation(book, relation, book->without, relation->rest_others, error);
    }
    return status;
}

/* The first target from *found on whose patients cannot be as many as the threshold; target_count when all are safe. */
static enum rt_status find_disclosed(struct book *book, size_t *found, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (; status == RT_OK && *found < book->target_count; ++*found) {
        bool safe = false;
        status = rt_can_reach(book->deduction, book->targets[*found].unknown, book->threshold, &safe, error);
        if (status == RT_OK && !safe)
            break;
    }
    return status;
}

static bool stands_in(const struct relation *relation, size_t cell)
{
    bool found = relation->whole == cell;
    for (size_t i = 0; i < relation->count; i++)
        found = found || relation->parts[i] == cell;
    return found;
}

/* How near a cell is to what is disclosed: 2 in one relation with it or of one group, 1 of one family, 0 neither. */
static int nearness(const struct book *book, const struct target *target, size_t cell)
{
    const struct rt_cell *one = &book->cells[cell], *other = &book->cells[target->cell];
    if (target->relation != NULL ? stands_in(target->relation, cell) : same_group(one, other))
        return 2;
    for (size_t i = 0; i < book->relations.count; i++) {
        const struct relation *relation = &book->relations.all[i];
        if (stands_in(relation, cell) && stands_in(relation, target->cell))
            return 2;
    }
    return strcmp(one->family, other->family) == 0;
}

/* Of two shown cells that are equally near to what is disclosed: which to keep back. */
static bool rather(const struct rt_cell *one, const struct rt_cell *other)
{
    return one->worth != other->worth ? one->worth < other->worth : one->patients < other->patients;
}

/* Withhold the nearest, then least worth, then smallest, shown cell of the new deck. False when there is none. */
static bool withhold_another(struct book *book, const struct target *target)
{
    size_t best = book->count;
    int best_nearness = 0;
    for (size_t i = 0; i < book->count; i++) {
        if (!book->cells[i].shown || book->cells[i].earlier)
            continue;
        int near = nearness(book, target, i);
        if (best == book->count || near > best_nearness ||
            (near == best_nearness && rather(&book->cells[i], &book->cells[best]))) {
            best = i;
            best_nearness = near;
        }
    }
    if (best == book->count)
        return false;
    book->cells[best].shown = false;
    book->cells[best].why = "it would give a small group away by subtraction";
    return true;
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

static enum rt_status protect(struct book *book, size_t *open, struct rt_error *error)
{
    withhold_small(book);
    enum rt_status status = RT_OK;
    /* small cells are withheld by now: the targets stay the same, and what is safe stays safe when less is shown */
    size_t found = 0;
    *open = book->count;
    while (status == RT_OK) {
        status = state_all(book, error);
        if (status == RT_OK)
            status = find_disclosed(book, &found, error);
        if (status != RT_OK || found == book->target_count)
            break;
        if (!withhold_another(book, &book->targets[found])) {
            *open = book->targets[found].cell;
            break;
        }
    }
    return status;
}

enum rt_status rt_protect_cells(struct rt_cell *cells, size_t count, const struct rt_nesting *nestings,
                                size_t nesting_count, long threshold, size_t *open, struct rt_error *error)
{
    struct book book = {.cells = cells, .count = count, .threshold = threshold};
    enum rt_status status = find_relations(cells, count, nestings, nesting_count, &book.relations, error);
    book.group = rt_new_array(count, sizeof *book.group);
    book.with = rt_new_array(count, sizeof *book.with);
    book.without = rt_new_array(count, sizeof *book.without);
    book.targets = rt_new_array(2 * (count + book.relations.count), sizeof *book.targets);
    if (status == RT_OK &&
        (book.group == NULL || book.with == NULL || book.without == NULL || book.targets == NULL))
        status = rt_fail_memory(error);
    if (status == RT_OK)
        status = protect(&book, open, error);
    rt_release_deduction(book.deduction);
    release_relations(&book.relations);
    free(book.group);
    free(book.with);
    free(book.without);
    free(book.targets);
    return status;
}
