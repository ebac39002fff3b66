/*
 * Answers to doubts, given in the list that `doubts --as csv` writes: it goes out to staff, who fill in the columns
 * answer, answered_by and reply, and comes back.
 *
 *     answer       replied (something was found out), left as is (the record is right, or cannot be mended), waiting
 *                  (takes an earlier answer back); empty with a reply means replied; empty without changes nothing
 *     answered_by  who; needed to leave a doubt as it is
 *     reply        what was found out, or why it is left; needed with an answer
 *
 * An answer never changes a record: corrections are made in the sheet and loaded. A doubt left as is leaves the list; a
 * contradiction left as is goes on keeping its case out of the figures it names, because no one can say which of its sides
 * is right. Answers are kept when a doubt is mended: the same ground raised again has them.
 */
#ifndef RIDGETALLY_INTAKE_ANSWER_H
#define RIDGETALLY_INTAKE_ANSWER_H

#include "ridgetally/base/text.h"
#include "ridgetally/store/store.h"

/* What became of a list that came back. */
struct rt_answer_report {
    long rows_read;
    long replied, left, withdrawn; /* new or changed answers */
    long unchanged;                /* answers that were known already */
    long faults;                   /* cells that cannot be taken, the first RT_MOST_DETAILS in words */
    struct rt_text words;          /* one line each: line number, column, what; never a case label */
};

/* Take the answers in the list at path (any dialect, intake/dialect.h), all or none; the same list again changes nothing.
 * The cells number, patient, implant, field and value say which doubt a row is about: where one of them is not as the
 * list had it, or an answer lacks what it needs, nothing is taken (RT_INPUT, locating the first; the others are in
 * report->words). Leading zeros, spaces and .0 that a spreadsheet took from a label or number do not matter. The report
 * is zero-initialised by the caller, who releases it. */
enum rt_status rt_answer_doubts(struct rt_store *store, const char *path, struct rt_answer_report *report,
                                struct rt_error *error);

void rt_release_answer_report(struct rt_answer_report *report);

#endif
