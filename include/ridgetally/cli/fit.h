/*
 * Text fitted to the width of a terminal. Whatever is no terminal (a pipe, a file) gets its lines whole, for programs read them.
 */
#ifndef RIDGETALLY_CLI_FIT_H
#define RIDGETALLY_CLI_FIT_H

#include "ridgetally/base/text.h"

/* Columns that lines on standard output may take, one less than the terminal has (some wrap on the last); at least 20. 0 when it is
 * no terminal: lines stay whole. */
int rt_output_width(void);

/* Columns that UTF-8 text takes, one a character (wide and combining ones are not told apart). NULL takes none. */
size_t rt_columns_of(const char *text);

/* Add one line, of length bytes and without its end, broken at spaces into lines of at most width columns, the second and later ones
 * indented to the column hang; ends with a newline. Short pieces in backticks or brackets stay whole, and so does a word that is wider
 * than the line (a path can still be copied). */
void rt_add_broken(struct rt_text *text, const char *line, size_t length, int width, int hang);

/* Break the lines of a list in place, where standard output is a terminal; nothing otherwise. The rest of a line stands four columns
 * into it. text->failed when memory is short. */
void rt_fit_lines(struct rt_text *text);

/* The same for lines in columns, parted by two spaces or more: a line goes on below its second column, which begins a line of its own
 * where it would leave little room. */
void rt_fit_columns(struct rt_text *text);

/* The same for the help of a verb, whose paragraphs are filled anew. */
void rt_fit_help(struct rt_text *text);

/* Print help on standard output, fitted to a terminal, and release it. */
enum rt_status rt_print_help(struct rt_text *text, struct rt_error *error);

#endif
