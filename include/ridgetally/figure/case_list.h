/*
 * Lists of single cases under their labels: for those who look after the patients. They stand in `due` and at the end
 * of the audit, and nowhere else; a deck or trend never sees them. Single records are no figures; how many there are is one
 * (flow/due_cases).
 */
#ifndef RIDGETALLY_FIGURE_CASE_LIST_H
#define RIDGETALLY_FIGURE_CASE_LIST_H

#include "ridgetally/base/arena.h"
#include "ridgetally/base/error.h"
#include "ridgetally/base/text.h"

#include <stddef.h>

enum rt_case_kind {
    /* what is due on a day */
    RT_CASE_RECALL,        /* not seen for longer than the recall interval: one per patient */
    RT_CASE_BASELINE,      /* no readable film after placement */
    RT_CASE_LOADING,       /* longer since placement than the practice's rule waits, not loaded */
    RT_CASE_BONE,          /* bone loss beyond a threshold of a published case definition */
    RT_CASE_TORQUE,        /* final torque in the lowest class, not loaded */
    RT_CASE_CONTRADICTION, /* records that contradict each other */
    RT_DUE_KINDS,
    /* the audit's own lists */
    RT_CASE_FAILURE = RT_DUE_KINDS,
    RT_CASE_LOW_TORQUE,
    RT_CASE_EXCLUDED,
    RT_CASE_KINDS
};

/* recall, baseline film, loading, bone, low torque, contradiction; failure, low torque placed, left out */
const char *rt_case_kind_name(enum rt_case_kind kind);

/* One case. Text is never NULL ("" = nothing). */
struct rt_case {
    enum rt_case_kind kind;
    const char *patient;
    const char *implant; /* "": the patient as a whole */
    int tooth;           /* ISO 3950; -1: not recorded or not of one implant */
    int day;             /* since when, or when it happened; RT_NO_DATE: no day */
    const char *finding; /* what was found, in words */
    const char *beside;  /* what a reader must know beside it */
};

struct rt_case_list {
    struct rt_case *of;
    size_t count, capacity;
    struct rt_arena text; /* owns the cases' text */
};

/* Append a copy of the case. */
enum rt_status rt_add_case(struct rt_case_list *list, const struct rt_case *one, struct rt_error *error);

/* Order by kind, day (none first), patient, implant, finding. */
void rt_sort_cases(struct rt_case_list *list);

/* Add the list to text as CSV: list,patient,implant,tooth,day,finding,beside. Text cells that look like formulas are
 * neutralised. */
void rt_cases_to_csv(const struct rt_case_list *list, struct rt_text *text);

void rt_release_cases(struct rt_case_list *list);

#endif
