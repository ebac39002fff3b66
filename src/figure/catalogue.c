#include "ridgetally/figure/catalogue.h"

#include <string.h>

/* clang-format off */
static const struct rt_measure measures[] = {
#include "catalogue/measures_flow.inc"
#include "catalogue/measures_depth.inc"
#include "catalogue/measures_stability.inc"
#include "catalogue/measures_crest.inc"
#include "catalogue/measures_survival.inc"
#include "catalogue/measures_success.inc"
#include "catalogue/measures_rules.inc"
#include "catalogue/measures_operators.inc"
#include "catalogue/measures_readers.inc"
#include "catalogue/measures_yardsticks.inc"
#include "catalogue/measures_precision.inc"
};

static const struct rt_method methods[] = {
#include "catalogue/methods.inc"
#include "catalogue/methods_survival.inc"
#include "catalogue/methods_success.inc"
#include "catalogue/methods_rules.inc"
#include "catalogue/methods_operators.inc"
#include "catalogue/methods_readers.inc"
#include "catalogue/methods_yardsticks.inc"
#include "catalogue/methods_precision.inc"
};

static const struct rt_grouping groupings[] = {
#include "catalogue/groupings.inc"
};
/* clang-format on */

enum {
    MEASURES = sizeof measures / sizeof measures[0],
    METHODS = sizeof methods / sizeof methods[0],
    GROUPINGS = sizeof groupings / sizeof groupings[0]
};

const struct rt_measure *rt_measures(size_t *count)
{
    *count = MEASURES;
    return measures;
}

const struct rt_measure *rt_find_measure(const char *section, const char *name)
{
    for (size_t i = 0; i < MEASURES; i++)
        if (measures[i].name[0] == name[0] && strcmp(measures[i].name, name) == 0 &&
            strcmp(measures[i].section, section) == 0)
            return &measures[i];
    return NULL;
}

const struct rt_method *rt_methods(size_t *count)
{
    *count = METHODS;
    return methods;
}

const struct rt_method *rt_find_method(const char *key)
{
    for (size_t i = 0; i < METHODS; i++)
        if (strcmp(methods[i].key, key) == 0)
            return &methods[i];
    return NULL;
}

const struct rt_grouping *rt_find_grouping(const char *name)
{
    for (size_t i = 0; i < GROUPINGS; i++)
        if (strcmp(groupings[i].name, name) == 0)
            return &groupings[i];
    return NULL;
}

void rt_catalogue_to_csv(struct rt_text *text)
{
    rt_text_add(text, "section,measure,label,unit,decimals,at_unit,outcome,method,formula,source\n");
    for (size_t i = 0; i < MEASURES; i++) {
        const struct rt_measure *measure = &measures[i];
        rt_text_format(text, "%s,%s,", measure->section, measure->name);
        rt_text_add_csv_cell(text, measure->label, false);
        rt_text_format(text, ",%s,%d,%s,%s,%s,", measure->unit, measure->decimals, measure->at_unit,
                       measure->outcome, measure->method);
        rt_text_add_csv_cell(text, measure->formula, false);
        rt_text_add_character(text, ',');
        rt_text_add_csv_cell(text, measure->source, false);
        rt_text_add_character(text, '\n');
    }
}
