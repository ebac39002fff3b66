#include "handle.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/base/resource.h"

#include <string.h>

enum { DIGITS = 3 };

/* The number of a schema step's file, sql/NNN-name.sql; 0 for any other resource. */
static int step_number(const char *name)
{
    if (strncmp(name, "sql/", 4) != 0 || strchr(name + 4, '/') != NULL || strlen(name) < 4 + DIGITS + 1 ||
        name[4 + DIGITS] != '-')
        return 0;
    int number = 0;
    for (int i = 0; i < DIGITS; i++) {
        if (name[4 + i] < '0' || name[4 + i] > '9')
            return 0;
        number = number * 10 + (name[4 + i] - '0');
    }
    return number;
}

int rt_schema_number(void)
{
    size_t count = 0;
    int latest = 0;
    const struct rt_resource *all = rt_resources(&count);
    for (size_t i = 0; i < count; i++)
        if (step_number(all[i].name) > latest)
            latest = step_number(all[i].name);
    return latest;
}

enum rt_status rt_embedded_steps(struct rt_migration **steps, size_t *count, struct rt_error *error)
{
    size_t files = 0;
    const struct rt_resource *all = rt_resources(&files);
    *count = 0;
    *steps = rt_new_array(files, sizeof **steps);
    if (*steps == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < files; i++) /* resources come in name order */
        if (step_number(all[i].name) > 0)
            (*steps)[(*count)++] = (struct rt_migration){step_number(all[i].name), all[i].bytes};
    return RT_OK;
}

static enum rt_status apply_missing(sqlite3 *db, const char *path, const struct rt_migration *steps,
                                    size_t count, struct rt_error *error)
{
    long present = 0;
    enum rt_status status = rt_read_integer(db, path, "PRAGMA user_version", &present, error);
    for (size_t i = 0; status == RT_OK && i < count; i++) {
        if (steps[i].number <= present)
            continue;
        char pragma[64]; /* a number of our own; pragmas take no parameters */
        snprintf(pragma, sizeof pragma, "PRAGMA user_version = %d", steps[i].number);
        status = rt_run_sql(db, path, steps[i].sql, "bring the store up to date", error);
        if (status == RT_OK)
            status = rt_run_sql(db, path, pragma, "bring the store up to date", error);
    }
    return status;
}

enum rt_status rt_apply_steps(sqlite3 *db, const char *path, const struct rt_migration *steps, size_t count,
                              struct rt_error *error)
{
    enum rt_status status = rt_run_sql(db, path, "BEGIN EXCLUSIVE", "bring the store up to date", error);
    if (status != RT_OK)
        return status;
    status = apply_missing(db, path, steps, count, error);
    if (status == RT_OK)
        status = rt_run_sql(db, path, "COMMIT", "bring the store up to date", error);
    if (status != RT_OK && sqlite3_get_autocommit(db) == 0)
        sqlite3_exec(db, "ROLLBACK", NULL, NULL, NULL);
    return status;
}
