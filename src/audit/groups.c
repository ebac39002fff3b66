#include "ridgetally/audit/groups.h"

#include <stdio.h>
#include <string.h>

const char *rt_group_name(enum rt_grouping_of grouping)
{
    switch (grouping) {
    case RT_BY_NOTHING:
        return "";
    case RT_BY_OPERATOR:
        return "operator";
    case RT_BY_DENSITY_FOUND:
        return "density_found";
    case RT_BY_DENSITY_SCALE:
        return "density_scale";
    case RT_BY_REGION:
        return "region";
    case RT_BY_DEPTH_CLASS:
        return "depth_class";
    case RT_BY_TISSUE_CLASS:
        return "tissue_class";
    case RT_BY_TORQUE_CLASS:
        return "torque_class";
    case RT_BY_SMOKING:
        return "smoking";
    case RT_BY_IMPLANT_LINE:
        return "implant_line";
    case RT_BY_DEPTH_AND_TISSUE:
        return "depth_class|tissue_class";
    }
    return "";
}

int rt_level_count(const struct rt_cohort *cohort, enum rt_grouping_of grouping)
{
    switch (grouping) {
    case RT_BY_NOTHING:
        return 1;
    case RT_BY_OPERATOR:
        return (int)cohort->operator_count;
    case RT_BY_DENSITY_FOUND:
        return 2 * RT_DENSITY_CLASSES;
    case RT_BY_DENSITY_SCALE:
        return 2;
    case RT_BY_REGION:
        return 4;
    case RT_BY_DEPTH_CLASS:
        return cohort->cuts.depth.count;
    case RT_BY_TISSUE_CLASS:
        return cohort->cuts.tissue.count;
    case RT_BY_TORQUE_CLASS:
        return cohort->cuts.torque.count;
    case RT_BY_SMOKING:
        return 3;
    case RT_BY_IMPLANT_LINE:
        return (int)cohort->line_count;
    case RT_BY_DEPTH_AND_TISSUE:
        return cohort->cuts.depth.count * cohort->cuts.tissue.count;
    }
    return 0;
}

/* ISO 3950: quadrants 1 and 2 are the upper jaw; teeth 1 to 3 of a quadrant are the front. */
static int region_of(int tooth)
{
    if (tooth < 0)
        return RT_NO_LEVEL;
    return (tooth / 10 <= 2 ? 0 : 2) + (tooth % 10 <= 3 ? 0 : 1);
}

int rt_level_of(const struct rt_cohort *cohort, const struct rt_audit_implant *implant,
                enum rt_grouping_of grouping)
{
    switch (grouping) {
    case RT_BY_NOTHING:
        return 0;
    case RT_BY_OPERATOR:
        return implant->operator_code;
    case RT_BY_DENSITY_FOUND:
        return implant->found.of == 0 ? RT_NO_LEVEL
                                      : (implant->found.lz ? RT_DENSITY_CLASSES : 0) + implant->found.of - 1;
    case RT_BY_DENSITY_SCALE:
        return implant->found.of == 0 ? RT_NO_LEVEL : implant->found.lz;
    case RT_BY_REGION:
        return region_of(implant->tooth);
    case RT_BY_DEPTH_CLASS:
        return implant->depth_class;
    case RT_BY_TISSUE_CLASS:
        return implant->tissue_class;
    case RT_BY_TORQUE_CLASS:
        return implant->torque_class;
    case RT_BY_SMOKING:
        return implant->smoking;
    case RT_BY_IMPLANT_LINE:
        return implant->line_code;
    case RT_BY_DEPTH_AND_TISSUE:
        if (implant->depth_class < 0 || implant->tissue_class < 0)
            return RT_NO_LEVEL;
        return implant->depth_class * cohort->cuts.tissue.count + implant->tissue_class;
    }
    return RT_NO_LEVEL;
}

const char *rt_level_name(const struct rt_cohort *cohort, enum rt_grouping_of grouping, int level, char *text,
                          size_t size)
{
    static const char *const scales[] = {"D", "LZ"};
    static const char *const regions[] = {"upper front", "upper back", "lower front", "lower back"};
    static const char *const smoking[] = {"never", "former", "current"};
    const struct rt_class_cuts *cuts = &cohort->cuts;
    const char *name = "";
    if (level == RT_NO_LEVEL) {
        name = "not recorded";
    } else if (grouping == RT_BY_OPERATOR) {
        name = cohort->operators[level];
    } else if (grouping == RT_BY_IMPLANT_LINE) {
        name = cohort->lines[level];
    } else if (grouping == RT_BY_DENSITY_SCALE) {
        name = scales[level];
    } else if (grouping == RT_BY_REGION) {
        name = regions[level];
    } else if (grouping == RT_BY_DEPTH_CLASS) {
        name = cuts->depth.of[level].label;
    } else if (grouping == RT_BY_TISSUE_CLASS) {
        name = cuts->tissue.of[level].label;
    } else if (grouping == RT_BY_TORQUE_CLASS) {
        name = cuts->torque.of[level].label;
    } else if (grouping == RT_BY_SMOKING) {
        name = smoking[level];
    } else if (grouping == RT_BY_DENSITY_FOUND) {
        snprintf(text, size, "%s%d", scales[level / RT_DENSITY_CLASSES], level % RT_DENSITY_CLASSES + 1);
        return text;
    } else if (grouping == RT_BY_DEPTH_AND_TISSUE) {
        snprintf(text, size, "%s|%s", cuts->depth.of[level / cuts->tissue.count].label,
                 cuts->tissue.of[level % cuts->tissue.count].label);
        return text;
    }
    snprintf(text, size, "%s", name);
    return text;
}
