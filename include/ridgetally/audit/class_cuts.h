/*
 * Classes of depth, tissue height and torque by the cuts in the store (dated rows). Values and cuts are
 * compared in integer hundredths, so that 0.5 is 0.5.
 */
#ifndef RIDGETALLY_AUDIT_CLASS_CUTS_H
#define RIDGETALLY_AUDIT_CLASS_CUTS_H

#include "ridgetally/base/error.h"
#include "ridgetally/store/store.h"

#include <limits.h>
#include <stdbool.h>

enum { RT_CLASSES_LIMIT = 12, RT_NO_CLASS = -1 };

/* One class in hundredths; LONG_MIN and LONG_MAX are open ends. */
struct rt_class {
    char label[48];
    long lower, upper;
    bool lower_included, upper_included;
};

/* The classes of one quantity, lowest first. */
struct rt_classes {
    struct rt_class of[RT_CLASSES_LIMIT];
    int count;
    int valid_from; /* day from which these cuts hold */
};

struct rt_class_cuts {
    struct rt_classes depth, tissue, torque;
};

/* The cuts in force on last_day. RT_STORE when a quantity has none or more than RT_CLASSES_LIMIT. */
enum rt_status rt_load_class_cuts(struct rt_store *store, int last_day, struct rt_class_cuts *cuts,
                                  struct rt_error *error);

/* The class a value falls into, RT_NO_CLASS for NaN or a gap between classes. */
int rt_class_of(const struct rt_classes *classes, double value);

/* The same where a capped value is only known to be at least `value`: classed only where its cap reaches the
 * lower cut of the highest class, for then every value it may stand for is in that class. */
int rt_class_of_capped(const struct rt_classes *classes, double value, bool capped);

/* The cut between the lowest class and the next, in units of the quantity; NaN when the lowest class is open.
 */
double rt_lowest_cut(const struct rt_classes *classes);

#endif
