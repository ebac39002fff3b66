/*
 * Groupings: into which level of a grouping an implant falls.
 */
#ifndef RIDGETALLY_AUDIT_GROUPS_H
#define RIDGETALLY_AUDIT_GROUPS_H

#include "ridgetally/audit/cohort.h"

#include <stddef.h>

enum rt_grouping_of {
    RT_BY_NOTHING,
    RT_BY_OPERATOR,
    RT_BY_DENSITY_FOUND,
    RT_BY_DENSITY_SCALE,
    RT_BY_REGION,
    RT_BY_DEPTH_CLASS,
    RT_BY_TISSUE_CLASS,
    RT_BY_TORQUE_CLASS,
    RT_BY_SMOKING,
    RT_BY_IMPLANT_LINE,
    RT_BY_DEPTH_AND_TISSUE
};

enum { RT_NO_LEVEL = -1, RT_DENSITY_CLASSES = 4 };

/* The name in the grouping column; "" for RT_BY_NOTHING, `depth_class|tissue_class` for the last. */
const char *rt_group_name(enum rt_grouping_of grouping);

/* How many levels there are, with or without implants; 1 for RT_BY_NOTHING. */
int rt_level_count(const struct rt_cohort *cohort, enum rt_grouping_of grouping);

/* Level of an implant, RT_NO_LEVEL where it is not recorded or not classed. */
int rt_level_of(const struct rt_cohort *cohort, const struct rt_audit_implant *implant,
                enum rt_grouping_of grouping);

/* Write the name of a level, cut to size bytes; `not recorded` for RT_NO_LEVEL. Returns text. */
const char *rt_level_name(const struct rt_cohort *cohort, enum rt_grouping_of grouping, int level, char *text,
                          size_t size);

#endif
