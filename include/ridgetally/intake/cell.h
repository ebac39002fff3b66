/*
 * Reading one cell as the type its field asks for. An empty cell is a missing value, never zero and never no.
 */
#ifndef RIDGETALLY_INTAKE_CELL_H
#define RIDGETALLY_INTAKE_CELL_H

#include "ridgetally/intake/form.h"

#include <stdint.h>

enum rt_value_kind { RT_VALUE_NULL, RT_VALUE_INTEGER, RT_VALUE_REAL, RT_VALUE_TEXT };

/* A typed value of the store; kind tells which member holds it. text points into the cell it came from or to static text. */
struct rt_value {
    enum rt_value_kind kind;
    union {
        int64_t integer;
        double real;
        const char *text;
    };
};

/* Why a cell cannot be taken. reason and remedy never repeat what was typed. */
struct rt_cell_fault {
    const char *column;
    char reason[160];
    char remedy[160];
};

enum { RT_LONGEST_ID = 100, RT_LONGEST_TEXT = 500 };

/* Read cell (NUL-terminated; surrounding spaces are dropped in place except in ids) as field. out[0] receives
 * the value and, for torque and density, out[1] the capped flag or the scale. False with *fault filled when
 * the cell is not of the type, outside the hard range, not in the code list, or empty though needed. */
bool rt_read_cell(const struct rt_field *field, char *cell, struct rt_value out[2],
                  struct rt_cell_fault *fault);

/* Whether two values are the same (missing equals missing). */
bool rt_same_value(const struct rt_value *a, const struct rt_value *b);

/* The field's value as a user would type it, for lists of corrections: >70, D2, yes; missing as "empty".
 * values[1] is looked at for torque and density only. */
void rt_add_value(struct rt_text *text, const struct rt_field *field, const struct rt_value values[2]);

/* Undo the apostrophe our CSV output puts before a text cell that looks like a formula. Returns the cell's
 * start. */
char *rt_undo_formula_guard(char *cell);

#endif
