#include "disclosure_relations.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"

#include <string.h>

static bool same(const char *a, const char *b)
{
    return strcmp(a, b) == 0;
}

bool same_group(const struct rt_cell *a, const struct rt_cell *b)
{
    return same(a->family, b->family) && a->from == b->from && a->to == b->to &&
           same(a->conditions, b->conditions);
}

void release_relations(struct relations *relations)
{
    for (size_t i = 0; i < relations->count; i++)
        free(relations->all[i].parts);
    free(relations->all);
    *relations = (struct relations){0};
}

/* Keep whole = parts + rest, unless the true numbers say otherwise. */
static enum rt_status keep(const struct rt_cell *cells, size_t whole, const size_t *parts, size_t count,
                           bool levels, struct relations *relations, struct rt_error *error)
{
    long rest = cells[whole].implants, others = cells[whole].other_implants, patients = 0;
    for (size_t i = 0; i < count; i++) {
        rest -= cells[parts[i]].implants;
        others -= cells[parts[i]].other_implants;
        patients += cells[parts[i]].patients;
        if (cells[parts[i]].patients > cells[whole].patients)
            return RT_OK;
    }
    if (count == 0 || rest < 0 || patients + rest < cells[whole].patients)
        return RT_OK;
    struct relation *grown =
        rt_grow_array(relations->all, &relations->capacity, relations->count + 1, sizeof *grown);
    if (grown == NULL)
        return rt_fail_memory(error);
    relations->all = grown;
    size_t *copy = rt_new_array(count, sizeof *copy);
    if (copy == NULL)
        return rt_fail_memory(error);
    memcpy(copy, parts, count * sizeof *copy);
    grown[relations->count++] = (struct relation){whole, copy, count, rest, others, levels && others >= 0};
    return RT_OK;
}

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

/* The conditions of part are those of whole and one more, of the given name. */
static bool is_level(const struct rt_cell *part, const struct rt_cell *whole, const char *name, size_t length)
{
    size_t found_length = 0;
    const char *found = further_condition(part->conditions, whole->conditions, &found_length);
    return found != NULL && found_length == length && memcmp(found, name, length) == 0;
}

static bool same_frame(const struct rt_cell *a, const struct rt_cell *b)
{
    return same(a->family, b->family) && same(a->outcome, b->outcome) && a->from == b->from && a->to == b->to;
}

/* The levels of every grouping below a whole: of one deck (old or new) at a time, each group once. */
static enum rt_status find_levels(const struct rt_cell *cells, size_t count, size_t whole, size_t *parts,
                                  struct relations *relations, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t first = 0; status == RT_OK && first < count; first++) {
        size_t length = 0, found = 0;
        const char *name = same_frame(&cells[first], &cells[whole])
                               ? further_condition(cells[first].conditions, cells[whole].conditions, &length)
                               : NULL;
        if (name == NULL)
            continue;
        bool seen = false;
        for (size_t i = 0; i < count; i++) {
            if (!same_frame(&cells[i], &cells[whole]) || !is_level(&cells[i], &cells[whole], name, length))
                continue;
            bool twice = false;
            for (size_t k = 0; k < found; k++)
                twice = twice || same_group(&cells[parts[k]], &cells[i]);
            seen = seen || i < first;
            if (!twice)
                parts[found++] = i;
        }
        if (!seen)
            status = keep(cells, whole, parts, found, true, relations, error);
    }
    return status;
}

static bool span_within(const struct rt_cell *inner, const struct rt_cell *outer)
{
    bool from = outer->from == RT_NO_DATE || (inner->from != RT_NO_DATE && inner->from >= outer->from);
    return from && inner->to <= outer->to && (inner->from != outer->from || inner->to != outer->to);
}

/* The same group over a shorter span is part of it over a longer one. */
static enum rt_status find_spans(const struct rt_cell *cells, size_t count, size_t whole,
                                 struct relations *relations, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < count; i++)
        if (same(cells[i].family, cells[whole].family) && same(cells[i].outcome, cells[whole].outcome) &&
            same(cells[i].conditions, cells[whole].conditions) && span_within(&cells[i], &cells[whole]))
            status = keep(cells, whole, &i, 1, false, relations, error);
    return status;
}

enum rt_status find_relations(const struct rt_cell *cells, size_t count, const struct rt_nesting *nestings,
                              size_t nesting_count, struct relations *relations, struct rt_error *error)
{
    *relations = (struct relations){0};
    size_t *parts = rt_new_array(count, sizeof *parts);
    enum rt_status status = parts != NULL ? RT_OK : rt_fail_memory(error);
    for (size_t whole = 0; status == RT_OK && whole < count; whole++) {
        status = find_levels(cells, count, whole, parts, relations, error);
        if (status == RT_OK)
            status = find_spans(cells, count, whole, relations, error);
    }
    for (size_t i = 0; status == RT_OK && i < nesting_count; i++)
        status = keep(cells, nestings[i].outer, &nestings[i].inner, 1, false, relations, error);
    free(parts);
    return status;
}
