/*
 * How often an operator's sessions are expected to fail early: the baseline of the chart of failures.
 *
 * A session fails when one of its implants fails within 180 days. Its chance is modelled on the sessions of all other
 * operators: log odds = intercept + softest density class + current smoker + grafted + log2 of the implants, by logistic
 * regression with Firth's penalty and the intercept set again so that as many failures are expected there as were seen (FLIC:
 * R. Puhr et al., Statistics in Medicine 36 (2017) 2302-2317). Where the others have too few failures for a model, the
 * operator's own first 50 sessions give one share for all, and the later sessions are watched.
 *
 * With a target set, all log odds are shifted alike, from the reference's share of sessions to the target's: the target is
 * a share of implants, turned into one of sessions by the practice's own ratio of the two.
 */
#ifndef RIDGETALLY_AUDIT_OPERATOR_RISK_H
#define RIDGETALLY_AUDIT_OPERATOR_RISK_H

#include "ridgetally/audit/sessions.h"

enum rt_risk_term {
    RT_RISK_INTERCEPT,
    RT_RISK_SOFTEST,
    RT_RISK_SMOKER,
    RT_RISK_GRAFT,
    RT_RISK_IMPLANTS,
};
enum { RT_RISK_TERMS = 5, RT_OWN_SESSIONS = 50 };

enum rt_risk_reference {
    RT_RISK_NONE,  /* no baseline: reason says why */
    RT_RISK_REST,  /* the other operators */
    RT_RISK_OWN,   /* the operator's own first sessions */
    RT_RISK_TARGET /* the target alone */
};

/* Directions of the chart: more failures than expected, and fewer. */
enum rt_risk_direction { RT_RISK_MORE, RT_RISK_FEWER };
enum { RT_RISK_DIRECTIONS = 2 };

/* How the chart of one direction is set; NaN where not known. */
struct rt_risk_chart {
    double limit;
    double run_length; /* sessions between false signals, on average */
    double detection;  /* sessions to a signal when the odds are doubled (more) or halved (fewer) */
};

struct rt_operator_risk {
    enum rt_risk_reference reference;
    bool frozen;                       /* taken from the store */
    int fitted_to;                     /* last day of the records it rests on */
    bool adjusted;                     /* by the terms; else every session has the same chance */
    double coefficient[RT_RISK_TERMS]; /* NaN: term not in the model */
    bool lz;                           /* scale of the density class */
    double share;                      /* of the reference's sessions that failed; NaN without one */
    double target;                     /* share of implants; NaN without a target */
    double level; /* share of sessions the chart takes as its own; NaN without a baseline */
    size_t sessions, patients, failed;              /* of the reference when it was fitted */
    struct rt_risk_chart chart[RT_RISK_DIRECTIONS]; /* frozen ones; NaN where they must be computed */
    const char *reason;
};

/* The baseline of one operator: the frozen one when the store has one fitted no later than the end of the period, else
 * fitted now. *risk needs no release. */
enum rt_status rt_operator_risk(struct rt_store *store, const struct rt_cohort *cohort,
                                const struct rt_sessions *sessions, int operator_code,
                                struct rt_operator_risk *risk, struct rt_error *error);

/* Is the session watched: its fate known, and not part of the operator's own baseline? */
bool rt_is_watched(const struct rt_operator_risk *risk, const struct rt_session *session);

/* Are all facts of the model recorded for the session? Otherwise its chance is the level. */
bool rt_has_risk_facts(const struct rt_operator_risk *risk, const struct rt_session *session);

/* The chance that the session fails, under the level of the chart. */
double rt_session_risk(const struct rt_operator_risk *risk, const struct rt_session *session);

/* Name of a term in measure baseline_term and in the store. */
const char *rt_risk_term_name(enum rt_risk_term term, bool lz);

#endif
