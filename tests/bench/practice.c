/*
 * bench-practice --implants N [--seed N] --out DIR
 *
 * The three record files of an invented practice of any size, in bounded memory: practices of the sample's generator,
 * CHUNK implants each with a seed of its own, one after the other, patients and films numbered on. The files are clean,
 * so that a loader that refuses nothing takes the same rows.
 */
#include "practice.h"
#include "table.h"

#include "ridgetally/base/number.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { CHUNK = 2000, FILES = 3 };

struct arguments {
    const char *out;
    long implants, seed;
};

static enum rt_status fail_write(const char *path, struct rt_error *error)
{
    rt_fail(error, RT_SYSTEM, "cannot write: %s", strerror(errno));
    rt_error_locate(error, path, 0, NULL);
    return RT_SYSTEM;
}

static enum rt_status read_arguments(int argc, char **argv, struct arguments *arguments,
                                     struct rt_error *error)
{
    for (int i = 1; i + 1 < argc; i += 2) {
        if (strcmp(argv[i], "--out") == 0)
            arguments->out = argv[i + 1];
        else if (strcmp(argv[i], "--implants") != 0 && strcmp(argv[i], "--seed") != 0)
            return rt_fail(error, RT_USE, "cannot use argument '%s'", argv[i]);
        else if (!rt_parse_integer(argv[i + 1], argv[i][2] == 's' ? &arguments->seed : &arguments->implants))
            return rt_fail(error, RT_USE, "'%s' is no number", argv[i + 1]);
    }
    if (arguments->out == NULL || arguments->implants < 1)
        return rt_fail(error, RT_USE, "say --implants N and --out DIR");
    return RT_OK;
}

/* Labels and films of every part are its own: P and the part's number stand before them. */
static enum rt_status number_on(struct rt_sample_table *table, const char *column, long part,
                                struct rt_error *error)
{
    size_t at = rt_sample_column(table, column);
    enum rt_status status = RT_OK;
    for (size_t row = 0; status == RT_OK && row < table->row_count; row++) {
        char text[48];
        if (table->rows[row][at][0] == '\0')
            continue;
        snprintf(text, sizeof text, "%c%03ld-%s", column[0] == 'p' ? 'P' : 'N', part, table->rows[row][at]);
        status = rt_sample_set_cell(table, row, column, text, error);
    }
    return status;
}

static enum rt_status add_part(const struct rt_sample_table *table, bool first, FILE *stream,
                               struct rt_error *error)
{
    struct rt_text text = {0};
    rt_sample_table_to_csv(table, &text);
    enum rt_status status = rt_text_status(&text, error);
    const char *start = text.bytes;
    if (status == RT_OK && !first)
        start = strchr(text.bytes, '\n') + 1;
    if (status == RT_OK && fputs(start, stream) < 0)
        status = fail_write(table->name, error);
    rt_text_release(&text);
    return status;
}

static enum rt_status write_part(const struct arguments *arguments, long part, FILE *streams[FILES],
                                 struct rt_error *error)
{
    struct rt_sample_settings settings = rt_sample_defaults();
    struct rt_sample_practice practice = {0};
    struct rt_sample_tables tables = {0};
    struct rt_sample_table *const parts[FILES] = {&tables.implants, &tables.followups, &tables.events};
    long left = arguments->implants - part * CHUNK;
    settings.seed = (uint64_t)(arguments->seed + part);
    settings.implants = (int)(left < CHUNK ? left : CHUNK);
    enum rt_status status = rt_generate_practice(&settings, &practice, error);
    if (status == RT_OK)
        status = rt_sample_make_tables(&practice, &tables, error);
    if (status == RT_OK)
        status = number_on(&tables.followups, "film", part, error);
    for (size_t i = 0; status == RT_OK && i < FILES; i++) {
        status = number_on(parts[i], "patient", part, error);
        if (status == RT_OK)
            status = add_part(parts[i], part == 0, streams[i], error);
    }
    rt_sample_release_tables(&tables);
    rt_release_practice(&practice);
    return status;
}

static enum rt_status write_files(const struct arguments *arguments, struct rt_error *error)
{
    static const char *const names[FILES] = {"implants.csv", "followups.csv", "events.csv"};
    FILE *streams[FILES] = {NULL};
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < FILES; i++) {
        char path[4096];
        snprintf(path, sizeof path, "%s/%s", arguments->out, names[i]);
        streams[i] = fopen(path, "we");
        if (streams[i] == NULL)
            status = fail_write(path, error);
    }
    for (long part = 0; status == RT_OK && part * CHUNK < arguments->implants; part++)
        status = write_part(arguments, part, streams, error);
    for (size_t i = 0; i < FILES; i++)
        if (streams[i] != NULL && fclose(streams[i]) != 0 && status == RT_OK)
            status = fail_write(names[i], error);
    return status;
}

int main(int argc, char **argv)
{
    struct rt_error error = {0};
    struct arguments arguments = {.seed = 1};
    enum rt_status status = read_arguments(argc, argv, &arguments, &error);
    if (status == RT_OK)
        status = write_files(&arguments, &error);
    if (status != RT_OK)
        rt_error_print(&error, stderr);
    return rt_exit_code(status);
}
