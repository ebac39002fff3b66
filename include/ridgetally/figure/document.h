/*
 * A document: what a page says, in which order, before it is HTML. Output builds it from figure rows; page
 * renders it. A document computes nothing: every number in it is a part of a figure row.
 *
 * Chapters hold blocks. A block is one finding: the answer (sentences), the chart, the numbers (tables), the
 * method in a line, the caution if there is one. Sentences are wordings (wording.h) with figure rows or text
 * bound to their slots; they hold no digits of their own.
 *
 *     struct rt_document document = {0};
 *     struct rt_chapter *chapter = rt_add_chapter(&document, "depth", "heading.depth");
 *     struct rt_block *block = rt_add_block(&document, chapter, "depth-bias", "heading.depth.bias");
 *     struct rt_sentence *answer = rt_add_answer(&document, block, "depth.bias.deeper");
 *     rt_bind_figure(&document, answer, "bias", row);
 *     status = rt_document_status(&document, error);
 *     rt_release_document(&document);
 *
 * Failures stick: after one, the adding functions return NULL, take NULL for their target and do nothing, and
 * rt_document_status tells. All text is copied, except that figure rows, figure lists and case series are
 * borrowed: they must outlive the document and must not grow meanwhile.
 */
#ifndef RIDGETALLY_FIGURE_DOCUMENT_H
#define RIDGETALLY_FIGURE_DOCUMENT_H

#include "ridgetally/base/arena.h"
#include "ridgetally/base/error.h"
#include "ridgetally/figure/chart_request.h"
#include "ridgetally/figure/figure.h"

#include <stdbool.h>
#include <stddef.h>

/* What a slot or a table column shows of a figure row. The word in a slot is given behind each. */
enum rt_slot_part {
    RT_PART_TEXT,       /* the text bound to the slot (no part named) */
    RT_PART_VALUE,      /* value */
    RT_PART_AMOUNT,     /* amount: value with its unit, in a column of several units; tables */
    RT_PART_SIZE,       /* size: the value without its sign, where words say the direction */
    RT_PART_LOWER,      /* lower */
    RT_PART_UPPER,      /* upper */
    RT_PART_LOWER_SIZE, /* lower_size */
    RT_PART_UPPER_SIZE, /* upper_size */
    RT_PART_INTERVAL,   /* interval: lower to upper */
    RT_PART_SIZES,      /* sizes: the interval without signs, smaller size first */
    RT_PART_ESTIMATE,   /* estimate: value (lower to upper); tables */
    RT_PART_SHARE,      /* share: percentage from 20 implants on, else events of implants; tables */
    RT_PART_P,          /* p: "= 0.03" or "< 0.001" */
    RT_PART_P_ADJUSTED, /* p_adjusted */
    RT_PART_IMPLANTS,   /* implants: "38 implants", "1 implant"; the bare count in tables */
    RT_PART_PATIENTS,   /* patients: "29 patients"; the bare count in tables */
    RT_PART_CASES,      /* cases: "38 implants (29 patients)"; "38 (29)" in tables */
    RT_PART_N,          /* n: the bare number of implants */
    RT_PART_EVENTS,     /* events: the bare number */
    RT_PART_DUE,        /* due: the bare number */
    RT_PART_EVENTS_OF   /* events_of: "3 of 38" (events of implants) */
};

/* The part that a slot's word names; false when there is none of that name. */
bool rt_slot_part_of(const char *word, size_t length, enum rt_slot_part *part);

struct rt_slot {
    struct rt_slot *next;
    const char *name;
    const struct rt_figure *figure; /* NULL: text stands in the slot */
    const char *text;
};

struct rt_sentence {
    struct rt_sentence *next;
    const char *key;      /* of the wording */
    const char *template; /* the wording */
    struct rt_slot *slots;
    bool joined; /* in a list of points: goes on in the line of the sentence before */
};

struct rt_cell {
    struct rt_cell *next;
    const struct rt_figure *figure; /* NULL: text */
    const char *text;
};

struct rt_table_row {
    struct rt_table_row *next;
    const char *label; /* heads the row */
    bool named;        /* the label is a case, or words of the practice's own: no digit in it is a figure */
    struct rt_cell *cells, *last_cell;
    bool screen_only; /* left out in print; the table's print_note must say so */
};

struct rt_column {
    struct rt_column *next;
    const char *heading;
    enum rt_slot_part part; /* how the column shows its rows; RT_PART_TEXT for text cells */
    bool screen_only;       /* left out in print; the table's print_note must say so */
};

struct rt_table {
    struct rt_table *next;
    struct rt_sentence *caption;
    const char *row_heading; /* heads the column of row labels */
    const char *print_note;  /* what print leaves out, and where it is; NULL: nothing */
    struct rt_column *columns, *last_column;
    struct rt_table_row *rows, *last_row;
    size_t row_count;
};

/* One finding. Lists may be empty, pointers NULL. */
struct rt_block {
    struct rt_block *next;
    const char *id;
    const char *heading; /* "" = none: the block continues its chapter */
    struct rt_sentence *answers;
    struct rt_sentence *remarks; /* what a reader must know beside the answer */
    struct rt_chart_request *chart;
    struct rt_table *tables, *last_table;
    struct rt_sentence *method;
    const char *method_id; /* entry of the appendix the method line links to */
    struct rt_sentence *caution;
};

/* An entry of an appendix: a term and its paragraphs. */
struct rt_entry {
    struct rt_entry *next;
    const char *id;
    const char *term;
    struct rt_sentence *paragraphs;
};

struct rt_chapter {
    struct rt_chapter *next;
    const char *id;
    const char *heading;
    struct rt_sentence *lead;    /* opening sentences */
    struct rt_sentence *summary; /* main answers, one a line */
    struct rt_sentence *points_lead;
    struct rt_sentence *points; /* what stands out, one a line */
    struct rt_block *blocks, *last_block;
    struct rt_entry *entries, *last_entry; /* appendix only */
    bool reference; /* quotes formulae and sources: numbers in it are cited, not figures */
};

struct rt_document {
    const char *title;          /* what kind of page: "Practice audit" */
    const char *practice;       /* name of the practice; may be "" */
    const char *period;         /* in words: "1 July to 30 September 2026" */
    const char *data_date;      /* in words: the latest record used */
    const char *notice;         /* for example that the data are invented; "" = none */
    const char *filters;        /* in words; "" = none */
    const char *without_charts; /* why there are no charts; "" when there are */
    const char *footer;         /* which program wrote the page */
    struct rt_chapter *chapters, *last_chapter;
    size_t chart_count;
    struct rt_arena arena;
    struct rt_wordings *wordings; /* made when the first is asked for */
    bool out_of_memory;
    char missing_wording[64]; /* first key that is not in reports/wording; "" = none */
};

struct rt_chapter *rt_add_chapter(struct rt_document *document, const char *id, const char *heading_key);
struct rt_block *rt_add_block(struct rt_document *document, struct rt_chapter *chapter, const char *id,
                              const char *heading_key); /* heading_key NULL: no heading */
struct rt_entry *rt_add_entry(struct rt_document *document, struct rt_chapter *chapter, const char *id,
                              const char *term);

/* Append a sentence with the wording of key to a list; returned for its slots to be bound. */
struct rt_sentence *rt_add_lead(struct rt_document *document, struct rt_chapter *chapter, const char *key);
struct rt_sentence *rt_add_summary(struct rt_document *document, struct rt_chapter *chapter, const char *key);
struct rt_sentence *rt_add_points_lead(struct rt_document *document, struct rt_chapter *chapter,
                                       const char *key);
struct rt_sentence *rt_add_point(struct rt_document *document, struct rt_chapter *chapter, const char *key);
struct rt_sentence *rt_add_answer(struct rt_document *document, struct rt_block *block, const char *key);
struct rt_sentence *rt_add_remark(struct rt_document *document, struct rt_block *block, const char *key);
struct rt_sentence *rt_set_method(struct rt_document *document, struct rt_block *block, const char *key,
                                  const char *method_id);
struct rt_sentence *rt_set_caution(struct rt_document *document, struct rt_block *block, const char *key);

/* A paragraph of an entry: a wording, or plain text in which nothing is a slot. */
struct rt_sentence *rt_add_paragraph(struct rt_document *document, struct rt_entry *entry, const char *key);
struct rt_sentence *rt_add_plain_paragraph(struct rt_document *document, struct rt_entry *entry,
                                           const char *text);

/* Bind a slot of a sentence. A slot bound twice shows the later binding. */
void rt_bind_figure(struct rt_document *document, struct rt_sentence *sentence, const char *slot,
                    const struct rt_figure *figure);
void rt_bind_words(struct rt_document *document, struct rt_sentence *sentence, const char *slot,
                   const char *text);

/* Tables: columns first, then rows, whose cells follow the columns. */
struct rt_table *rt_add_table(struct rt_document *document, struct rt_block *block, const char *caption_key,
                              const char *row_heading_key);
void rt_add_column(struct rt_document *document, struct rt_table *table, const char *heading_key,
                   enum rt_slot_part part);
void rt_add_named_column(struct rt_document *document, struct rt_table *table, const char *heading,
                         enum rt_slot_part part); /* heading: text, copied */
struct rt_table_row *rt_add_row(struct rt_document *document, struct rt_table *table, const char *label);
void rt_add_figure_cell(struct rt_document *document, struct rt_table_row *row,
                        const struct rt_figure *figure); /* NULL: an empty cell */
void rt_add_text_cell(struct rt_document *document, struct rt_table_row *row, const char *text);

/* Give the block a chart. The request is copied (text too); the lists it points to are borrowed. */
void rt_set_chart(struct rt_document *document, struct rt_block *block,
                  const struct rt_chart_request *request);

/* The wording of key in the document's own memory, "" after a failure. */
const char *rt_document_words(struct rt_document *document, const char *key);

/* Text formatted into the document's own memory; "" after a failure. */
const char *rt_document_text(struct rt_document *document, const char *format, ...) RT_PRINTF(2, 3);

/* All chart requests in the order of their blocks, copied into requests (chart_count of them). */
void rt_document_charts(const struct rt_document *document, struct rt_chart_request *requests);

/* RT_OK, RT_MEMORY, or RT_USE naming the wording that is missing. */
enum rt_status rt_document_status(const struct rt_document *document, struct rt_error *error);

void rt_release_document(struct rt_document *document);

#endif
