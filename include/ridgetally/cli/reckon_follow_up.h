/*
 * What the survival methods of `reckon` share: their options, and the follow-up of a group of rows.
 */
#ifndef RIDGETALLY_CLI_RECKON_FOLLOW_UP_H
#define RIDGETALLY_CLI_RECKON_FOLLOW_UP_H

#include "ridgetally/cli/reckon.h"
#include "ridgetally/stats/survival_curve.h"

#define RT_RECKON_TIME                                                                                       \
    {                                                                                                        \
        "--time", RT_OPTION_NUMBERS_COLUMN, true, NULL, "column of times followed, 0 or more", NULL          \
    }
#define RT_RECKON_EVENT                                                                                      \
    {                                                                                                        \
        "--event", RT_OPTION_EVENTS_COLUMN, true, NULL, "column of events: 1 happened, 0 censored", NULL     \
    }
#define RT_RECKON_ENTRY                                                                                      \
    {                                                                                                        \
        "--entry", RT_OPTION_NUMBERS_COLUMN, false, NULL,                                                    \
            "column of times of entry, below the time; 0: from the start", NULL                              \
    }
#define RT_RECKON_INTERVAL                                                                                   \
    {                                                                                                        \
        "--interval", RT_OPTION_CHOICE, false, "double-log", "form of the limits",                           \
            "double-log|log|untransformed"                                                                   \
    }
#define RT_RECKON_AT_TIMES                                                                                   \
    {                                                                                                        \
        "--at", RT_OPTION_NUMBER_LIST, false, NULL, "rows at these times only", NULL                         \
    }

/* The rule of ties, for the notes of each method. */
#define RT_RECKON_TIES_NOTE                                                                                  \
    "Times within 1e-9 of each other, relative to the larger, are one time. At a time those count who "      \
    "entered "                                                                                               \
    "before it and\nleave at it or later.\n"

/* Columns of all r->n rows. */
struct rt_reckon_times {
    double *time;
    double *entry; /* NULL without --entry */
    int *event;    /* set by the method from --event or --cause */
};

/* Read --time, --entry and (when the method has it) --event. A negative time, or an entry that is not before its time, is
 * RT_INPUT with its line. */
enum rt_status rt_reckon_read_times(struct rt_reckon *r, struct rt_reckon_times *times,
                                    struct rt_error *error);

/* The follow-up of a group of rows, with the group's own cluster codes. */
enum rt_status rt_reckon_follow_up(struct rt_reckon *r, const struct rt_reckon_times *times,
                                   const struct rt_reckon_group *group, struct rt_follow_up *data,
                                   struct rt_error *error);

/* --interval. */
enum rt_curve_interval rt_reckon_interval_form(const struct rt_reckon *r);

/* One code per row from the groups of an option: row -> place of its group. */
enum rt_status rt_reckon_group_codes(struct rt_reckon *r, const struct rt_reckon_group *groups, size_t count,
                                     size_t **codes, struct rt_error *error);

#endif
