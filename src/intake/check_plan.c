/*
 * What there is to run of sql/checks/. A check that asks single rows, which most do, is written as
 *
 *     SELECT ...                                  SELECT ...
 *     FROM implant i                              FROM reading r
 *     WHERE condition                             JOIN implant i ON i.id = r.implant_id
 *                                                 WHERE condition
 *
 * or as several such joined by UNION ALL. Any other query is run as it stands.
 */
#include "check_run.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/base/resource.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The FROM clause of single rows as it stands in a check. */
static const char *const from_rows[ROW_KINDS] = {
    "\nFROM implant i\nWHERE ", "\nFROM reading r\nJOIN implant i ON i.id = r.implant_id\nWHERE "};

/* --- the parts of a check ----------------------------------------------------------------------------------- */

static const char *skip_comments(const char *text)
{
    while (text[0] == '-' && text[1] == '-') {
        const char *end = strchr(text, '\n');
        if (end == NULL)
            break;
        text = end + 1;
    }
    return text;
}

static bool stands_in(const char *begin, size_t length, const char *words)
{
    return memmem(begin, length, words, strlen(words)) != NULL;
}

static struct part read_part(const char *begin, size_t length)
{
    struct part part = {.kind = ROW_KINDS, .begin = begin, .head = length, .length = length};
    for (int kind = 0; kind < ROW_KINDS; kind++) {
        const char *from = memmem(begin, length, from_rows[kind], strlen(from_rows[kind]));
        if (from != NULL) {
            part.kind = (enum row_kind)kind;
            part.head = (size_t)(from - begin);
            part.from = strlen(from_rows[kind]);
        }
    }
    return part;
}

/* The next part of a text, which *at moves past. Only a plain SELECT is taken apart. */
static bool next_part(const char **at, struct part *part)
{
    static const char joiner[] = "\nUNION ALL\n";
    const char *begin = *at;
    if (*begin == '\0')
        return false;
    bool plain = strncmp(begin, "SELECT", 6) == 0;
    const char *end = plain ? strstr(begin, joiner) : NULL;
    size_t length = end == NULL ? strlen(begin) : (size_t)(end - begin);
    *at = end == NULL ? begin + length : end + sizeof joiner - 1;
    *part = plain ? read_part(begin, length)
                  : (struct part){.kind = ROW_KINDS, .begin = begin, .head = length, .length = length};
    return true;
}

static enum rt_status list_parts(struct check_plan *plan, struct rt_error *error)
{
    size_t capacity = 0;
    for (size_t i = 0; i < plan->count; i++) {
        struct part part;
        for (const char *at = plan->checks[i].text; next_part(&at, &part);) {
            struct part *parts = rt_grow_array(plan->parts, &capacity, plan->part_count + 1, sizeof *parts);
            if (parts == NULL)
                return rt_fail_memory(error);
            part.check = &plan->checks[i];
            plan->parts = parts;
            parts[plan->part_count++] = part;
        }
    }
    return RT_OK;
}

/* --- unusual values, from the soft ranges of the forms ------------------------------------------------------ */

static void add_ranges(enum rt_record_kind kind, const char *alias, const char *patient, const char *implant,
                       const char *from, struct rt_text *sql)
{
    const struct rt_form *form = rt_form(kind);
    for (size_t i = 0; i < form->count; i++) {
        const struct rt_field *field = &form->fields[i];
        if (isnan(field->soft_least))
            continue;
        rt_text_format(sql,
                       "%sSELECT '%s:' || %s.id, '%s', printf('%%.15g', %s.%s), %s, %s, %s.source_batch_id, "
                       "%s.source_line, 'implausible', '', 'unusual: outside %g to %g%s%s', "
                       "'check the unit, the sign and the decimal point; leave it if it is right'%s"
                       "%s.%s < %.9g OR %s.%s > %.9g",
                       sql->length > 0 ? "\nUNION ALL\n" : "", form->table, alias, field->name, alias,
                       field->column, patient, implant, alias, alias, field->soft_least, field->soft_most,
                       field->unit[0] == '\0' ? "" : " ", field->unit, from, alias, field->column,
                       field->soft_least, alias, field->column, field->soft_most);
    }
}

static enum rt_status make_range_check(struct check *check, struct rt_error *error)
{
    struct rt_text sql = {0};
    add_ranges(RT_IMPLANTS, "i", "i.patient_id", "i.id", from_rows[IMPLANT_ROWS], &sql);
    add_ranges(RT_FOLLOWUPS, "r", "i.patient_id", "i.id", from_rows[READING_ROWS], &sql);
    snprintf(check->name, sizeof check->name, "unusual-value");
    check->made = rt_text_detach(&sql);
    check->text = check->made;
    return check->made == NULL ? rt_fail_memory(error) : RT_OK;
}

static enum rt_status list_checks(struct check_plan *plan, struct rt_error *error)
{
    static const char folder[] = "sql/checks/";
    size_t count = 0;
    const struct rt_resource *all = rt_resources(&count);
    plan->checks = rt_new_array(count + 1, sizeof *plan->checks);
    if (plan->checks == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < count; i++) {
        if (strncmp(all[i].name, folder, sizeof folder - 1) != 0)
            continue;
        struct check *check = &plan->checks[plan->count++];
        const char *base = all[i].name + sizeof folder - 1;
        snprintf(check->name, sizeof check->name, "%.*s", (int)strcspn(base, "."), base);
        check->text = skip_comments(all[i].bytes);
    }
    return make_range_check(&plan->checks[plan->count++], error);
}

/* --- which parts to run ------------------------------------------------------------------------------------- */

/* The subjects that single rows are named by. */
static const char *const subject_of_rows[ROW_KINDS] = {"'implant:'", "'reading:'"};

static bool names_rows(const struct part *part, enum row_kind kind)
{
    return stands_in(part->begin, part->length, subject_of_rows[kind]);
}

/* Of a check that runs in part, what the rest found is told apart by its subjects, or the rest runs too. */
static void settle_check(struct part *parts, size_t count)
{
    bool any = false;
    bool apart = true;
    for (size_t i = 0; i < count; i++)
        any = any || parts[i].runs;
    for (size_t i = 0; any && i < count; i++) {
        enum row_kind kind = parts[i].kind;
        if (parts[i].runs)
            continue;
        apart = apart && kind != ROW_KINDS && names_rows(&parts[i], kind);
        for (size_t j = 0; apart && j < count; j++)
            apart = !parts[j].runs || (parts[j].kind != parts[i].kind && !names_rows(&parts[j], kind));
    }
    for (size_t i = 0; any && !apart && i < count; i++)
        parts[i].runs = true;
}

static size_t parts_of_check(const struct check_plan *plan, size_t first)
{
    size_t end = first;
    while (end < plan->part_count && plan->parts[end].check == plan->parts[first].check)
        end++;
    return end - first;
}

static void give_marks(struct check_plan *plan)
{
    enum { MOST_MARKS = 62 }; /* the last is shared: each part asks its condition itself as well */
    int marks[ROW_KINDS + 1] = {0};
    for (size_t i = 0; i < plan->part_count; i++) {
        struct part *part = &plan->parts[i];
        part->mark = (int64_t)1 << marks[part->kind];
        marks[part->kind] += part->runs && marks[part->kind] < MOST_MARKS;
    }
}

enum rt_status plan_checks(unsigned touched, struct check_plan *plan, struct rt_error *error)
{
    enum rt_status status = list_checks(plan, error);
    if (status == RT_OK)
        status = list_parts(plan, error);
    for (size_t i = 0; status == RT_OK && i < plan->part_count; i++) {
        struct part *part = &plan->parts[i];
        part->runs = touched == RT_TOUCHED_ALL || (check_reads(part->begin, part->length) & touched) != 0;
    }
    for (size_t i = 0; i < plan->part_count; i += parts_of_check(plan, i))
        settle_check(&plan->parts[i], parts_of_check(plan, i));
    give_marks(plan);
    return status;
}

void release_check_plan(struct check_plan *plan)
{
    for (size_t i = 0; i < plan->count; i++)
        free(plan->checks[i].made);
    free(plan->checks);
    free(plan->parts);
    *plan = (struct check_plan){0};
}
