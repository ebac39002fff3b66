/*
 * Writing figure rows: one place for units, methods, minimum numbers and failures.
 *
 * A failure sticks: after one, nothing is written and rt_rows.status says why. So a section computes and
 * writes without asking after every row.
 */
#ifndef RIDGETALLY_AUDIT_ROWS_H
#define RIDGETALLY_AUDIT_ROWS_H

#include "ridgetally/audit/groups.h"
#include "ridgetally/figure/figure.h"
#include "ridgetally/stats/estimate.h"

#include <stdbool.h>
#include <stddef.h>

enum {
    RT_LEAST_PATIENTS = 10,       /* in a group, for any number about it */
    RT_LEAST_SHARE_IMPLANTS = 20, /* for a percentage */
    RT_LEAST_EVENT_PATIENTS = 5   /* patients with events, for any model of events */
};

struct rt_rows {
    struct rt_figure_list *list;
    struct rt_error *error;
    enum rt_status status;
};

/* Grouping and level text of a row, `window|operator` and `12 months|A`. */
struct rt_row_key {
    char grouping[96];
    char level[640]; /* an operator's label has up to 500 bytes */
};

/* Key text from a first part (`window`, `12 months`) and a grouping with its level. */
struct rt_row_key rt_key_of(const struct rt_cohort *cohort, const char *part, const char *part_level,
                            enum rt_grouping_of grouping, int level);

/* Key text from two parts in plain text; the second may be "". */
struct rt_row_key rt_key_text(const char *part, const char *part_level, const char *second,
                              const char *second_level);

/* An empty row of a measure with unit and method of the catalogue, unit_of_analysis implant. key may be NULL;
 * otherwise it must outlive the row. A measure that is not in the catalogue is a fault of the program:
 * RT_USE. */
struct rt_figure rt_row_of(struct rt_rows *rows, const char *section, const char *measure,
                           const struct rt_row_key *key);

/* Put value, limits and p of an estimate into the row. An undefined value makes the state undefined with the
 * reason as remark; undefined limits only leave the reason. Endless limits become empty. */
void rt_set_estimate(struct rt_figure *row, const struct rt_estimate *estimate);

/* State too_few, numbers emptied, remark as given. */
void rt_set_too_few(struct rt_figure *row, const char *remark);

/* Apply the minimum of patients (and for shares of implants) to a row whose counts are set. */
void rt_apply_minimum(struct rt_figure *row);

/* Append the row. */
void rt_put_row(struct rt_rows *rows, const struct rt_figure *row);

/* Append a count row: value = n_implants = count, with patients and due (RT_NO_COUNT: none). */
void rt_put_count(struct rt_rows *rows, const char *section, const char *measure,
                  const struct rt_row_key *key, long implants, long patients, long due);

/* Take note of a failed status; true while all is well. */
bool rt_rows_check(struct rt_rows *rows, enum rt_status status);

#endif
