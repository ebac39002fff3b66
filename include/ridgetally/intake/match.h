/*
 * Drafting a column map: what the headers of a sheet mean, in words of the trade in several languages, checked against
 * the cells. A draft is for a person to read: whatever the sheet does not prove is left at `ask`.
 */
#ifndef RIDGETALLY_INTAKE_MATCH_H
#define RIDGETALLY_INTAKE_MATCH_H

#include "ridgetally/intake/map.h"

/* Append the draft of a map for the sheet at path (- is standard input) to draft; given states what is not to be
 * detected. RT_INPUT when the file cannot be read or has a header and no rows. Labels of cases and cells of columns
 * that were not understood are never shown. */
enum rt_status rt_draft_map(const char *path, const struct rt_dialect *given, struct rt_text *draft,
                            struct rt_error *error);

/* The field a header means by its words, the unit it states ("" = none), whether it counts downwards or as loss, and what is
 * left over (the visit of a wide sheet, in rest). confidence is 0 to 1; NULL = nothing known. */
const struct rt_field *rt_meaning(const char *header, char unit[8], bool *reversed, char rest[64],
                                  double *confidence);

#endif
