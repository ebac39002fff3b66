#include "loader.h"

#include "ridgetally/base/file.h"
#include "ridgetally/base/memory.h"

#include <string.h>
#include <sys/stat.h>

enum { LONGEST_MAP = 1024 * 1024 };

/* What the options state wins over what the map states. */
static struct rt_dialect merge(const struct rt_dialect *options, const struct rt_dialect *map)
{
    struct rt_dialect merged = *options;
    merged.encoding = merged.encoding == RT_ENCODING_DETECT ? map->encoding : merged.encoding;
    if (merged.separator == '\0')
        merged.separator = map->separator;
    if (merged.decimal == '\0')
        merged.decimal = map->decimal;
    merged.header_line = merged.header_line == 0 ? map->header_line : merged.header_line;
    merged.sheet = merged.sheet == NULL ? map->sheet : merged.sheet;
    return merged;
}

static enum rt_status detect(const char *path, const struct rt_map *map,
                             const struct rt_load_options *options, struct rt_dialect *dialect,
                             struct rt_error *error)
{
    struct rt_dialect given = merge(&options->dialect, &map->dialect);
    struct rt_header_judge judge = rt_map_judge(map);
    return rt_detect_dialect(path, &given, &judge, dialect, error);
}

static enum rt_status choose_kinds(const struct rt_map *map, const struct rt_load_options *options,
                                   struct file_plan *plan, const char *path, struct rt_error *error)
{
    bool any = false;
    for (size_t k = 0; k < RT_RECORD_KINDS; k++) {
        plan->kinds[k] =
            rt_map_feeds(map, (enum rt_record_kind)k) && (!options->kind_given || options->kind == k);
        any = any || plan->kinds[k];
    }
    if (any)
        return RT_OK;
    rt_fail(error, RT_INPUT, "the map gives no %s", rt_form(options->kind)->name);
    rt_error_locate(error, path, 0, NULL);
    rt_error_remedy(error, "leave --kind out, or add their columns to the map");
    return RT_INPUT;
}

/* The map is kept in the store: with a key no label may stand in it. */
static enum rt_status check_labels(const struct rt_map *map, const struct rt_load_options *options,
                                   const char *path, struct rt_error *error)
{
    for (size_t j = 0; options->key != NULL && j < map->count; j++) {
        const struct rt_map_line *line = &map->lines[j];
        if (line->field == NULL || strcmp(line->field->name, "patient") != 0 ||
            (line->constant == NULL && line->codes == 0))
            continue;
        rt_fail(error, RT_USE, "the map names patients, and it would be kept in the store");
        rt_error_locate(error, path, 0, NULL);
        rt_error_remedy(error, "put the labels into a column of the sheet, without codes");
        return RT_USE;
    }
    return RT_OK;
}

/* --- a map file ----------------------------------------------------------------------------------------- */

static enum rt_status use_map_file(const char *path, const struct rt_load_options *options,
                                   struct file_plan *plan, struct rt_error *error)
{
    struct rt_map map = {.count = 0};
    struct rt_text stripped = {0};
    char *text = NULL;
    size_t length = 0;
    enum rt_status status = rt_read_file(options->map_path, LONGEST_MAP, &text, &length, error);
    if (status == RT_OK)
        status = rt_parse_map(options->map_path, text, length, &map, error);
    if (status == RT_OK)
        status = check_labels(&map, options, options->map_path, error);
    if (status == RT_OK)
        status = choose_kinds(&map, options, plan, options->map_path, error);
    if (status == RT_OK)
        status = detect(path, &map, options, &plan->dialect, error);
    if (status == RT_OK) {
        rt_strip_map(text, &stripped);
        status = rt_text_status(&stripped, error);
        plan->map_text = rt_text_detach(&stripped);
    }
    rt_text_release(&stripped);
    rt_release_map(&map);
    free(text);
    return status;
}

/* --- a map kept in the store ---------------------------------------------------------------------------- */

struct fit {
    const struct rt_map *map;
    bool fits;
};

/* The header must have every column of the map. */
static enum rt_status look_at_header(void *context, const struct rt_row *row, struct rt_error *error)
{
    (void)error;
    struct fit *fit = context;
    fit->fits = true;
    for (size_t j = 0; fit->fits && j < fit->map->count; j++) {
        bool found = fit->map->lines[j].header == NULL;
        for (size_t i = 0; !found && i < row->count; i++)
            found = strcmp(row->cells[i], fit->map->lines[j].header) == 0;
        fit->fits = found;
    }
    return RT_PARTIAL;
}

/* What is wrong with the file is found again, and told, when no map fits. */
static enum rt_status try_map(const char *path, const char *text, const struct rt_load_options *options,
                              struct file_plan *plan, bool *fits, struct rt_error *error)
{
    struct rt_map map = {.count = 0};
    struct rt_error unused = {0};
    struct fit fit = {.map = &map};
    struct rt_dialect dialect = {.header_line = 0};
    struct rt_load_options loose = *options;
    loose.dialect.decimal = '.'; /* faults of decimals are told once the map is chosen */
    enum rt_status status = rt_parse_map("", text, strlen(text), &map, &unused);
    if (status == RT_OK)
        status = detect(path, &map, &loose, &dialect, &unused);
    if (status == RT_OK)
        status = rt_read_dialect_rows(path, &dialect, look_at_header, &fit, NULL, &unused);
    *fits = fit.fits && !(options->kind_given && !rt_map_feeds(&map, options->kind));
    status = status == RT_MEMORY ? rt_fail_memory(error) : RT_OK;
    if (*fits && status == RT_OK)
        status = choose_kinds(&map, options, plan, path, error);
    if (*fits && status == RT_OK)
        status = detect(path, &map, options, &plan->dialect, error);
    rt_release_map(&map);
    return status;
}

static enum rt_status find_kept_map(struct rt_store *store, const char *path,
                                    const struct rt_load_options *options, struct file_plan *plan,
                                    struct rt_error *error)
{
    struct rt_query *query = NULL;
    struct stat information;
    bool row = true;
    bool fits = false;
    if (stat(path, &information) != 0 || !S_ISREG(information.st_mode))
        return RT_OK;
    enum rt_status status =
        rt_query_open_text(store,
                           "SELECT map_text, max(id) FROM batch WHERE map_text IS NOT NULL AND "
                           "undone_at IS NULL GROUP BY map_text ORDER BY 2 DESC",
                           &query, error);
    while (status == RT_OK && !fits) {
        status = rt_query_next(query, &row, error);
        if (status != RT_OK || !row)
            break;
        status = try_map(path, rt_column_text(query, 0), options, plan, &fits, error);
        if (status == RT_OK && fits) {
            plan->map_batch = rt_column_integer(query, 1, 0);
            plan->map_text = rt_copy_text(rt_column_text(query, 0));
            if (plan->map_text == NULL)
                status = rt_fail_memory(error);
        }
    }
    rt_query_close(query);
    return status;
}

/* --- together ------------------------------------------------------------------------------------------- */

enum rt_status plan_file(struct rt_store *store, const char *path, const struct rt_load_options *options,
                         struct file_plan *plan, struct rt_error *error)
{
    enum rt_record_kind kind = options->kind;
    enum rt_status status = options->map_path != NULL ? use_map_file(path, options, plan, error)
                                                      : find_kept_map(store, path, options, plan, error);
    plan->dialect.sheet = options->dialect.sheet; /* the map read here is gone */
    if (status != RT_OK || plan->map_text != NULL)
        return status;
    status = rt_look_at_file(path, options, &plan->dialect, &kind, error);
    if (status == RT_OK)
        plan->kinds[kind] = true;
    return status;
}

enum rt_status take_plan(struct rt_load_report *report, const struct file_plan *plan, struct rt_error *error)
{
    report->dialect = plan->dialect;
    report->map_batch = plan->map_batch;
    if (plan->map_text == NULL)
        return RT_OK;
    report->map_text = rt_copy_text(plan->map_text);
    report->map = rt_new_array(1, sizeof *report->map);
    if (report->map_text == NULL || report->map == NULL)
        return rt_fail_memory(error);
    enum rt_status status = rt_parse_map("", report->map_text, strlen(report->map_text), report->map, error);
    if (report->dialect.sheet == NULL)
        report->dialect.sheet = report->map->dialect.sheet; /* which lives as long as the report */
    return status;
}
