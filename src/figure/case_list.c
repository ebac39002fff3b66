#include "ridgetally/figure/case_list.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"

#include <stdlib.h>
#include <string.h>

const char *rt_case_kind_name(enum rt_case_kind kind)
{
    static const char *const names[RT_CASE_KINDS] = {
        [RT_CASE_RECALL] = "recall",     [RT_CASE_BASELINE] = "baseline film",
        [RT_CASE_LOADING] = "loading",   [RT_CASE_BONE] = "bone",
        [RT_CASE_TORQUE] = "low torque", [RT_CASE_CONTRADICTION] = "contradiction",
        [RT_CASE_FAILURE] = "failure",   [RT_CASE_LOW_TORQUE] = "low torque placed",
        [RT_CASE_EXCLUDED] = "left out",
    };
    return names[kind];
}

enum rt_status rt_add_case(struct rt_case_list *list, const struct rt_case *one, struct rt_error *error)
{
    struct rt_case *grown = rt_grow_array(list->of, &list->capacity, list->count + 1, sizeof *grown);
    if (grown == NULL)
        return rt_fail_memory(error);
    list->of = grown;
    struct rt_case copy = *one;
    copy.patient = rt_arena_copy(&list->text, one->patient);
    copy.implant = rt_arena_copy(&list->text, one->implant);
    copy.finding = rt_arena_copy(&list->text, one->finding);
    copy.beside = rt_arena_copy(&list->text, one->beside);
    if (copy.patient == NULL || copy.implant == NULL || copy.finding == NULL || copy.beside == NULL)
        return rt_fail_memory(error);
    list->of[list->count++] = copy;
    return RT_OK;
}

static int compare(const void *left, const void *right)
{
    const struct rt_case *a = left, *b = right;
    if (a->kind != b->kind)
        return a->kind < b->kind ? -1 : 1;
    if (a->day != b->day)
        return a->day < b->day ? -1 : 1;
    int order = strcmp(a->patient, b->patient);
    order = order != 0 ? order : strcmp(a->implant, b->implant);
    order = order != 0 ? order : strcmp(a->finding, b->finding);
    return order != 0 ? order : strcmp(a->beside, b->beside);
}

void rt_sort_cases(struct rt_case_list *list)
{
    if (list->count > 0)
        qsort(list->of, list->count, sizeof *list->of, compare);
}

void rt_cases_to_csv(const struct rt_case_list *list, struct rt_text *text)
{
    char day[11];
    rt_text_add(text, "list,patient,implant,tooth,day,finding,beside\n");
    for (size_t i = 0; i < list->count; i++) {
        const struct rt_case *one = &list->of[i];
        rt_text_format(text, "%s,", rt_case_kind_name(one->kind));
        rt_text_add_csv_cell(text, one->patient, true);
        rt_text_add_character(text, ',');
        rt_text_add_csv_cell(text, one->implant, true);
        rt_text_add_character(text, ',');
        if (one->tooth >= 0)
            rt_text_format(text, "%d", one->tooth);
        rt_text_format(text, ",%s,", rt_format_iso_date(one->day, day));
        rt_text_add_csv_cell(text, one->finding, true);
        rt_text_add_character(text, ',');
        rt_text_add_csv_cell(text, one->beside, true);
        rt_text_add_character(text, '\n');
    }
}

void rt_release_cases(struct rt_case_list *list)
{
    free(list->of);
    rt_arena_release(&list->text);
    *list = (struct rt_case_list){.of = NULL};
}
