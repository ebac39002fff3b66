/*
 * Figures of an audit made up by hand: a row or two of every chapter, hostile names, and every way of being too few.
 */
#ifndef RIDGETALLY_TESTS_HAND_MADE_AUDIT_H
#define RIDGETALLY_TESTS_HAND_MADE_AUDIT_H

#include "ridgetally/figure/audit_info.h"
#include "ridgetally/figure/figure.h"

#define HAND_MADE_PRACTICE "\"Praxis\" <script>alert('x')</script> `id` $(id)\n\001\xFF</style>"

/* Fill an empty list and the info: the third quarter of 2026, with later records in the store. */
void hand_made_audit(struct rt_figure_list *figures, struct rt_audit_info *info);

#endif
