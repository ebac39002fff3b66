#include "reckon_private.h"

#include "ridgetally/base/file.h"
#include "ridgetally/cli/fit.h"

#include <stdlib.h>
#include <string.h>

#define RT_METHOD(name) extern const struct rt_reckon_method rt_reckon_##name;
#include "ridgetally/cli/reckon_methods.h"
#undef RT_METHOD

const struct rt_reckon_method *const *rt_reckon_methods(size_t *count)
{
    static const struct rt_reckon_method *const methods[] = {
#define RT_METHOD(name) &rt_reckon_##name,
#include "ridgetally/cli/reckon_methods.h"
#undef RT_METHOD
    };
    *count = sizeof methods / sizeof methods[0];
    return methods;
}

static const struct rt_reckon_method *find_method(const char *name)
{
    size_t count = 0;
    const struct rt_reckon_method *const *methods = rt_reckon_methods(&count);
    for (size_t i = 0; i < count; i++)
        if (strcmp(methods[i]->name, name) == 0)
            return methods[i];
    return NULL;
}

static enum rt_status print_methods(struct rt_error *error)
{
    size_t count = 0;
    const struct rt_reckon_method *const *methods = rt_reckon_methods(&count);
    struct rt_text text = {0};
    rt_text_add(
        &text,
        "ridgetally reckon: any statistic of the engine on any CSV, so that outsiders can check the "
        "arithmetic.\n\n"
        "Usage: ridgetally reckon METHOD [options] FILE\n"
        "       ridgetally reckon METHOD --help\n\n"
        "Reads a CSV with a header (- is standard input) and writes CSV: quantity,group,at,value. Rows in\n"
        "which a needed cell is empty are left out and counted on standard error, which also says why a\n"
        "quantity is not defined (its value is empty).\n\n");
    for (size_t i = 0; i < count; i++)
        rt_text_format(&text, "  %-14s %s\n", methods[i]->name, methods[i]->summary);
    return rt_print_help(&text, error);
}

static const char *placeholder(enum rt_option_kind kind)
{
    switch (kind) {
    case RT_OPTION_NUMBER:
    case RT_OPTION_POSITIVE:
    case RT_OPTION_SHARE:
    case RT_OPTION_COUNT:
        return "N";
    case RT_OPTION_NUMBER_LIST:
        return "N,N,...";
    case RT_OPTION_WORDS:
        return "A,B,...";
    case RT_OPTION_NUMBERS_COLUMNS:
    case RT_OPTION_CATEGORIES_COLUMNS:
        return "COLUMN,...";
    case RT_OPTION_NUMBER_OR_COLUMN:
        return "N|COLUMN";
    case RT_OPTION_FLAG:
    case RT_OPTION_END:
        return "";
    default:
        return "COLUMN";
    }
}

static enum rt_status print_method(const struct rt_reckon_method *method, struct rt_error *error)
{
    struct rt_text text = {0};
    rt_text_format(&text, "ridgetally reckon %s: %s\n\nUsage: ridgetally reckon %s [options] FILE\n\n",
                   method->name, method->summary, method->name);
    for (const struct rt_reckon_option *option = method->options; option->name != NULL; option++) {
        char left[80];
        snprintf(left, sizeof left, "%s %s", option->name,
                 option->kind == RT_OPTION_CHOICE ? option->choices : placeholder(option->kind));
        rt_text_format(&text, "  %-26s  %s%s", left, option->help, option->required ? " (needed)" : "");
        if (option->fallback != NULL)
            rt_text_format(&text, " (default %s)", option->fallback);
        rt_text_add(&text, "\n");
    }
    rt_text_format(&text, "\nQuantities: %s\n", method->quantities);
    if (method->notes != NULL)
        rt_text_format(&text, "\n%s", method->notes);
    return rt_print_help(&text, error);
}

static enum rt_status run_method(const struct rt_reckon_method *method, int argc, char **argv,
                                 struct rt_error *error)
{
    struct rt_reckon_notes notes = {0};
    struct rt_reckon r = {.method = method, .notes = &notes};
    const char *path = NULL;
    enum rt_status status = rt_parse_reckon_options(&r, argc, argv, &path, error);
    r.file = path == NULL ? method->name : path;
    if (status == RT_OK && path != NULL)
        status = rt_read_table(&r.table, path, error);
    else if (status == RT_OK)
        r.table.row_count = 1; /* the numbers of the command line */
    if (status == RT_OK)
        status = rt_select_rows(&r, error);
    if (status == RT_OK) {
        rt_text_add(&r.output, "quantity,group,at,value\n");
        status = method->run(&r, error);
    }
    if (status == RT_OK)
        status = rt_finish_output(&r, error);
    rt_release_table(&r.table);
    rt_text_release(&r.output);
    rt_text_release(&notes.remarks);
    rt_arena_release(&r.arena);
    free(notes.notes);
    free(r.values);
    return status;
}

enum rt_status rt_reckon_verb(int argc, char **argv, struct rt_error *error)
{
    if (argc < 2 || strcmp(argv[1], "--help") == 0)
        return print_methods(error);
    const struct rt_reckon_method *method = find_method(argv[1]);
    if (method == NULL) {
        rt_fail(error, RT_USE, "there is no method '%.60s'", argv[1]);
        rt_error_remedy(error, "`ridgetally reckon --help` lists the methods");
        return RT_USE;
    }
    for (int i = 2; i < argc; i++)
        if (strcmp(argv[i], "--help") == 0)
            return print_method(method, error);
    return run_method(method, argc - 2, argv + 2, error);
}
