/*
 * Which digits may stand in a page without being a figure, and why: numbers that belong to a definition, dates, and the levels and
 * times by which the rows of the figures are named. Whoever writes another one into a heading must say here what it is.
 */
#ifndef RIDGETALLY_TESTS_PAGE_WORDS_H
#define RIDGETALLY_TESTS_PAGE_WORDS_H

#include <stdbool.h>
#include <stddef.h>

struct page_words {
    char **levels; /* parts of levels that hold a digit, as the pages may write them */
    size_t level_count, level_capacity;
    double *times; /* distinct */
    size_t time_count, time_capacity;
};

/* Take up the level and the time (NaN: none) of one row of the figures. */
void page_words_add(struct page_words *words, const char *level, double time);
void page_words_release(struct page_words *words);

/* The first digit of text that is none of: a number of a definition in its words ("12 months", "95% interval"); a date ("1 April
 * 2026", "2026-04-01", "2026Q2"); part of a level; a time of a row with its unit ("2 years"). A time, and what
 * is a number alone ("2020", "<0", "95%"), must be the whole text, or stand between commas. NULL when there is none. */
const char *page_words_stray(const struct page_words *words, const char *text);

/* Text is the name of a level, or several joined by a bar or "and"; its unit may be left out, its end replaced by an ellipsis, and hyphens may
 * be spaces. Text without digits passes. */
bool page_words_is_name(const struct page_words *words, const char *text);

/* Text is the number of an axis: digits, one point, a minus sign before or a % sign behind. */
bool page_words_is_tick(const char *text);

/* The first digit of the line at the foot of a page that is neither the program's version nor the fingerprint of the records. */
const char *page_words_stray_in_footer(const char *text);

#endif
