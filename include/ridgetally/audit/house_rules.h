/*
 * The house rules a practice works by, as its store holds them: what each says, what is compared, and the numbers in it.
 * They are common practice, no source; the practice edits them with the verb `rule`.
 *
 * Outcomes: exposure_share (worse site exposed more than 0.5 mm at 12 months from placement), crest_change (mean of both
 * sites at 12 months from placement), early_failure (within 180 days), failure_after_loading (within the parameter `watch`
 * days of loading), low_torque (final torque below the lowest cut), final_torque, depth_within_half (achieved within
 * 0.5 mm of planned depth), torque_per_mm.
 */
#ifndef RIDGETALLY_AUDIT_HOUSE_RULES_H
#define RIDGETALLY_AUDIT_HOUSE_RULES_H

#include "ridgetally/base/error.h"
#include "ridgetally/store/store.h"

#include <stdbool.h>
#include <stddef.h>

/* The rules this program knows, in their usual order. */
enum rt_rule_kind {
    RT_RULE_DEPTH,   /* depth-below-crest */
    RT_RULE_SUM,     /* tissue-plus-depth */
    RT_RULE_TORQUE,  /* torque-per-millimetre */
    RT_RULE_STALL,   /* never-stalled */
    RT_RULE_WALL,    /* bone-all-round */
    RT_RULE_DRILL,   /* density-by-drill */
    RT_RULE_DENSE,   /* dense-bone-drilling */
    RT_RULE_RESERVE, /* size-in-reserve */
    RT_RULE_WAIT     /* wait-twelve-weeks */
};
enum { RT_RULE_KINDS = 9, RT_RULE_PARAMETERS = 4 };

/* What is compared between implants that followed the rule and those that did not. */
enum rt_rule_outcome_kind {
    RT_OUTCOME_EXPOSED,
    RT_OUTCOME_CREST_CHANGE,
    RT_OUTCOME_EARLY_FAILURE,
    RT_OUTCOME_FAILURE_AFTER_LOADING,
    RT_OUTCOME_LOW_TORQUE,
    RT_OUTCOME_FINAL_TORQUE,
    RT_OUTCOME_DEPTH_WITHIN_HALF,
    RT_OUTCOME_TORQUE_PER_MM
};
enum { RT_RULE_OUTCOMES = 8 };

/* Facts that an adjusted difference can hold equal; bits. */
enum rt_confounder {
    RT_CONFOUNDER_TISSUE = 1,
    RT_CONFOUNDER_SMOKING = 2,
    RT_CONFOUNDER_DENSITY_PLANNED = 4,
    RT_CONFOUNDER_DENSITY_FOUND = 8,
    RT_CONFOUNDER_PERIODONTITIS = 16,
    RT_CONFOUNDER_DIABETES = 32,
    RT_CONFOUNDER_GRAFT = 64,
    RT_CONFOUNDER_DIAMETER = 128,
    RT_CONFOUNDER_LENGTH = 256
};
enum { RT_CONFOUNDERS = 9 };

struct rt_rule_parameter {
    char name[32];
    double value;
    char unit[16];
};

struct rt_house_rule {
    enum rt_rule_kind kind;
    char name[40];
    char statement[256];
    enum rt_rule_outcome_kind outcome;
    int direction; /* what the rule promises where it is followed: +1 higher, -1 lower, 0 it states a value */
    double smallest_difference;         /* that matters; NaN for a rule that states a value */
    double stated_value, largest_width; /* NaN for a rule that promises a difference */
    char unit[16];
    unsigned confounders;    /* enum rt_confounder */
    bool harder_with_easier; /* followed where the case is hard: never "not supported" */
    bool edited;             /* after the first audit was recorded */
    struct rt_rule_parameter parameters[RT_RULE_PARAMETERS];
    size_t parameter_count;
};

struct rt_house_rules {
    struct rt_house_rule of[RT_RULE_KINDS];
    size_t count;
};

/* The rules of the store in its order; rules this program does not know are left out. RT_STORE for a rule whose outcome or
 * confounder is not known. */
enum rt_status rt_load_house_rules(struct rt_store *store, struct rt_house_rules *rules,
                                   struct rt_error *error);

/* The parameter of that name, NaN when the rule has none. */
double rt_rule_parameter(const struct rt_house_rule *rule, const char *name);

/* The bit of a column name (`tissue_mm`, `density_planned`, ...), 0 when it is none. */
unsigned rt_confounder_of(const char *name);

/* The bits of a comma separated list; 0 in *known when a name is none. */
unsigned rt_confounders_of(const char *list, bool *known);

/* Column name and words of confounder number 0..RT_CONFOUNDERS-1, whose bit is 1 << number. */
const char *rt_confounder_name(int number);
const char *rt_confounder_words(int number);

#endif
