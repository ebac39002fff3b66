/*
 * Erasing a patient.
 *
 * Gone are the patient's records, the doubts about them and their answers, refused rows, and what history kept. The
 * label is also taken out of what people wrote: file names, the examples in column maps, decisions. The file is
 * then rewritten, so that no byte of the erased rows is left in it. Figures of recorded audits stay: they name no
 * patient. Copies, sheets and reports are other files and are not touched.
 */
#ifndef RIDGETALLY_INTAKE_FORGET_H
#define RIDGETALLY_INTAKE_FORGET_H

#include "ridgetally/base/text.h"
#include "ridgetally/store/store.h"

#include <stdbool.h>

/* How many rows went. */
struct rt_forget_report {
    long implants, readings, events, doubts, refused, changes;
};

/* Forget the patient of this label, wherever rows of theirs stand: also a patient only known from refused rows.
 * RT_USE when nothing in the store is theirs (the file is rewritten all the same, so that a run which could erase but not
 * rewrite, RT_SYSTEM for a full disk, can be repeated). Must not be called in a transaction. */
enum rt_status rt_forget_patient(struct rt_store *store, const char *label, struct rt_forget_report *report,
                                 struct rt_error *error);

/* text with each occurrence of label that is a word of its own replaced; comments_only leaves alone what stands
 * before a # of its line. *found says whether there was one. */
void rt_strike_label(const char *text, const char *label, bool comments_only, struct rt_text *out,
                     bool *found);

#endif
