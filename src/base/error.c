#include "ridgetally/base/error.h"

#include <stdarg.h>
#include <string.h>

enum rt_status rt_fail(struct rt_error *error, enum rt_status status, const char *format, ...)
{
    if (error != NULL && error->status == RT_OK) {
        va_list arguments;
        va_start(arguments, format);
        vsnprintf(error->message, sizeof error->message, format, arguments);
        va_end(arguments);
        error->status = status;
    }
    return status;
}

void rt_error_locate(struct rt_error *error, const char *file, long line, const char *column)
{
    if (error == NULL)
        return;
    if (file != NULL && error->file[0] == '\0')
        snprintf(error->file, sizeof error->file, "%s", file);
    if (error->line == 0)
        error->line = line;
    if (column != NULL && error->column[0] == '\0')
        snprintf(error->column, sizeof error->column, "%s", column);
}

void rt_error_remedy(struct rt_error *error, const char *format, ...)
{
    if (error == NULL || error->remedy[0] != '\0')
        return;
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(error->remedy, sizeof error->remedy, format, arguments);
    va_end(arguments);
}

void rt_error_clear(struct rt_error *error)
{
    if (error != NULL)
        *error = (struct rt_error){0};
}

/* Control characters from file names or values must not reach a terminal. */
static void print_plain(FILE *stream, const char *text)
{
    for (const unsigned char *at = (const unsigned char *)text; *at != '\0'; at++)
        fputc(*at < 0x20 || *at == 0x7f ? '?' : *at, stream);
}

void rt_error_print(const struct rt_error *error, FILE *stream)
{
    fputs("ridgetally: ", stream);
    if (error->file[0] != '\0') {
        print_plain(stream, error->file);
        if (error->line > 0)
            fprintf(stream, ":%ld", error->line);
        fputs(": ", stream);
    }
    if (error->column[0] != '\0') {
        fputs("column ", stream);
        print_plain(stream, error->column);
        fputs(": ", stream);
    }
    print_plain(stream, error->message);
    if (error->remedy[0] != '\0') {
        fputs(": ", stream);
        print_plain(stream, error->remedy);
    }
    fputc('\n', stream);
}

int rt_exit_code(enum rt_status status)
{
    switch (status) {
    case RT_OK:
        return 0;
    case RT_PARTIAL:
        return 1;
    case RT_USE:
        return 2;
    case RT_INPUT:
    case RT_STORE:
        return 3;
    case RT_SYSTEM:
    case RT_MEMORY:
        return 4;
    case RT_INTERRUPTED:
        return 130;
    }
    return 4;
}
