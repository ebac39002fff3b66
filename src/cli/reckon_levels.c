#include "reckon_private.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/base/number.h"

#include <stdlib.h>
#include <string.h>

/* --- texts to codes ------------------------------------------------------------------------------------ */

/* 64-bit FNV-1a (Fowler, Noll, Vo). */
static uint64_t hash_of(const char *text)
{
    uint64_t hash = 14695981039346656037u;
    for (const unsigned char *at = (const unsigned char *)text; *at != '\0'; at++)
        hash = (hash ^ *at) * 1099511628211u;
    return hash ^ (hash >> 32);
}

struct coder {
    size_t *slots;     /* code + 1, or 0 */
    size_t slot_count; /* a power of 2 */
    const char **distinct;
    size_t count, capacity;
};

static size_t *find_slot(const struct coder *coder, const char *text)
{
    size_t at = (size_t)hash_of(text) & (coder->slot_count - 1);
    while (coder->slots[at] != 0 && strcmp(coder->distinct[coder->slots[at] - 1], text) != 0)
        at = (at + 1) & (coder->slot_count - 1);
    return &coder->slots[at];
}

/* Keep the table at most half full. False when memory ran out. */
static bool widen(struct coder *coder)
{
    if (coder->slots != NULL && 2 * (coder->count + 1) <= coder->slot_count)
        return true;
    free(coder->slots);
    coder->slot_count = coder->slot_count == 0 ? 64 : 4 * coder->slot_count;
    coder->slots = rt_new_array(coder->slot_count, sizeof *coder->slots);
    for (size_t code = 0; coder->slots != NULL && code < coder->count; code++)
        *find_slot(coder, coder->distinct[code]) = code + 1;
    return coder->slots != NULL;
}

static bool code_one(struct coder *coder, const char *text, size_t *code)
{
    if (!widen(coder))
        return false;
    size_t *slot = find_slot(coder, text);
    if (*slot == 0) {
        const char **distinct =
            rt_grow_array(coder->distinct, &coder->capacity, coder->count + 1, sizeof *distinct);
        if (distinct == NULL)
            return false;
        coder->distinct = distinct;
        distinct[coder->count++] = text;
        *slot = coder->count;
    }
    *code = *slot - 1;
    return true;
}

enum rt_status rt_code_texts(struct rt_reckon *r, const char *const *texts, size_t n, size_t *codes,
                             const char ***distinct, size_t *level_count, struct rt_error *error)
{
    struct coder coder = {0};
    bool fine = true;
    for (size_t i = 0; fine && i < n; i++)
        fine = code_one(&coder, texts[i], &codes[i]);
    const char **kept = fine ? rt_reckon_array(r, coder.count, sizeof *kept, error) : NULL;
    if (kept != NULL && coder.count > 0)
        memcpy(kept, coder.distinct, coder.count * sizeof *kept);
    *distinct = kept;
    *level_count = coder.count;
    free(coder.slots);
    free(coder.distinct);
    return kept == NULL ? rt_fail_memory(error) : RT_OK;
}

/* --- the order of levels ------------------------------------------------------------------------------- */

struct level {
    const char *text;
    double number;
    size_t code; /* in order of first appearance */
};

static int by_text(const void *a, const void *b)
{
    return strcmp(((const struct level *)a)->text, ((const struct level *)b)->text);
}

static int by_number(const void *a, const void *b)
{
    double x = ((const struct level *)a)->number;
    double y = ((const struct level *)b)->number;
    return x < y ? -1 : x > y ? 1 : by_text(a, b);
}

/* Names as in --levels for this column, or NULL. Sets *count. */
struct wanted {
    const char *const *levels;
    size_t count;
};

static size_t count_options(const struct rt_reckon *r, enum rt_option_kind kind)
{
    size_t count = 0;
    for (const struct rt_reckon_option *option = r->method->options; option->name != NULL; option++)
        count += option->kind == kind && rt_reckon_text(r, option->name) != NULL;
    return count;
}

/* Does `--levels a,b` without a column name speak of this column? Of every one-column category option; if
 * there is none, of the only column of a list. */
static bool plain_levels_apply(struct rt_reckon *r, const char *column)
{
    size_t single = count_options(r, RT_OPTION_CATEGORY_COLUMN);
    for (const struct rt_reckon_option *option = r->method->options; option->name != NULL; option++) {
        const char *text = rt_reckon_text(r, option->name);
        bool right_kind =
            option->kind == (single > 0 ? RT_OPTION_CATEGORY_COLUMN : RT_OPTION_CATEGORIES_COLUMNS);
        if (text != NULL && right_kind && strcmp(text, column) == 0)
            return true;
    }
    return false;
}

static enum rt_status find_wanted(struct rt_reckon *r, const char *column, struct wanted *wanted,
                                  struct rt_error *error)
{
    size_t length = strlen(column);
    *wanted = (struct wanted){0};
    for (size_t i = 0; i < r->value_count; i++) {
        if (strcmp(r->values[i].option->name, "--levels") != 0)
            continue;
        const char *text = r->values[i].text;
        bool named = strncmp(text, column, length) == 0 && text[length] == '=';
        if (!named && !plain_levels_apply(r, column))
            continue;
        if (!named && wanted->levels != NULL)
            continue; /* the named list wins over the plain one */
        wanted->levels = rt_split_words(r, named ? text + length + 1 : text, &wanted->count, error);
        if (wanted->levels == NULL)
            return RT_MEMORY;
        if (named)
            break;
    }
    for (size_t i = 0; i < wanted->count; i++) {
        for (size_t j = 0; j < i; j++) {
            if (strcmp(wanted->levels[i], wanted->levels[j]) == 0) {
                rt_fail(error, RT_USE, "--levels names '%.60s' twice", wanted->levels[i]);
                rt_error_remedy(error, "name each level once");
                return RT_USE;
            }
        }
    }
    return RT_OK;
}

/* Sort distinct levels: by number when all are numbers, else by bytes. */
static enum rt_status sort_levels(struct rt_reckon *r, const char **distinct, size_t count,
                                  struct level **levels, struct rt_error *error)
{
    bool numeric = true;
    *levels = rt_reckon_array(r, count, sizeof **levels, error);
    if (*levels == NULL)
        return RT_MEMORY;
    for (size_t i = 0; i < count; i++) {
        (*levels)[i] = (struct level){distinct[i], NAN, i};
        numeric = rt_parse_number(distinct[i], &(*levels)[i].number) && numeric;
    }
    if (count > 0)
        qsort(*levels, count, sizeof **levels, numeric ? by_number : by_text);
    return RT_OK;
}

static enum rt_status name_levels(struct rt_reckon *r, struct rt_reckon_category *category,
                                  struct rt_error *error)
{
    size_t count = category->level_count;
    category->names = rt_reckon_array(r, count, sizeof *category->names, error);
    category->counts = rt_reckon_array(r, count, sizeof *category->counts, error);
    double *scores = rt_reckon_array(r, count, sizeof *scores, error);
    if (category->names == NULL || category->counts == NULL || scores == NULL)
        return RT_MEMORY;
    bool numeric = true;
    for (size_t i = 0; i < count; i++) {
        category->names[i] = rt_reckon_escape(r, category->levels[i]);
        numeric = rt_parse_number(category->levels[i], &scores[i]) && numeric;
    }
    category->scores = numeric ? scores : NULL;
    return RT_OK;
}

static const char *const bad_level = "is not among the levels given";

/* Give category the levels `order`, in that order, and code its cells by them. */
static enum rt_status apply_order(struct rt_reckon *r, struct rt_reckon_category *category,
                                  const char *const *cells, const char *const *order, size_t count,
                                  struct rt_error *error)
{
    category->level_count = count;
    category->levels = rt_reckon_array(r, count, sizeof *category->levels, error);
    category->codes = rt_reckon_array(r, r->n, sizeof *category->codes, error);
    const char **both = rt_reckon_array(r, count + r->n, sizeof *both, error);
    size_t *codes = rt_reckon_array(r, count + r->n, sizeof *codes, error);
    if (category->levels == NULL || category->codes == NULL || both == NULL || codes == NULL)
        return RT_MEMORY;
    for (size_t i = 0; i < count; i++)
        both[i] = category->levels[i] = order[i];
    for (size_t i = 0; i < r->n; i++)
        both[count + i] = cells[i];
    const char **distinct = NULL;
    size_t distinct_count = 0;
    enum rt_status status = rt_code_texts(r, both, count + r->n, codes, &distinct, &distinct_count, error);
    if (status == RT_OK)
        status = name_levels(r, category, error);
    for (size_t i = 0; status == RT_OK && i < r->n; i++) {
        if (codes[count + i] >= count)
            return rt_reckon_fail_cell(r, i, category->column, bad_level,
                                       "name every level of the column in --levels", error);
        category->codes[i] = codes[count + i];
        category->counts[category->codes[i]]++;
    }
    return status;
}

static enum rt_status cells_of(struct rt_reckon *r, const char *column, const char **cells,
                               struct rt_error *error)
{
    size_t at = 0;
    enum rt_status status = rt_find_column(&r->table, column, &at, error);
    for (size_t i = 0; status == RT_OK && i < r->n; i++)
        cells[i] = rt_table_cell(&r->table, r->rows[i], at);
    return status;
}

/* The levels of `n` cells in order, or those --levels names for the column. */
static enum rt_status order_of(struct rt_reckon *r, const char *column, const char *const *cells, size_t n,
                               const char *const **order, size_t *count, struct rt_error *error)
{
    struct wanted wanted;
    enum rt_status status = find_wanted(r, column, &wanted, error);
    if (status != RT_OK || wanted.levels != NULL) {
        *order = wanted.levels;
        *count = wanted.count;
        return status;
    }
    size_t *codes = rt_reckon_array(r, n, sizeof *codes, error);
    const char **distinct = NULL;
    struct level *levels = NULL;
    if (codes == NULL || rt_code_texts(r, cells, n, codes, &distinct, count, error) != RT_OK ||
        sort_levels(r, distinct, *count, &levels, error) != RT_OK)
        return RT_MEMORY;
    for (size_t i = 0; i < *count; i++)
        distinct[i] = levels[i].text;
    *order = distinct;
    return RT_OK;
}

enum rt_status rt_reckon_category_column(struct rt_reckon *r, const char *column,
                                         struct rt_reckon_category *category, struct rt_error *error)
{
    *category = (struct rt_reckon_category){.column = column};
    const char **cells = rt_reckon_array(r, r->n, sizeof *cells, error);
    if (cells == NULL)
        return RT_MEMORY;
    const char *const *order = NULL;
    size_t count = 0;
    enum rt_status status = cells_of(r, column, cells, error);
    if (status == RT_OK)
        status = order_of(r, column, cells, r->n, &order, &count, error);
    return status == RT_OK ? apply_order(r, category, cells, order, count, error) : status;
}

enum rt_status rt_reckon_category(struct rt_reckon *r, const char *option,
                                  struct rt_reckon_category *category, struct rt_error *error)
{
    const char *column = rt_reckon_text(r, option);
    *category = (struct rt_reckon_category){0};
    return column == NULL ? RT_OK : rt_reckon_category_column(r, column, category, error);
}

enum rt_status rt_reckon_category_pair(struct rt_reckon *r, const char *option_a, const char *option_b,
                                       struct rt_reckon_category *a, struct rt_reckon_category *b,
                                       struct rt_error *error)
{
    *a = (struct rt_reckon_category){.column = rt_reckon_text(r, option_a)};
    *b = (struct rt_reckon_category){.column = rt_reckon_text(r, option_b)};
    const char **cells = rt_reckon_array(r, 2 * r->n, sizeof *cells, error);
    if (cells == NULL)
        return RT_MEMORY;
    const char *const *order = NULL;
    size_t count = 0;
    enum rt_status status = cells_of(r, a->column, cells, error);
    if (status == RT_OK)
        status = cells_of(r, b->column, cells + r->n, error);
    if (status == RT_OK)
        status = order_of(r, a->column, cells, 2 * r->n, &order, &count, error);
    if (status == RT_OK)
        status = apply_order(r, a, cells, order, count, error);
    return status == RT_OK ? apply_order(r, b, cells + r->n, order, count, error) : status;
}

/* Sets *applies when --levels text speaks of a category column of this call. False when memory ran out. */
static bool names_category(struct rt_reckon *r, const char *text, bool plain, bool *applies,
                           struct rt_error *error)
{
    for (const struct rt_reckon_option *option = r->method->options; option->name != NULL; option++) {
        bool list = option->kind == RT_OPTION_CATEGORIES_COLUMNS;
        size_t count = 0;
        if (!list && option->kind != RT_OPTION_CATEGORY_COLUMN)
            continue;
        const char *const *names = rt_reckon_words(r, option->name, &count, error);
        if (names == NULL)
            return false;
        for (size_t i = 0; i < count; i++) {
            const char *name = list ? names[i] : rt_reckon_text(r, option->name);
            size_t length = strlen(name);
            *applies |=
                plain ? plain_levels_apply(r, name) : strncmp(text, name, length) == 0 && text[length] == '=';
        }
    }
    return true;
}

enum rt_status rt_check_levels(struct rt_reckon *r, struct rt_error *error)
{
    for (size_t i = 0; i < r->value_count; i++) {
        bool applies = false;
        if (strcmp(r->values[i].option->name, "--levels") != 0)
            continue;
        if (!names_category(r, r->values[i].text, false, &applies, error) ||
            !names_category(r, r->values[i].text, true, &applies, error))
            return RT_MEMORY;
        if (!applies) {
            rt_fail(error, RT_USE, "--levels '%.60s' belongs to no column of this call", r->values[i].text);
            rt_error_remedy(error,
                            "with several category columns write --levels COLUMN=A,B,C, once for each");
            return RT_USE;
        }
    }
    return RT_OK;
}
