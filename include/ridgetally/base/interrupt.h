/*
 * Being asked to stop (SIGINT, SIGTERM, SIGHUP): what is half done is taken back, and the program ends as one that was
 * stopped by that signal.
 */
#ifndef RIDGETALLY_BASE_INTERRUPT_H
#define RIDGETALLY_BASE_INTERRUPT_H

#include "ridgetally/base/error.h"

/* Signals that come within so many seconds of the first are one request to stop. */
#define RT_SAME_REQUEST_SECONDS 1.0

/* From now on the first of these signals is only noted; one that comes RT_SAME_REQUEST_SECONDS later, or after that,
 * ends the program at once. A signal that was ignored
 * when the program started (nohup) stays ignored. To be called when there is something to take back. */
void rt_catch_interrupts(void);

/* The signal noted, or 0. */
int rt_interrupted(void);

/* RT_INTERRUPTED with words when a signal was noted, else RT_OK: between steps that take long. */
enum rt_status rt_check_interrupt(struct rt_error *error);

/* Fill error as RT_INTERRUPTED and return that. */
enum rt_status rt_fail_interrupted(struct rt_error *error);

/* End the program by the signal noted, as its caller expects of a program that was interrupted. Returns when none was. */
void rt_end_by_interrupt(void);

#endif
