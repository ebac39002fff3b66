/*
 * The verbs of a quarterly meeting: yardstick and note.
 */
#ifndef RIDGETALLY_CLI_MEETING_H
#define RIDGETALLY_CLI_MEETING_H

#include "ridgetally/base/error.h"

extern const char rt_yardstick_help[], rt_note_help[];

enum rt_status rt_yardstick_verb(int argc, char **argv, struct rt_error *error);
enum rt_status rt_note_verb(int argc, char **argv, struct rt_error *error);

#endif
