/*
 * The three native files and their columns, in one table: names, types, ranges, code lists, meanings. The
 * store's columns, the checks, `new --sheets` and the man page all follow it.
 */
#ifndef RIDGETALLY_INTAKE_FORM_H
#define RIDGETALLY_INTAKE_FORM_H

#include "ridgetally/base/text.h"

#include <stdbool.h>
#include <stddef.h>

enum rt_record_kind { RT_IMPLANTS, RT_FOLLOWUPS, RT_EVENTS, RT_RECORD_KINDS };

enum rt_field_type {
    RT_FIELD_ID,      /* patient, implant: the practice's own labels */
    RT_FIELD_TEXT,    /* free short text */
    RT_FIELD_DATE,    /* YYYY-MM-DD */
    RT_FIELD_YES_NO,  /* yes or no */
    RT_FIELD_CODE,    /* one of a list */
    RT_FIELD_NUMBER,  /* decimal point */
    RT_FIELD_INTEGER, /* whole number */
    RT_FIELD_TOOTH,   /* ISO 3950, two digits */
    RT_FIELD_TORQUE,  /* a number, or a limit reached: >70, >=70, 70+ */
    RT_FIELD_DENSITY  /* D1-D4 or LZ1-LZ4 */
};

/* One column of a file. Ranges are inclusive; NaN = none. Outside the hard range the row is refused, outside
 * the soft range it enters with a doubt. */
struct rt_field {
    const char *name;
    const char *column;        /* in the store; NULL for id columns */
    const char *second_column; /* torque: the capped flag; density: the scale; else NULL */
    const char *const *codes;  /* NULL-terminated, for RT_FIELD_CODE */
    const char *if_empty;      /* what an empty cell means (a code, a number or ""); NULL = not recorded */
    double hard_least, hard_most;
    double soft_least, soft_most;
    const char *unit;
    const char *meaning;
    enum rt_field_type type;
    bool key;       /* the column must be in the header */
    bool needed;    /* the cell must not be empty */
    bool free_text; /* may name people: short codes are taken, other text only when asked for */
};

enum { RT_MOST_FIELDS = 48, RT_MOST_COLUMNS = 64 };

/* One kind of file. */
struct rt_form {
    enum rt_record_kind kind;
    const char *name;  /* implants, followups, events */
    const char *table; /* in the store */
    const struct rt_field *fields;
    size_t count;
};

/* The form of a kind. */
const struct rt_form *rt_form(enum rt_record_kind kind);

/* The kind named by text (implants, followups, events); false when there is none. */
bool rt_find_kind(const char *text, enum rt_record_kind *kind);

/* The position of a column name in the form (letters' case, spaces and punctuation do not matter, so that a unit may stand
 * in brackets), or
 * form->count. */
size_t rt_find_field(const struct rt_form *form, const char *name);

/* The header line of an empty sheet, with its newline. */
void rt_form_header(const struct rt_form *form, struct rt_text *text);

/* The code list: for every file and column what to type, in which unit, within which range, and what it
 * means. */
void rt_code_list(struct rt_text *text);

#endif
