/*
 * Sessions: what one operator placed in one patient on one day. The unit that charts over time plot, because implants of
 * one session are not separate trials.
 *
 * Sessions stand in the order of operator, day and patient, so that those of one operator follow each other in time.
 */
#ifndef RIDGETALLY_AUDIT_SESSIONS_H
#define RIDGETALLY_AUDIT_SESSIONS_H

#include "ridgetally/audit/cohort.h"

/* What the 180 days after a session say. */
enum rt_session_state {
    RT_SESSION_KNOWN,    /* at least one implant whose fate at 180 days is known */
    RT_SESSION_OPEN,     /* the 180 days end after the period */
    RT_SESSION_UNKNOWN,  /* closed, and no implant's fate is known */
    RT_SESSION_LEFT_OUT, /* placed before the records are complete, or every implant left out for a doubt */
};

/* Facts of a session that are settled when surgery ends; those of the implants whose fate at 180 days is known, where
 * any is. */
struct rt_session {
    int operator_code, placed_on;
    size_t patient;
    size_t first, count;   /* into rt_sessions.implant */
    double depth_error_mm; /* mean of achieved minus planned depth; NaN without one */
    size_t depth_implants; /* implants behind it */
    enum rt_session_state state;
    bool failed;            /* state known: an implant failed within 180 days */
    size_t known, failures; /* implants whose fate is known, and how many of them failed */
    int softest; /* highest density class found, 1..4, on the scale of rt_sessions; 0 = not recorded */
    bool lz;     /* that scale */
    enum rt_answer current_smoker, graft;
};

struct rt_sessions {
    struct rt_session *of;
    size_t count;
    size_t *implant; /* indices into the cohort, those of a session together */
    size_t implants; /* with an operator */
    bool lz;         /* densities found are taken on the Lekholm and Zarb scale: the more frequent one */
};

/* All sessions whose operator is known. Release also after a failure. */
enum rt_status rt_take_sessions(const struct rt_cohort *cohort, struct rt_sessions *sessions,
                                struct rt_error *error);

/* The sessions of one operator: *first and how many there are. */
size_t rt_sessions_of(const struct rt_sessions *sessions, int operator_code, size_t *first);

/* Different patients among the sessions from `first` on, `count` of them (outside: among all the others), for which chosen
 * is true (NULL: all). */
enum rt_status rt_count_session_patients(const struct rt_sessions *sessions, size_t first, size_t count,
                                         bool outside, bool (*chosen)(const struct rt_session *session),
                                         size_t *patients, struct rt_error *error);

void rt_release_sessions(struct rt_sessions *sessions);

#endif
