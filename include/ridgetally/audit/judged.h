/*
 * Judging a yardstick: by the interval, never by the point.
 */
#ifndef RIDGETALLY_AUDIT_JUDGED_H
#define RIDGETALLY_AUDIT_JUDGED_H

#include "ridgetally/figure/figure.h"
#include "ridgetally/figure/meeting.h"

/* Values of the rows yardstick_state and yardstick_before. */
enum rt_judged { RT_NOT_MET = -1, RT_CANNOT_TELL = 0, RT_MET = 1 };

/* Met: the whole interval is on the target's good side, the target itself included. Not met: the whole interval is beyond it.
 * Else, and for a row that is NULL, not ok or without the limit in question: cannot tell. target must be set. */
enum rt_judged rt_judge_yardstick(const struct rt_target *target, const struct rt_figure *row);

/* Two judgements of one yardstick (the two censorings of survival): theirs where they agree, else cannot tell. */
enum rt_judged rt_agreed(enum rt_judged first, enum rt_judged second);

#endif
