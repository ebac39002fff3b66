/*
 * Which slides a deck has, in which order: the usual ones, or those of a small text file of the presenter's.
 *
 *     # a comment
 *     title
 *     survival
 *     text: What we would change
 *       Each indented line is a line of that slide.
 *       note: and this one stands in the presenter's notes
 */
#ifndef RIDGETALLY_OUTPUT_SLIDE_LIST_H
#define RIDGETALLY_OUTPUT_SLIDE_LIST_H

#include "ridgetally/base/arena.h"
#include "ridgetally/base/error.h"

#include <stddef.h>

enum { RT_SLIDE_LINES = 8, RT_SLIDE_TITLE_BYTES = 120, RT_SLIDE_LINE_BYTES = 240, RT_SLIDES_MOST = 60 };

struct rt_slide {
    const char *name; /* "" = the presenter's own */
    const char *title;
    const char *lines[RT_SLIDE_LINES];
    size_t line_count;
    const char *note; /* "" = none */
    long line;        /* of the file; 0 = not from a file */
};

struct rt_slide_list {
    struct rt_slide *slides;
    size_t count, capacity;
    struct rt_arena text;
};

/* The usual slides, in the usual order. */
enum rt_status rt_usual_slides(struct rt_slide_list *list, struct rt_error *error);

/* Read the presenter's list from text. RT_INPUT, with file and line, for a slide there is not or that stands twice, text that
 * belongs to no slide or does not fit on one, a list without slides, or bytes that are not UTF-8. */
enum rt_status rt_read_slides(const char *text, const char *file, struct rt_slide_list *list,
                              struct rt_error *error);

void rt_release_slides(struct rt_slide_list *list);

#endif
