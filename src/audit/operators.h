/*
 * What the files of section operators share: the operator at hand and the rows about her or him.
 */
#ifndef RIDGETALLY_AUDIT_OPERATORS_PRIVATE_H
#define RIDGETALLY_AUDIT_OPERATORS_PRIVATE_H

#include "ridgetally/audit/estimates.h"
#include "ridgetally/audit/operator_risk.h"
#include "ridgetally/audit/sessions.h"

enum {
    RT_LEAST_SESSIONS = 20,   /* for limits of a chart */
    RT_LEAST_OPERATORS = 5,   /* for shrinking towards their average */
    RT_OPERATOR_QUARTERS = 12 /* quarters shown, the last one that of the period's end */
};

struct operator_task {
    struct rt_store *store;
    const struct rt_cohort *cohort;
    struct rt_rows *rows;
    const struct rt_sessions *sessions;
    struct rt_sample *sample;
    int operator_code;
    size_t first, count;                          /* her or his sessions */
    size_t patients;                              /* in them */
    size_t implants;                              /* in them */
    double sessions_a_year;                       /* placed in the 12 months that end with the period */
    double false_signals;                         /* a year, of all charts of all operators so far */
    long charts;                                  /* with limits, so far */
    double single_run_length, average_run_length; /* of the charts of depth; NaN until they are asked for */
};

/* Key of the operator at hand, `operator` and `operator|part`. */
struct rt_row_key operator_key(const struct operator_task *task);
struct rt_row_key operator_part_key(const struct operator_task *task, const char *part,
                                    const char *part_level);

/* A row of the section about the operator at hand, with the counts of her or his sessions. */
struct rt_figure operator_row(struct operator_task *task, const char *measure, const struct rt_row_key *key);

/* `2026Q3` of a day. Returns text. */
const char *quarter_name(int day, char *text, size_t size);

/* A chart over sessions, to be written: path, limits, signals. */
struct operator_chart {
    const char *name;     /* as in grouping `chart` */
    const char *path;     /* measure of the plotted points; NULL: points are single cases and make no rows */
    size_t n;             /* points */
    const size_t *number; /* of the session among those of the operator, from 1 */
    const double *value, *lower, *upper;
    const bool *signal;
    bool each_is_one;  /* every signal stands alone; else those that follow each other are one */
    double run_length; /* sessions between false signals */
    const char *remark;
};

/* Write path, signals, run length, and count the chart. */
void write_operator_chart(struct operator_task *task, const struct operator_chart *chart);

/* What is asked of an implant: 1 or 0, or a number; NaN where it is not recorded, or the implant is left out for a doubt. */
typedef double operator_ask(const struct rt_cohort *cohort, const struct rt_audit_implant *implant);

operator_ask ask_depth_error, ask_depth_distance, ask_within_half;        /* mm, mm, share */
operator_ask ask_low_torque, ask_final_torque;                            /* share, Ncm */
operator_ask ask_early_failure;                                           /* share */
operator_ask ask_soft_bone, ask_current_smoker, ask_grafted, ask_at_back; /* shares */

/* The parts of the section. */
void write_operator_depth(struct operator_task *task);
void write_operator_failures(struct operator_task *task);
void write_operator_quarters(struct operator_task *task);
void write_operator_learning(struct operator_task *task);
void write_operator_differences(struct operator_task *task);
void write_operator_funnel(struct operator_task *task);

#endif
