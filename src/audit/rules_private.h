/* What the files of the section `rules` share. */
#ifndef RIDGETALLY_SRC_AUDIT_RULES_PRIVATE_H
#define RIDGETALLY_SRC_AUDIT_RULES_PRIVATE_H

#include "ridgetally/audit/house_rules.h"
#include "ridgetally/audit/rows.h"
#include "ridgetally/audit/rule_cases.h"
#include "ridgetally/audit/sample.h"
#include "ridgetally/stats/design_matrix.h"

#include <stdbool.h>
#include <stddef.h>

enum { RULE_REMARK = 320 };

/* Satterthwaite degrees of freedom below which the t limits of a robust error cannot be relied on (Tipton 2015,
 * Psychological Methods 20:375-393). */
#define RULE_LEAST_DF 4.0

/* One rule at work. */
struct rule_task {
    const struct rt_cohort *cohort;
    struct rt_rows *rows;
    const struct rt_house_rule *rule;
    bool lz_found, lz_planned;
    enum rt_rule_standing *standing; /* of every implant */
    struct rt_rule_result *results;  /* of every implant */
    struct rt_sample *sample;        /* value = outcome, code 1 = followed, other = dose, capped */
    struct rt_row_key key;
    long concerned, judged, followed; /* implants */
    long judged_patients;
    long capped;             /* rows of the sample */
    long other_depth_source; /* left out of a comparison of crest change with depth */
    bool depth_shares_error; /* the sample's depths were not measured at surgery */
    const char *outcome_unit;
};

/* An estimate with what its row says. */
struct rule_estimate {
    struct rt_estimate estimate;
    const char *method;
    long implants, patients,
        events; /* of those that followed and those that did not; events RT_NO_COUNT for means */
    bool too_few;
    char remark[RULE_REMARK];
};

/* What is concluded: see measure rule_verdict. */
struct rule_verdict {
    enum rt_figure_state state;
    int value; /* 1 supported, -1 not supported, 0 cannot tell */
    double p;
    long implants, patients;
    char remark[RULE_REMARK];
};

/* The confounders of a rule over the rows of its sample: complete rows only. */
struct rule_model {
    struct rt_design design; /* the columns of the caller first, then the confounders */
    double *y;
    bool *capped;
    size_t *cluster;
    bool *followed;
    size_t n, clusters;
    unsigned used, dropped; /* confounders; dropped: recorded for fewer than half of the rows */
    size_t left_out;        /* rows without a confounder */
};

/* Build a model of the sample whose first columns are the `count` columns of numbers (each over the rows of the
 * sample), after the intercept. Release also after a failure. */
enum rt_status rule_model_build(struct rule_model *model, const struct rule_task *task,
                                const struct rt_number_column *columns, size_t count, struct rt_error *error);
void rule_model_release(struct rule_model *model);

/* Which confounders were held equal and which rows left out, in words. */
void rule_model_words(const struct rule_model *model, char *text, size_t size);

/* Patients of the model with followed as given. */
size_t rule_model_patients(const struct rule_model *model, bool followed);

/* Fill task->sample with the judged implants whose outcome is known. */
void rule_take_sample(struct rule_task *task);

/* A row of the section with the key of the task's rule. */
struct rt_figure rule_row(struct rule_task *task, const char *measure);

/* Put an estimate, or too_few with its remark. */
void rule_put(struct rule_task *task, struct rt_figure *row, const struct rule_estimate *estimate,
              bool with_p);

/* Outcomes, differences and verdict of a rule that is followed or not. The sample has been taken. */
void rule_compare(struct rule_task *task, struct rule_verdict *verdict);

/* The slope of torque, and the knee of tissue plus depth. */
void rule_judge_slope(struct rule_task *task, struct rule_verdict *verdict);
void rule_judge_knee(struct rule_task *task, struct rule_verdict *verdict);

/* The outcome along the number the rule is about. */
void rule_dose_response(struct rule_task *task);

/* The verdict on a promised difference, and on a stated value. */
void rule_decide_difference(const struct rt_house_rule *rule, const struct rule_estimate *adjusted,
                            struct rule_verdict *verdict);
void rule_decide_value(const struct rt_house_rule *rule, const struct rule_estimate *estimate,
                       struct rule_verdict *verdict);

#endif
