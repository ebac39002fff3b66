/*
 * Which part of the records is looked at: filters by facts that are settled when surgery ends, so that every figure,
 * survival from placement included, may be restricted by them. A filter names one or several values; an implant must
 * have one of the values of every filter given.
 */
#ifndef RIDGETALLY_AUDIT_FILTER_H
#define RIDGETALLY_AUDIT_FILTER_H

#include "ridgetally/base/error.h"
#include "ridgetally/base/text.h"
#include "ridgetally/store/store.h"

#include <stdbool.h>

/* In the order of the columns of sql/queries/filter-facts.sql. */
enum rt_filter_fact {
    RT_FILTER_OPERATOR,
    RT_FILTER_LINE,
    RT_FILTER_JAW,
    RT_FILTER_REGION,
    RT_FILTER_TOOTH,
    RT_FILTER_DENSITY_PLANNED,
    RT_FILTER_DENSITY_FOUND,
    RT_FILTER_STALLED,
    RT_FILTER_CHANGED,
    RT_FILTER_CLOSURE,
    RT_FILTER_TIMING,
    RT_FILTER_GRAFT,
    RT_FILTER_AGE,
    RT_FILTER_SEX,
    RT_FILTER_SMOKING,
    RT_FILTER_DIABETES,
    RT_FILTER_PERIODONTITIS,
    RT_FILTER_FACTS
};

/* Filters as a user types them. Start from rt_no_filters(). Values are separated by commas (a comma within a label is
 * written `\,`); `not recorded` (or not-recorded) chooses implants without the fact. Codes are those of the sheets, in
 * any letter case, with a hyphen for a blank where that is easier. An age is a number of years or a range: 40-59, -39,
 * 60-. */
struct rt_audit_filters {
    const char *values[RT_FILTER_FACTS]; /* borrowed; NULL: any */
    int placed_from, placed_to;          /* days of placement, both in; RT_NO_DATE: open */
};

struct rt_audit_filters rt_no_filters(void);

/* Is anything chosen? filters may be NULL. */
bool rt_filters_given(const struct rt_audit_filters *filters);

/* The filters in words: "operator A or B; smoking current". Adds nothing when there are none. Two calls that choose by the
 * same values in the same order give the same words. */
void rt_filter_words(const struct rt_audit_filters *filters, struct rt_text *words);

/* RT_USE for a value that no store can have, listing the values there are. For telling it before a long run. */
enum rt_status rt_check_filters(const struct rt_audit_filters *filters, struct rt_error *error);

/* Look only at the implants that meet the filters (store/narrow.h) until rt_widen_store; does nothing when there are
 * none. RT_USE, naming option and value and listing the values there are, for a value that is unknown; RT_USE when no
 * implant meets the filters. */
enum rt_status rt_apply_filters(struct rt_store *store, const struct rt_audit_filters *filters,
                                struct rt_error *error);

#endif
