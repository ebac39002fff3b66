#include "reckon_private.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/base/number.h"

#include <string.h>

const struct rt_reckon_option *rt_find_option(const struct rt_reckon_method *method, const char *name)
{
    for (const struct rt_reckon_option *option = method->options; option->name != NULL; option++)
        if (strcmp(option->name, name) == 0)
            return option;
    return NULL;
}

bool rt_option_names_columns(enum rt_option_kind kind)
{
    return kind >= RT_OPTION_NUMBERS_COLUMN && kind <= RT_OPTION_NUMBER_OR_COLUMN;
}

static const struct rt_reckon_value *find_value(const struct rt_reckon *r, const char *name)
{
    for (size_t i = 0; i < r->value_count; i++)
        if (strcmp(r->values[i].option->name, name) == 0)
            return &r->values[i];
    return NULL;
}

bool rt_reckon_given(const struct rt_reckon *r, const char *option)
{
    return find_value(r, option) != NULL;
}

const char *rt_reckon_text(const struct rt_reckon *r, const char *option)
{
    const struct rt_reckon_value *value = find_value(r, option);
    if (value != NULL)
        return value->text;
    const struct rt_reckon_option *declared = rt_find_option(r->method, option);
    return declared == NULL ? NULL : declared->fallback;
}

double rt_reckon_number(const struct rt_reckon *r, const char *option)
{
    double value = NAN;
    return rt_parse_number(rt_reckon_text(r, option), &value) ? value : NAN;
}

const char *const *rt_split_words(struct rt_reckon *r, const char *text, size_t *count,
                                  struct rt_error *error)
{
    size_t words = 1;
    for (const char *at = text; *at != '\0'; at++)
        words += *at == ',';
    const char **list = rt_reckon_array(r, words, sizeof *list, error);
    char *copy = rt_reckon_array(r, strlen(text) + 1, 1, error);
    *count = 0;
    if (list == NULL || copy == NULL)
        return NULL;
    list[(*count)++] = copy;
    for (const char *at = text; *at != '\0'; at++) {
        if (at[0] == '\\' && at[1] == ',') {
            *copy++ = *++at;
        } else if (*at == ',') {
            *copy++ = '\0';
            list[(*count)++] = copy;
        } else {
            *copy++ = *at;
        }
    }
    return list;
}

const char *const *rt_reckon_words(struct rt_reckon *r, const char *option, size_t *count,
                                   struct rt_error *error)
{
    const char *text = rt_reckon_text(r, option);
    if (text != NULL)
        return rt_split_words(r, text, count, error);
    *count = 0;
    return rt_reckon_array(r, 1, sizeof(const char *), error);
}

const double *rt_reckon_number_list(struct rt_reckon *r, const char *option, size_t *count,
                                    struct rt_error *error)
{
    const char *const *words = rt_reckon_words(r, option, count, error);
    double *numbers = words == NULL ? NULL : rt_reckon_array(r, *count, sizeof *numbers, error);
    for (size_t i = 0; numbers != NULL && i < *count; i++)
        rt_parse_number(words[i], &numbers[i]); /* checked when the option was read */
    return numbers;
}

static enum rt_status fail_value(const struct rt_reckon_option *option, const char *text, const char *remedy,
                                 struct rt_error *error)
{
    rt_fail(error, RT_USE, "%s cannot be '%.60s'", option->name, text);
    rt_error_remedy(error, "%s", remedy);
    return RT_USE;
}

static bool is_choice(const char *choices, const char *text)
{
    size_t length = strlen(text);
    for (const char *at = choices; at != NULL; at = strchr(at, '|')) {
        at += *at == '|';
        if (length > 0 && strncmp(at, text, length) == 0 && (at[length] == '|' || at[length] == '\0'))
            return true;
    }
    return false;
}

static enum rt_status check_number_list(struct rt_reckon *r, const struct rt_reckon_option *option,
                                        const char *text, struct rt_error *error)
{
    size_t count = 0;
    double number = 0;
    const char *const *words = rt_split_words(r, text, &count, error);
    if (words == NULL)
        return RT_MEMORY;
    for (size_t i = 0; i < count; i++)
        if (!rt_parse_number(words[i], &number))
            return fail_value(option, text, "give numbers with commas between them, like 1,2.5,10", error);
    return RT_OK;
}

static enum rt_status check_value(struct rt_reckon *r, const struct rt_reckon_option *option,
                                  const char *text, struct rt_error *error)
{
    double number = NAN;
    bool is_number = rt_parse_number(text, &number);
    switch (option->kind) {
    case RT_OPTION_NUMBER:
        return is_number ? RT_OK
                         : fail_value(option, text, "give a plain number with a decimal point", error);
    case RT_OPTION_POSITIVE:
        return is_number && number > 0 ? RT_OK : fail_value(option, text, "give a number above 0", error);
    case RT_OPTION_SHARE:
        return is_number && number > 0 && number < 1
                   ? RT_OK
                   : fail_value(option, text, "give a number above 0 and below 1", error);
    case RT_OPTION_COUNT:
        return is_number && number >= 0 && number <= 1e9 && number == floor(number)
                   ? RT_OK
                   : fail_value(option, text, "give a whole number, 0 to 1000000000", error);
    case RT_OPTION_NUMBER_LIST:
        return check_number_list(r, option, text, error);
    case RT_OPTION_CHOICE:
        if (is_choice(option->choices, text))
            return RT_OK;
        rt_fail(error, RT_USE, "%s cannot be '%.60s'", option->name, text);
        rt_error_remedy(error, "choose one of %s", option->choices);
        return RT_USE;
    case RT_OPTION_END:
    case RT_OPTION_FLAG:
        return RT_OK;
    default:
        return text[0] != '\0' ? RT_OK : fail_value(option, text, "give a name", error);
    }
}

static enum rt_status add_value(struct rt_reckon *r, const struct rt_reckon_option *option, const char *text,
                                struct rt_error *error)
{
    if (rt_reckon_given(r, option->name) && option->kind != RT_OPTION_WORDS) {
        rt_fail(error, RT_USE, "%s is given twice", option->name);
        rt_error_remedy(error, "keep one of them");
        return RT_USE;
    }
    struct rt_reckon_value *values =
        rt_grow_array(r->values, &r->value_capacity, r->value_count + 1, sizeof *values);
    if (values == NULL)
        return rt_fail_memory(error);
    r->values = values;
    values[r->value_count++] = (struct rt_reckon_value){option, text};
    return check_value(r, option, text, error);
}

static enum rt_status fail_option(const struct rt_reckon *r, const char *name, struct rt_error *error)
{
    rt_fail(error, RT_USE, "reckon %s has no option '%.60s'", r->method->name, name);
    rt_error_remedy(error, "`ridgetally reckon %s --help` lists the options", r->method->name);
    return RT_USE;
}

/* Takes argv[*at] and perhaps the value after it. */
static enum rt_status take_option(struct rt_reckon *r, int argc, char **argv, int *at, struct rt_error *error)
{
    char *equals = strchr(argv[*at], '=');
    char *name = rt_reckon_array(r, strlen(argv[*at]) + 1, 1, error);
    if (name == NULL)
        return RT_MEMORY;
    memcpy(name, argv[*at], equals == NULL ? strlen(argv[*at]) : (size_t)(equals - argv[*at]));
    const struct rt_reckon_option *option = rt_find_option(r->method, name);
    if (option == NULL)
        return fail_option(r, name, error);
    if (option->kind == RT_OPTION_FLAG)
        return equals == NULL ? add_value(r, option, "", error)
                              : fail_value(option, equals + 1, "it takes no value", error);
    if (equals != NULL)
        return add_value(r, option, equals + 1, error);
    if (*at + 1 >= argc) {
        rt_fail(error, RT_USE, "%s needs a value", name);
        rt_error_remedy(error, "`ridgetally reckon %s --help` says which", r->method->name);
        return RT_USE;
    }
    return add_value(r, option, argv[++*at], error);
}

static enum rt_status check_required(const struct rt_reckon *r, struct rt_error *error)
{
    for (const struct rt_reckon_option *option = r->method->options; option->name != NULL; option++) {
        if (option->required && !rt_reckon_given(r, option->name)) {
            rt_fail(error, RT_USE, "reckon %s needs %s", r->method->name, option->name);
            rt_error_remedy(error, "%s (`ridgetally reckon %s --help`)", option->help, r->method->name);
            return RT_USE;
        }
    }
    return RT_OK;
}

/* Does this call speak of a column, so that it needs a file? */
static bool names_any_column(const struct rt_reckon *r)
{
    for (const struct rt_reckon_option *option = r->method->options; option->name != NULL; option++) {
        const char *text = rt_reckon_text(r, option->name);
        double number = 0;
        if (text != NULL && rt_option_names_columns(option->kind) &&
            !(option->kind == RT_OPTION_NUMBER_OR_COLUMN && rt_parse_number(text, &number)))
            return true;
    }
    return false;
}

enum rt_status rt_parse_reckon_options(struct rt_reckon *r, int argc, char **argv, const char **path,
                                       struct rt_error *error)
{
    *path = NULL;
    for (int at = 0; at < argc; at++) {
        enum rt_status status = RT_OK;
        if (strncmp(argv[at], "--", 2) == 0) {
            status = take_option(r, argc, argv, &at, error);
        } else if (argv[at][0] == '-' && argv[at][1] != '\0') {
            status = fail_option(r, argv[at], error);
        } else if (*path != NULL) {
            status = rt_fail(error, RT_USE, "two files given: '%.100s' and '%.100s'", *path, argv[at]);
            rt_error_remedy(error, "give one CSV file, or - for standard input");
        } else {
            *path = argv[at];
        }
        if (status != RT_OK)
            return status;
    }
    if (check_required(r, error) != RT_OK)
        return RT_USE;
    if (*path == NULL && names_any_column(r)) {
        rt_fail(error, RT_USE, "no file given");
        rt_error_remedy(error, "name a CSV file with a header row, or - for standard input");
        return RT_USE;
    }
    return RT_OK;
}
