/*
 * What a set of figures is about: the practice, the period, the state of the records. Plain data that audit
 * fills and the pages print.
 */
#ifndef RIDGETALLY_FIGURE_AUDIT_INFO_H
#define RIDGETALLY_FIGURE_AUDIT_INFO_H

#include <stdbool.h>

/* Dates are day numbers (base/date.h), RT_NO_DATE when not known. */
struct rt_audit_info {
    char practice_name[256]; /* store setting practice_name; empty when not set */
    char period_name[32];    /* 2026Q3 where the period is a quarter, else empty */
    int first_day, last_day; /* the period, both days in */
    int latest_record;       /* date of the latest record in the store */
    int complete_since; /* from here on the practice's records are complete; RT_NO_DATE: from the first */
    int recall_interval_days;
    bool restated;    /* an audit of this period was recorded, and a file it rested on taken back out since */
    bool cuts_edited; /* a class cut was changed since the first recorded audit */
    bool fictional;   /* the store holds the sample practice */
    char data_hash[65]; /* SHA-256 over the records the period may use, in hexadecimal */
    long implants_recorded, patients_recorded; /* placed on or before the last day */
    long implants_in_period, patients_in_period;
};

#endif
