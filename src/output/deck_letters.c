/* The shown rows without anything that names a person or a product: operators and implant lines become letters. */
#include "deck_rows.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/base/sha256.h"

#include <math.h>
#include <stdio.h>
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

static struct rt_deck_letter *find_letter(const struct rt_deck_rows *deck, bool line, const char *hash)
{
    for (size_t i = 0; i < deck->letter_count; i++)
        if (deck->letters[i].line == line && strcmp(deck->letters[i].label_hash, hash) == 0)
            return &deck->letters[i];
    return NULL;
}

static enum rt_status add_letter(struct rt_deck_rows *deck, bool line, const char *hash, size_t place,
                                 bool earlier, struct rt_error *error)
{
    struct rt_deck_letter *grown =
        rt_grow_array(deck->letters, &deck->letter_capacity, deck->letter_count + 1, sizeof *grown);
    if (grown == NULL)
        return rt_fail_memory(error);
    deck->letters = grown;
    struct rt_deck_letter *letter = &grown[deck->letter_count++];
    *letter = (struct rt_deck_letter){.line = line, .place = place, .earlier = earlier};
    snprintf(letter->label_hash, sizeof letter->label_hash, "%s", hash);
    return RT_OK;
}

enum rt_status rt_add_deck_letter(struct rt_deck_rows *deck, const char *kind, const char *label_hash,
                                  size_t place, struct rt_error *error)
{
    return add_letter(deck, strcmp(kind, "line") == 0, label_hash, place, true, error);
}

enum rt_status rt_write_deck_letters(const struct rt_deck_rows *deck,
                                     enum rt_status (*take)(void *context, const char *kind,
                                                            const char *label_hash, size_t place,
                                                            struct rt_error *error),
                                     void *context, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < deck->letter_count; i++) {
        const struct rt_deck_letter *letter = &deck->letters[i];
        if (!letter->earlier)
            status =
                take(context, letter->line ? "line" : "operator", letter->label_hash, letter->place, error);
    }
    return status;
}

static size_t next_place(const struct rt_deck_rows *deck, bool line)
{
    size_t next = 0;
    for (size_t i = 0; i < deck->letter_count; i++)
        if (deck->letters[i].line == line && deck->letters[i].place >= next)
            next = deck->letters[i].place + 1;
    return next;
}

/* The least hash among the labels of the figures that have no letter yet; "" when all have one. */
static void find_next_label(const struct rt_deck_rows *deck, bool line, char least[RT_SHA256_HEX])
{
    char hash[RT_SHA256_HEX];
    least[0] = '\0';
    for (size_t i = 0; i < deck->figures->count; i++) {
        const struct rt_figure *row = &deck->figures->rows[i];
        if (!ends_with(row->grouping, line ? "implant_line" : "operator"))
            continue;
        hash_label(deck, row->grouping, last_part(row->level), hash);
        if ((least[0] == '\0' || strcmp(hash, least) < 0) && find_letter(deck, line, hash) == NULL)
            memcpy(least, hash, sizeof hash);
    }
}

/* Labels that no deck had before get the next letters, in an order that says nothing; the others keep theirs. */
static enum rt_status give_letters(struct rt_deck_rows *deck, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    char hash[RT_SHA256_HEX];
    for (int line = 0; status == RT_OK && line < 2; line++) {
        find_next_label(deck, line == 1, hash);
        while (status == RT_OK && hash[0] != '\0') {
            status = add_letter(deck, line == 1, hash, next_place(deck, line == 1), false, error);
            if (status == RT_OK)
                find_next_label(deck, line == 1, hash);
        }
    }
    return status;
}

static size_t place_of(const struct rt_deck_rows *deck, const struct rt_figure *row)
{
    char hash[RT_SHA256_HEX];
    hash_label(deck, row->grouping, last_part(row->level), hash);
    return find_letter(deck, !ends_with(row->grouping, "operator"), hash)->place;
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

static bool same_rows(const struct rt_figure *a, const struct rt_figure *b)
{
    return strcmp(a->section, b->section) == 0 && strcmp(a->measure, b->measure) == 0 &&
           strcmp(a->grouping, b->grouping) == 0;
}

/* In the order of their letters: in that of their labels, the first would be told by its place. */
static void sort_letters(struct rt_deck_rows *deck)
{
    struct rt_figure *rows = deck->shown.rows;
    for (size_t i = 1; i < deck->shown.count; i++)
        for (size_t k = i; k > 0 && is_secret(deck, rows[k].grouping) && same_rows(&rows[k - 1], &rows[k]) &&
                           strcmp(rows[k - 1].level, rows[k].level) > 0;
             k--) {
            const struct rt_figure row = rows[k];
            rows[k] = rows[k - 1];
            rows[k - 1] = row;
        }
}

enum rt_status copy_shown(struct rt_deck_rows *deck, struct rt_error *error)
{
    enum rt_status status = give_letters(deck, error);
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
    if (status == RT_OK)
        sort_letters(deck);
    return status;
}
