/*
 * Editing the house rules: every edit is kept with its time, who made it and where the value comes from, so that an audit can
 * say that a rule was edited after the first one.
 */
#ifndef RIDGETALLY_AUDIT_HOUSE_RULE_EDIT_H
#define RIDGETALLY_AUDIT_HOUSE_RULE_EDIT_H

#include "ridgetally/base/error.h"
#include "ridgetally/store/store.h"

/* One edit. name: a parameter of the rule, or smallest-difference, stated-value, largest-width, confounders. */
struct rt_rule_edit {
    const char *rule, *name, *value, *set_by, *origin;
};

/* Make and keep the edit, in one transaction. RT_USE in words when there is no such rule or number, the value does not fit
 * (bounds are in the store), or nothing changes. */
enum rt_status rt_edit_house_rule(struct rt_store *store, const struct rt_rule_edit *edit,
                                  struct rt_error *error);

#endif
