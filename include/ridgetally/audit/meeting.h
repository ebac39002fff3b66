/*
 * Yardsticks and notes in the store: reading them for a period, and what the practice changes about them.
 */
#ifndef RIDGETALLY_AUDIT_MEETING_H
#define RIDGETALLY_AUDIT_MEETING_H

#include "ridgetally/audit/period.h"
#include "ridgetally/base/error.h"
#include "ridgetally/figure/meeting.h"
#include "ridgetally/store/store.h"

/* Load the yardsticks with the targets in force on first_day, without notes. Release the meeting also after a failure. */
enum rt_status rt_load_yardsticks(struct rt_store *store, int first_day, struct rt_meeting *meeting,
                                  struct rt_error *error);

/* Load all that the meeting about a period deals with: the yardsticks with the targets in force on its first day, and the
 * notes on audits of periods that end before it does. Release it also after a failure. */
enum rt_status rt_load_meeting(struct rt_store *store, const struct rt_period *period,
                               struct rt_meeting *meeting, struct rt_error *error);

/* Load every note, whatever its period. Release the meeting also after a failure. */
enum rt_status rt_load_notes(struct rt_store *store, struct rt_meeting *meeting, struct rt_error *error);

/* Set the target of a yardstick from target->valid_from on, or withdraw it (target->set false). RT_USE for a yardstick there
 * is none of, a value its unit does not allow, an empty set_by; RT_USE also where nothing is there to withdraw. */
enum rt_status rt_set_target(struct rt_store *store, const char *yardstick, const struct rt_target *target,
                             struct rt_error *error);

/* Set the width of an interval that answers a yardstick, > 0 in its unit. RT_USE as above. */
enum rt_status rt_set_readable_width(struct rt_store *store, const char *yardstick, double width,
                                     struct rt_error *error);

/* The period notes are about unless another is given: that of the latest audit recorded, else the default period. */
enum rt_status rt_noted_period(struct rt_store *store, struct rt_period *period, struct rt_error *error);

/* Record a note (its number and answer are not read); *number receives the number it got. RT_USE for a section or an `about`
 * there is none of, an empty decision or author, a re-audit date not after its period. */
enum rt_status rt_record_note(struct rt_store *store, const struct rt_note *note, long *number,
                              struct rt_error *error);

/* Tell what came of a note in the audit of a period. RT_USE for a number there is none of, an empty answer or author, or a
 * period that does not end after that of the note. An answer given again replaces the earlier one. */
enum rt_status rt_answer_note(struct rt_store *store, long number, const struct rt_period *period,
                              const char *answer, const char *answered_by, struct rt_error *error);

#endif
