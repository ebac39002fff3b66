/* The shown rows without anything that names a person or a product: operators and implant lines become letters. */
#include "deck_rows.h"

#include "ridgetally/base/sha256.h"

#include <math.h>
#include <string.h>

/* Letters begin at K, so that nobody takes them for the practice's own A, B, C. */
enum { FIRST_LETTER = 'K', LETTERS = 'Z' - 'K' + 1 };

static const char *last_part(const char *level)
{
    const char *bar = strrchr(level, '|');
    return bar == NULL ? level : bar + 1;
}

static bool ends_with(const char *text, const char *ending)
{
    size_t length = strlen(text), tail = strlen(ending);
    return length >= tail && strcmp(text + length - tail, ending) == 0;
}

static bool is_secret(const struct rt_deck_rows *deck, const char *grouping)
{
    return (!deck->show_operators && ends_with(grouping, "operator")) ||
           (!deck->show_lines && ends_with(grouping, "implant_line"));
}

static void hash_label(const struct rt_deck_rows *deck, const char *grouping, const char *label,
                       char hex[RT_SHA256_HEX])
{
    struct rt_sha256 hash;
    const char *kind = ends_with(grouping, "operator") ? "operator" : "line";
    rt_sha256_start(&hash);
    rt_sha256_add(&hash, deck->salt, strlen(deck->salt));
    rt_sha256_add(&hash, kind, strlen(kind) + 1);
    rt_sha256_add(&hash, label, strlen(label));
    rt_sha256_finish_hex(&hash, hex);
}

/* The first row of the figures with that label. */
static bool is_first(const struct rt_deck_rows *deck, size_t row, const char *kind)
{
    const char *label = last_part(deck->figures->rows[row].level);
    for (size_t i = 0; i < row; i++)
        if (ends_with(deck->figures->rows[i].grouping, kind) &&
            strcmp(last_part(deck->figures->rows[i].level), label) == 0)
            return false;
    return true;
}

/* The place of the label among all of its kind in the figures, in order of their hashes. */
static size_t place_of(const struct rt_deck_rows *deck, const struct rt_figure *row)
{
    const char *kind = ends_with(row->grouping, "operator") ? "operator" : "implant_line";
    char own[RT_SHA256_HEX], other[RT_SHA256_HEX];
    size_t place = 0;
    hash_label(deck, row->grouping, last_part(row->level), own);
    for (size_t i = 0; i < deck->figures->count; i++) {
        const struct rt_figure *one = &deck->figures->rows[i];
        if (!ends_with(one->grouping, kind) || !is_first(deck, i, kind))
            continue;
        hash_label(deck, one->grouping, last_part(one->level), other);
        place += strcmp(other, own) < 0;
    }
    return place;
}

static void write_level(const struct rt_deck_rows *deck, const struct rt_figure *row, struct rt_text *level)
{
    if (!is_secret(deck, row->grouping)) {
        rt_text_add(level, row->level);
        return;
    }
    size_t place = place_of(deck, row);
    rt_text_add_bytes(level, row->level, (size_t)(last_part(row->level) - row->level));
    rt_text_format(level, "%s ", ends_with(row->grouping, "operator") ? "operator" : "line");
    rt_text_add_character(level, (char)(FIRST_LETTER + (int)(place % LETTERS)));
    if (place >= LETTERS)
        rt_text_format(level, "%zu", place / LETTERS + 1);
}

enum rt_status copy_shown(struct rt_deck_rows *deck, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < deck->row_count; i++) {
        bool twice = false;
        for (size_t k = 0; k < i; k++)
            twice = twice || (deck->rows[k].figure == deck->rows[i].figure && deck->rows[k].shown);
        if (!deck->rows[i].shown || twice)
            continue;
        struct rt_text level = {0};
        struct rt_figure row = *deck->rows[i].figure;
        write_level(deck, &row, &level);
        status = rt_text_status(&level, error);
        row.level = level.bytes == NULL ? "" : level.bytes;
        row.n_due = RT_NO_COUNT; /* another group: not checked, so not shown */
        row.p = row.p_adjusted = (double)NAN;
        row.remark = row.state == RT_FIGURE_OK ? "" : "too few cases";
        if (status == RT_OK)
            status = rt_add_figure(&deck->shown, &row, error);
        rt_text_release(&level);
    }
    return status;
}
