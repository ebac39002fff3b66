/*
 * generate-practice [--out DIR] [--seed N] [--patients N | --implants N] [--clean] [--dirt-counts]
 *
 * Writes implants.csv, followups.csv and events.csv of an invented practice into DIR (default sample-data).
 * Without options these are the committed files, byte for byte. --dirt-counts prints, instead of writing, the
 * table of mistakes that stands in sample-data/README.md.
 */
#include "dirt.h"

#include "ridgetally/base/file.h"
#include "ridgetally/base/number.h"

#include <stdio.h>
#include <string.h>

struct arguments {
    const char *out;
    struct rt_sample_settings settings;
    bool clean, dirt_counts;
};

static enum rt_status read_arguments(int argc, char **argv, struct arguments *arguments,
                                     struct rt_error *error)
{
    for (int i = 1; i < argc; i++) {
        long number = 0;
        const char *value = i + 1 < argc ? argv[i + 1] : NULL;
        bool is_number = rt_parse_integer(value, &number) && number > 0;
        if (strcmp(argv[i], "--clean") == 0) {
            arguments->clean = true;
            continue;
        }
        if (strcmp(argv[i], "--dirt-counts") == 0) {
            arguments->dirt_counts = true;
            continue;
        }
        if (strcmp(argv[i], "--out") == 0 && value != NULL)
            arguments->out = value;
        else if (strcmp(argv[i], "--seed") == 0 && is_number)
            arguments->settings.seed = (uint64_t)number;
        else if (strcmp(argv[i], "--patients") == 0 && is_number && number <= 1000000)
            arguments->settings.patients = (int)number;
        else if (strcmp(argv[i], "--implants") == 0 && is_number && number <= 1000000)
            arguments->settings.implants = (int)number;
        else
            return rt_fail(error, RT_USE, "cannot use argument '%s'", argv[i]);
        i++;
    }
    return RT_OK;
}

static enum rt_status write_table(const struct rt_sample_table *table, const char *folder,
                                  struct rt_error *error)
{
    struct rt_text text = {0};
    struct rt_text path = {0};
    rt_sample_table_to_csv(table, &text);
    rt_text_format(&path, "%s/%s", folder, table->name);
    enum rt_status status = rt_text_status(&text, error);
    if (status == RT_OK)
        status = rt_text_status(&path, error);
    if (status == RT_OK)
        status = rt_write_file(path.bytes, text.bytes, text.length, error);
    rt_text_release(&text);
    rt_text_release(&path);
    return status;
}

static void print_dirt(const struct rt_sample_dirt_list *list)
{
    for (size_t i = 0; i < list->count; i++)
        printf("| %s | %s | %s | %d |\n", list->kinds[i].file, list->kinds[i].column, list->kinds[i].what,
               list->kinds[i].count);
}

static enum rt_status run(int argc, char **argv, struct rt_error *error)
{
    struct arguments arguments = {.out = "sample-data", .settings = rt_sample_defaults()};
    struct rt_sample_practice practice = {0};
    struct rt_sample_tables tables = {0};
    struct rt_sample_dirt_list dirt = {0};
    enum rt_status status = read_arguments(argc, argv, &arguments, error);
    if (status == RT_OK)
        status = rt_generate_practice(&arguments.settings, &practice, error);
    if (status == RT_OK)
        status = rt_sample_make_tables(&practice, &tables, error);
    if (status == RT_OK && !arguments.clean)
        status = rt_sample_add_dirt(&tables, arguments.settings.seed, &dirt, error);
    if (status == RT_OK && arguments.dirt_counts) {
        print_dirt(&dirt);
    } else if (status == RT_OK) {
        status = write_table(&tables.implants, arguments.out, error);
        if (status == RT_OK)
            status = write_table(&tables.followups, arguments.out, error);
        if (status == RT_OK)
            status = write_table(&tables.events, arguments.out, error);
    }
    rt_sample_release_tables(&tables);
    rt_release_practice(&practice);
    return status;
}

int main(int argc, char **argv)
{
    struct rt_error error = {0};
    enum rt_status status = run(argc, argv, &error);
    if (status != RT_OK)
        rt_error_print(&error, stderr);
    return rt_exit_code(status);
}
