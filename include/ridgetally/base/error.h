/*
 * Errors: a status code plus a filled struct rt_error.
 *
 * Every function that can fail returns enum rt_status and takes a struct rt_error pointer last. The pointer
 * may be NULL when the caller does not want the words. The first error wins: a struct that already holds an
 * error is not overwritten, so clean-up code cannot hide the cause.
 *
 *     struct rt_error error = {0};
 *     if (rt_store_open(&store, path, &error) != RT_OK)
 *         rt_error_print(&error, stderr);
 */
#ifndef RIDGETALLY_BASE_ERROR_H
#define RIDGETALLY_BASE_ERROR_H

#include <stdio.h>

/* What kind of thing went wrong; decides the exit code (see rt_exit_code). */
enum rt_status {
    RT_OK = 0,
    RT_PARTIAL,    /* done, but some rows were refused or a yardstick was missed: exit 1 */
    RT_USE,        /* the command line or a call was wrong: exit 2 */
    RT_INPUT,      /* an input file is wrong: exit 3 */
    RT_STORE,      /* the store is missing, foreign, newer or damaged: exit 3 */
    RT_SYSTEM,     /* the system failed: disk full, no permission, a child process: exit 4 */
    RT_MEMORY,     /* out of memory: exit 4 */
    RT_INTERRUPTED /* a signal asked to stop, and what was under way was taken back: ends by that signal */
};

/* One error in words. Empty text and line 0 mean "not known". All text is owned by the struct. */
struct rt_error {
    enum rt_status status;
    char file[512];    /* input or output file concerned */
    long line;         /* 1-based line in that file */
    char column[64];   /* column name in that file */
    char message[512]; /* what is wrong */
    char remedy[512];  /* what to do about it */
};

#if defined(__GNUC__)
#define RT_PRINTF(format_index, first_argument) __attribute__((format(printf, format_index, first_argument)))
#define RT_MUST_USE                             __attribute__((warn_unused_result))
#else
#define RT_PRINTF(format_index, first_argument)
#define RT_MUST_USE
#endif

/* Fill error with status and a formatted message, unless error is NULL or already holds an error.
 * Returns status, so that a function can end with `return rt_fail(error, RT_INPUT, "...")`. */
enum rt_status rt_fail(struct rt_error *error, enum rt_status status, const char *format, ...)
    RT_PRINTF(3, 4);

/* Add where the error stands, if it does not say so yet. file and column may be NULL, line may be 0. */
void rt_error_locate(struct rt_error *error, const char *file, long line, const char *column);

/* Add the remedy (what the user should do), if none is there yet. */
void rt_error_remedy(struct rt_error *error, const char *format, ...) RT_PRINTF(2, 3);

/* Shorthand for running out of memory. Returns RT_MEMORY; inline, so that static analysis sees that it does. */
static inline enum rt_status rt_fail_memory(struct rt_error *error)
{
    rt_fail(error, RT_MEMORY, "out of memory");
    rt_error_remedy(error, "close other programs or use a machine with more memory");
    return RT_MEMORY;
}

/* Forget the error so that the struct can be used again. */
void rt_error_clear(struct rt_error *error);

/* Print `ridgetally: FILE:LINE: [column C: ]what is wrong: what to do` and a newline to stream. */
void rt_error_print(const struct rt_error *error, FILE *stream);

/* The process exit code for a status: 0, 1, 2, 3 or 4 (man page, section EXIT STATUS); 130 for RT_INTERRUPTED, though
 * such a program ends by its signal. */
int rt_exit_code(enum rt_status status);

#endif
