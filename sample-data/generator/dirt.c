#include "dirt.h"

#include "random.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"

#include <stdio.h>
#include <string.h>

/* One file being dirtied: which rows already carry a mistake. */
struct target {
    struct rt_sample_table *table;
    bool *used;
    size_t used_count;
};

struct dirtying {
    struct target implants, followups, events;
    struct rt_sample_random random;
    struct rt_sample_dirt_list *list;
    struct rt_error *error;
};

static void count_dirt(struct dirtying *dirt, const struct target *target, const char *column,
                       const char *what, int count)
{
    if (dirt->list->count < RT_SAMPLE_DIRT_KINDS)
        dirt->list->kinds[dirt->list->count++] =
            (struct rt_sample_dirt){target->table->name, column, what, count};
}

static const char *cell(const struct target *target, size_t row, const char *column)
{
    return target->table->rows[row][rt_sample_column(target->table, column)];
}

/* A row without a mistake so far whose cell is filled; `value` further asks for that very text. It is marked.
 */
static size_t pick(struct dirtying *dirt, struct target *target, const char *column, const char *value)
{
    size_t start = (size_t)rt_sample_integer(&dirt->random, 0, (int)target->used_count - 1);
    for (size_t step = 0; step < target->used_count; step++) {
        size_t row = (start + step) % target->used_count;
        const char *text = cell(target, row, column);
        if (target->used[row] || text[0] == '\0' || (value != NULL && strcmp(text, value) != 0))
            continue;
        target->used[row] = true;
        return row;
    }
    return start;
}

/* Single cells overwritten with what somebody typed. */
struct typing {
    const char *file, *column, *text, *what;
    int count;
    const char *only_if; /* the cell's text before, NULL = any */
};

static const struct typing typings[] = {
    {"implants.csv", "tooth", "19", "a position that does not exist", 1, NULL},
    {"implants.csv", "placed_on", "2023-02-30", "a day that does not exist", 1, NULL},
    {"implants.csv", "final_torque_ncm", "350", "an impossible value", 2, NULL},
    {"implants.csv", "final_torque_ncm", "70+", "a limit reached in another spelling", 4, ">70"},
    {"implants.csv", "final_torque_ncm", ">=70", "a limit reached in another spelling", 3, ">70"},
    {"implants.csv", "isq", "710", "an impossible value", 1, NULL},
    {"implants.csv", "diameter_mm", "42", "a lost decimal point", 1, NULL},
    {"implants.csv", "achieved_depth_mm", "14", "a lost decimal point", 1, NULL},
    {"implants.csv", "achieved_depth_mm", "1,5", "a decimal comma", 2, NULL},
    {"implants.csv", "birth_year", "1689", "an impossible value", 1, NULL},
    {"implants.csv", "density_found", "hard", "a word instead of a code", 2, NULL},
    {"implants.csv", "bone_height_mm", "6", "bone lower than the implant is long", 2, NULL},
    {"implants.csv", "stalled", "no", "stalled no beside a stall torque", 3, "yes"},
    {"implants.csv", "loaded", "no", "loaded no beside a loading date", 2, "yes"},
    {"followups.csv", "implant", "99z", "a reading of an unknown implant", 3, NULL},
    {"followups.csv", "level_mesial_mm", "22", "a lost decimal point", 2, NULL},
    {"followups.csv", "level_distal_mm", "0,8", "a decimal comma", 2, NULL},
    {"followups.csv", "level_kind", "contact", "read as first contact among crest readings", 3, "crest"},
    {"followups.csv", "seen_on", "03/05/2024", "a date in another order", 2, NULL},
    {"followups.csv", "probing_mm", "35", "a lost decimal point", 1, NULL},
    {"followups.csv", "bleeding", "maybe", "a word instead of a code", 2, NULL},
    {"events.csv", "patient", "0999", "an event of an unknown patient", 1, NULL},
    {"events.csv", "cause", "\"came early\", says it moved", "free text with quotes and a comma", 1,
     "screw-loose"},
    {"events.csv", "event", "lost it", "a word instead of a code", 1, "removed"},
};

static struct target *target_of(struct dirtying *dirt, const char *file)
{
    return strcmp(file, "implants.csv") == 0    ? &dirt->implants
           : strcmp(file, "followups.csv") == 0 ? &dirt->followups
                                                : &dirt->events;
}

static enum rt_status type_mistakes(struct dirtying *dirt)
{
    enum rt_status status = RT_OK;
    for (size_t i = 0; i < sizeof typings / sizeof typings[0]; i++) {
        const struct typing *typing = &typings[i];
        struct target *target = target_of(dirt, typing->file);
        for (int n = 0; n < typing->count && status == RT_OK; n++) {
            size_t row = pick(dirt, target, typing->column, typing->only_if);
            status = rt_sample_set_cell(target->table, row, typing->column, typing->text, dirt->error);
        }
        count_dirt(dirt, target, typing->column, typing->what, typing->count);
    }
    return status;
}

/* Values nobody wrote down, by chance alone. */
struct gap {
    const char *file, *column;
    double share;
};

static const struct gap gaps[] = {
    {"implants.csv", "achieved_depth_mm", 0.03},
    {"implants.csv", "planned_depth_mm", 0.02},
    {"implants.csv", "depth_source", 0.02},
    {"implants.csv", "density_planned", 0.05},
    {"implants.csv", "density_found", 0.03},
    {"implants.csv", "stall_height_mm", 0.04},
    {"implants.csv", "final_torque_ncm", 0.03},
    {"implants.csv", "isq", 0.28},
    {"implants.csv", "tissue_mm", 0.05},
    {"implants.csv", "wall_buccal_mm", 0.12},
    {"implants.csv", "wall_lingual_mm", 0.14},
    {"implants.csv", "bone_height_mm", 0.10},
    {"implants.csv", "loaded", 0.05},
    {"implants.csv", "birth_year", 0.02},
    {"implants.csv", "smoking", 0.04},
    {"implants.csv", "diabetes", 0.06},
    {"implants.csv", "periodontitis", 0.06},
    {"followups.csv", "visit", 0.01},
    {"followups.csv", "probing_mm", 0.06},
    {"followups.csv", "bleeding", 0.05},
    {"followups.csv", "level_kind", 0.03},
};

static enum rt_status leave_gaps(struct dirtying *dirt)
{
    enum rt_status status = RT_OK;
    for (size_t i = 0; i < sizeof gaps / sizeof gaps[0]; i++) {
        struct target *target = target_of(dirt, gaps[i].file);
        int emptied = 0;
        for (size_t row = 0; row < target->used_count && status == RT_OK; row++) {
            bool empty = rt_sample_chance(&dirt->random, gaps[i].share);
            if (!empty || target->used[row] || cell(target, row, gaps[i].column)[0] == '\0')
                continue;
            status = rt_sample_set_cell(target->table, row, gaps[i].column, "", dirt->error);
            emptied++;
        }
        count_dirt(dirt, target, gaps[i].column, "not written down", emptied);
    }
    return status;
}

/* One operator named bone by another scale for a while: nothing may be pooled or translated. */
static enum rt_status mix_scales(struct dirtying *dirt)
{
    struct target *target = &dirt->implants;
    enum rt_status status = RT_OK;
    int changed = 0;
    for (size_t row = 0; row < target->used_count && status == RT_OK; row++) {
        const char *placed_on = cell(target, row, "placed_on");
        if (target->used[row] || strcmp(cell(target, row, "operator"), "C") != 0 ||
            strcmp(placed_on, "2021-01-01") < 0 || strcmp(placed_on, "2021-10-01") >= 0)
            continue;
        target->used[row] = true;
        const char *const columns[] = {"density_planned", "density_found"};
        for (size_t i = 0; i < 2 && status == RT_OK; i++) {
            char text[8];
            snprintf(text, sizeof text, "LZ%s", cell(target, row, columns[i]) + 1);
            status = rt_sample_set_cell(target->table, row, columns[i], text, dirt->error);
        }
        changed++;
    }
    count_dirt(dirt, target, "density_found", "density by the other scale (LZ1-LZ4)", changed);
    return status;
}

/* A date moved by some years, as a slip of the pen does. */
static enum rt_status move_date(struct dirtying *dirt, struct target *target, size_t row, const char *column,
                                int months)
{
    char text[11];
    rt_format_iso_date(rt_add_months(rt_parse_iso_date(cell(target, row, column)), months), text);
    return rt_sample_set_cell(target->table, row, column, text, dirt->error);
}

static enum rt_status slip_dates(struct dirtying *dirt)
{
    enum rt_status status = RT_OK;
    for (int n = 0; n < 2 && status == RT_OK; n++) {
        size_t row = pick(dirt, &dirt->implants, "loaded_on", NULL);
        status = move_date(dirt, &dirt->implants, row, "loaded_on", -12);
    }
    count_dirt(dirt, &dirt->implants, "loaded_on", "loaded before it was placed", 2);
    for (int n = 0; n < 2 && status == RT_OK; n++) {
        size_t row = pick(dirt, &dirt->followups, "visit", "loading");
        status = move_date(dirt, &dirt->followups, row, "seen_on", -12);
    }
    count_dirt(dirt, &dirt->followups, "seen_on", "a reading before the placement", 2);
    return status;
}

/* Copy a row to the end of its file. */
static enum rt_status append_copy(struct dirtying *dirt, struct target *target, size_t row)
{
    return rt_sample_copy_row(target->table, row, target->table->row_count, dirt->error);
}

static enum rt_status repeat_rows(struct dirtying *dirt, struct target *target, const char *column, int count)
{
    enum rt_status status = RT_OK;
    for (int n = 0; n < count && status == RT_OK; n++)
        status = append_copy(dirt, target, pick(dirt, target, column, NULL));
    count_dirt(dirt, target, "", "the same row twice", count);
    return status;
}

static enum rt_status correct_reading(struct dirtying *dirt, int count)
{
    struct target *target = &dirt->followups;
    enum rt_status status = RT_OK;
    for (int n = 0; n < count && status == RT_OK; n++) {
        size_t row = pick(dirt, target, "level_mesial_mm", NULL);
        status = append_copy(dirt, target, row);
        bool same = strcmp(cell(target, row, "level_mesial_mm"), "0.3") == 0;
        if (status == RT_OK)
            status = rt_sample_set_cell(target->table, target->table->row_count - 1, "level_mesial_mm",
                                        same ? "0.4" : "0.3", dirt->error);
    }
    count_dirt(dirt, target, "level_mesial_mm", "the same reading again with another value", count);
    return status;
}

/* The last follow-up row of this patient (and implant, unless label is empty); -1 when there is none. */
static long last_seen_row(const struct target *target, const char *patient, const char *label)
{
    for (size_t row = target->used_count; row-- > 0;)
        if (!target->used[row] && strcmp(cell(target, row, "patient"), patient) == 0 &&
            (label[0] == '\0' || strcmp(cell(target, row, "implant"), label) == 0))
            return (long)row;
    return -1;
}

/* A visit dated after the implant was removed, or after the patient died. */
static enum rt_status see_after_end(struct dirtying *dirt, const char *event, const char *what, int wanted)
{
    enum rt_status status = RT_OK;
    int made = 0;
    for (size_t row = 0; row < dirt->events.used_count && made < wanted && status == RT_OK; row++) {
        if (dirt->events.used[row] || strcmp(cell(&dirt->events, row, "event"), event) != 0)
            continue;
        long seen = last_seen_row(&dirt->followups, cell(&dirt->events, row, "patient"),
                                  cell(&dirt->events, row, "implant"));
        int day = rt_parse_iso_date(cell(&dirt->events, row, "happened_on"));
        if (seen < 0 || day + 60 > rt_parse_iso_date("2026-07-01"))
            continue;
        dirt->followups.used[seen] = dirt->events.used[row] = true;
        char text[11];
        status = append_copy(dirt, &dirt->followups, (size_t)seen);
        if (status == RT_OK)
            status = rt_sample_set_cell(dirt->followups.table, dirt->followups.table->row_count - 1,
                                        "seen_on", rt_format_iso_date(day + 45, text), dirt->error);
        made++;
    }
    count_dirt(dirt, &dirt->followups, "seen_on", what, made);
    return status;
}

/* A second implant on a site whose first one was never noted as removed. */
static enum rt_status place_twice(struct dirtying *dirt)
{
    struct target *target = &dirt->implants;
    size_t row = pick(dirt, target, "loaded_on", NULL);
    enum rt_status status = append_copy(dirt, target, row);
    size_t copy = target->table->row_count - 1;
    char label[16];
    snprintf(label, sizeof label, "%sb", cell(target, row, "tooth"));
    if (status == RT_OK)
        status = rt_sample_set_cell(target->table, copy, "implant", label, dirt->error);
    const char *const dates[] = {"placed_on", "loaded_on"};
    for (size_t i = 0; i < 2 && status == RT_OK; i++)
        status = move_date(dirt, target, copy, dates[i], 4);
    if (status == RT_OK)
        status = rt_sample_set_cell(target->table, copy, "uncovered_on", "", dirt->error);
    count_dirt(dirt, target, "placed_on", "a second implant on a site without a removal", 1);
    return status;
}

/* The same patient written otherwise: 0107 as 107, 0042 as 42.0. */
static enum rt_status rewrite_patients(struct dirtying *dirt)
{
    static const char *const endings[] = {"", ".0", " "};
    enum rt_status status = RT_OK;
    for (size_t n = 0; n < 3 && status == RT_OK; n++) {
        size_t row = pick(dirt, &dirt->followups, "visit", "review");
        char text[16];
        const char *id = cell(&dirt->followups, row, "patient");
        snprintf(text, sizeof text, "%s%s", id + strspn(id, "0"), endings[n]);
        status = rt_sample_set_cell(dirt->followups.table, row, "patient", text, dirt->error);
    }
    count_dirt(dirt, &dirt->followups, "patient", "an id without its leading zeros, with .0, or with a space",
               3);
    return status;
}

static enum rt_status dirty_everything(struct dirtying *dirt)
{
    enum rt_status status = mix_scales(dirt);
    if (status == RT_OK)
        status = type_mistakes(dirt);
    if (status == RT_OK)
        status = slip_dates(dirt);
    if (status == RT_OK)
        status = see_after_end(dirt, "removed", "seen after the implant was removed", 2);
    if (status == RT_OK)
        status = see_after_end(dirt, "died", "seen after the patient died", 1);
    if (status == RT_OK)
        status = repeat_rows(dirt, &dirt->implants, "patient", 2);
    if (status == RT_OK)
        status = repeat_rows(dirt, &dirt->followups, "level_mesial_mm", 5);
    if (status == RT_OK)
        status = repeat_rows(dirt, &dirt->events, "implant", 1);
    if (status == RT_OK)
        status = correct_reading(dirt, 2);
    if (status == RT_OK)
        status = place_twice(dirt);
    if (status == RT_OK)
        status = rewrite_patients(dirt);
    return status == RT_OK ? leave_gaps(dirt) : status;
}

static enum rt_status start_target(struct target *target, struct rt_sample_table *table,
                                   struct rt_error *error)
{
    target->table = table;
    target->used_count = table->row_count; /* rows appended later are left alone */
    target->used = rt_new_array(table->row_count, sizeof *target->used);
    return target->used == NULL ? rt_fail_memory(error) : RT_OK;
}

enum rt_status rt_sample_add_dirt(struct rt_sample_tables *tables, uint64_t seed,
                                  struct rt_sample_dirt_list *list, struct rt_error *error)
{
    struct dirtying dirt = {.list = list, .error = error};
    list->count = 0;
    rt_sample_random_start(&dirt.random, seed, 0); /* patients use streams from 1 on */
    enum rt_status status = start_target(&dirt.implants, &tables->implants, error);
    if (status == RT_OK)
        status = start_target(&dirt.followups, &tables->followups, error);
    if (status == RT_OK)
        status = start_target(&dirt.events, &tables->events, error);
    if (status == RT_OK)
        status = dirty_everything(&dirt);
    free(dirt.implants.used);
    free(dirt.followups.used);
    free(dirt.events.used);
    return status;
}
