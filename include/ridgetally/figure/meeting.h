/*
 * What a quarterly meeting deals with beside the figures: the yardsticks with their targets, and the notes on earlier
 * audits. Plain data that audit loads and the pages print; every number of it that a page shows is also a figure row.
 */
#ifndef RIDGETALLY_FIGURE_MEETING_H
#define RIDGETALLY_FIGURE_MEETING_H

#include "ridgetally/base/arena.h"

#include <stdbool.h>
#include <stddef.h>

/* A target: how a yardstick is judged. */
struct rt_target {
    bool set;           /* false: none yet, or withdrawn */
    double value;       /* in the yardstick's unit */
    bool at_least;      /* met from value upwards; false: met from value downwards */
    const char *origin; /* where the value comes from, in words */
    const char *set_by;
    int valid_from; /* day; of the withdrawal where it was withdrawn, RT_NO_DATE where none was ever set */
};

/* A yardstick: the figure it reads, and the target in force. Text is never NULL. */
struct rt_yardstick {
    const char *name;
    const char *statement;                                              /* what is measured, in words */
    const char *unit;                                                   /* share or mm */
    const char *section, *measure, *grouping, *level, *baseline, *site; /* of the figure; "" = any */
    double at;                                                          /* NaN = any */
    double readable_width; /* an interval this wide answers it; NaN = not stated */
    struct rt_target target;
};

/* A decision taken on an audit. */
struct rt_note {
    long number;
    int first_day, last_day; /* the period of that audit */
    const char *section;     /* "" = the audit as a whole */
    const char *about;       /* a yardstick or a compared figure; "" = none */
    const char *decision;
    int written_on;
    const char *written_by;
    int re_audit_on; /* RT_NO_DATE: at the next audit */
    int answered_on; /* last day of the period whose audit tells the answer; RT_NO_DATE: open */
    const char *answer, *answered_by;
};

/* State of a note as the audit of a period sees it. */
enum rt_note_state { RT_NOTE_OPEN, RT_NOTE_DUE, RT_NOTE_ANSWERED };

struct rt_meeting {
    struct rt_yardstick *yardsticks; /* in the order of the page */
    size_t yardstick_count, yardstick_capacity;
    struct rt_note *notes; /* in the order they were written */
    size_t note_count, note_capacity;
    struct rt_arena text;
};

/* The yardstick of that name, or NULL. */
const struct rt_yardstick *rt_find_yardstick(const struct rt_meeting *meeting, const char *name);

/* A note is answered from the audit that tells the answer on; it is due when its day (without one: the day after its own
 * period) has come by last_day, the last day of the audited period; else it is open. */
enum rt_note_state rt_note_state(const struct rt_note *note, int last_day);

/* Is the note told in the audit of a period: due, or answered in that very audit? Open ones are only counted, and what was
 * answered in an earlier audit stands there. */
bool rt_note_is_told(const struct rt_note *note, int first_day, int last_day);

/* open, due, answered */
const char *rt_note_state_name(enum rt_note_state state);

void rt_release_meeting(struct rt_meeting *meeting);

#endif
