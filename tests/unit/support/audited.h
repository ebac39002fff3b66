/* Running the audit on a bench and finding figures: for the tests of audit. */
#ifndef RIDGETALLY_TESTS_SUPPORT_AUDITED_H
#define RIDGETALLY_TESTS_SUPPORT_AUDITED_H

#include "records.h"

#include "ridgetally/audit/audit.h"

struct audited {
    struct rt_figure_list figures;
    struct rt_case_series_list cases;
    struct rt_audit_info info;
};

/* Run the audit from one date to another (ISO); fails the test when it fails, or when a number is not finite. */
void audit_between(struct bench *bench, const char *from, const char *to, struct audited *audited);
void release_audited(struct audited *audited);

/* The row of that key; fails the test when there is none. at NaN, baseline and site "": not applicable. */
const struct rt_figure *figure_at(const struct audited *audited, const char *measure, const char *grouping,
                                  const char *level, double at, const char *baseline, const char *site);

/* The same for rows of implants without time, baseline and site. */
const struct rt_figure *figure_of(const struct audited *audited, const char *measure, const char *grouping,
                                  const char *level);

/* Is there a row of that measure and level? */
bool has_figure(const struct audited *audited, const char *measure, const char *level);

/* Day number of an ISO date; fails the test on a bad one. */
int day_of(const char *date);

/* Change one setting of the store. */
void set_setting(struct bench *bench, const char *name, const char *value);

#endif
