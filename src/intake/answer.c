#include "ridgetally/intake/answer.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/intake/cell.h"
#include "ridgetally/intake/dialect.h"
#include "ridgetally/intake/load.h"
#include "ridgetally/store/clock.h"
#include "ridgetally/store/query.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* The columns of the list that are looked at; the others are for the reader's eyes. */
enum column { NUMBER, PATIENT, IMPLANT, FIELD, VALUE, ANSWER, ANSWERED_BY, REPLY, COLUMNS };

static const char *const column_names[COLUMNS] = {"number", "patient", "implant",     "field",
                                                  "value",  "answer",  "answered_by", "reply"};

struct answers {
    struct rt_store *store;
    struct rt_answer_report *report;
    struct rt_error *first_fault;
    const char *path;
    struct rt_query *find, *add, *turn;
    size_t cell_of[COLUMNS]; /* column of the file */
    bool header_read;
};

/* One row of the list: cells trimmed, formula guards undone. */
struct answer {
    const char *cells[COLUMNS];
    const char *state; /* as the store calls it; NULL = no answer */
    int64_t number;
    long line;
};

static enum column find_column(const char *name)
{
    enum column column = NUMBER;
    name += strspn(name, " ");
    while (column < COLUMNS && strcasecmp(name, column_names[column]) != 0)
        column++;
    return column;
}

static void add_fault(struct answers *answers, long line, enum column column, const char *words,
                      const char *remedy)
{
    struct rt_answer_report *report = answers->report;
    if (report->faults++ == 0) {
        rt_fail(answers->first_fault, RT_INPUT, "%s", words);
        rt_error_locate(answers->first_fault, answers->path, line, column_names[column]);
        rt_error_remedy(answers->first_fault, "%s", remedy);
    } else if (report->faults <= RT_MOST_DETAILS) {
        rt_text_format(&report->words, "line %ld: %s: %s: %s\n", line, column_names[column], words, remedy);
    }
}

/* --- the header
 * -------------------------------------------------------------------------------------------------- */

static size_t known_names(const void *context, const struct rt_row *row)
{
    size_t known = 0;
    (void)context;
    for (size_t i = 0; i < row->count; i++)
        known += find_column(row->cells[i]) < COLUMNS;
    return known;
}

static bool no_numbers(const void *context, const char *name)
{
    (void)context;
    (void)name;
    return false;
}

static enum rt_status read_names(struct answers *answers, const struct rt_row *row, struct rt_error *error)
{
    for (size_t i = 0; i < COLUMNS; i++)
        answers->cell_of[i] = SIZE_MAX;
    for (size_t i = 0; i < row->count; i++) {
        enum column column = find_column(row->cells[i]);
        if (column < COLUMNS && answers->cell_of[column] == SIZE_MAX)
            answers->cell_of[column] = i;
    }
    for (size_t i = 0; i < COLUMNS; i++) {
        if (answers->cell_of[i] != SIZE_MAX)
            continue;
        rt_fail(error, RT_INPUT, "column %s is missing", column_names[i]);
        rt_error_locate(error, answers->path, row->line, NULL);
        rt_error_remedy(error, "answer in the list that `ridgetally doubts --as csv` writes");
        return RT_INPUT;
    }
    answers->header_read = true;
    return RT_OK;
}

/* --- one row
 * ----------------------------------------------------------------------------------------------------- */

static char *trim(char *cell)
{
    cell += strspn(cell, " \t\r\n");
    for (size_t length = strlen(cell); length > 0 && strchr(" \t\r\n", cell[length - 1]) != NULL; length--)
        cell[length - 1] = '\0';
    return rt_undo_formula_guard(cell);
}

static void take_cells(const struct answers *answers, const struct rt_row *row, struct answer *answer)
{
    static char nothing[] = ""; /* a row may end before its last empty cells */
    for (size_t i = 0; i < COLUMNS; i++)
        answer->cells[i] = answers->cell_of[i] < row->count ? trim(row->cells[answers->cell_of[i]]) : nothing;
}

/* A cell without what a spreadsheet takes from labels and numbers: leading zeros, spaces, a trailing .0. */
static size_t next_kept(const char *cell, size_t at, size_t end)
{
    while (at < end && cell[at] == ' ')
        at++;
    return at;
}

static bool same_cell(const char *mine, const char *theirs)
{
    size_t ends[2] = {strlen(mine), strlen(theirs)};
    size_t at[2] = {strspn(mine, "0 "), strspn(theirs, "0 ")};
    const char *cells[2] = {mine, theirs};
    for (size_t k = 0; k < 2; k++)
        if (ends[k] > 2 && strcmp(cells[k] + ends[k] - 2, ".0") == 0)
            ends[k] -= 2;
    for (;; at[0]++, at[1]++) {
        for (size_t k = 0; k < 2; k++)
            at[k] = next_kept(cells[k], at[k], ends[k]);
        if (at[0] >= ends[0] || at[1] >= ends[1])
            return at[0] >= ends[0] && at[1] >= ends[1];
        if (mine[at[0]] != theirs[at[1]])
            return false;
    }
}

/* Whether the row is still about the doubt whose number it bears; the doubt stays the current row of find. */
static enum rt_status check_key(struct answers *answers, struct answer *answer, bool *good,
                                struct rt_error *error)
{
    char *end = NULL;
    bool row = false;
    answer->number = strtoll(answer->cells[NUMBER], &end, 10);
    *good = end != answer->cells[NUMBER] && *end == '\0';
    enum rt_status status = RT_OK;
    rt_bind_integer(answers->find, ":number", answer->number);
    if (*good)
        status = rt_query_next(answers->find, &row, error);
    if (status != RT_OK || !row) {
        *good = false;
        if (status == RT_OK)
            add_fault(answers, answer->line, NUMBER, "there is no doubt of that number",
                      "copy the number from the list");
        return status;
    }
    for (enum column i = PATIENT; i <= VALUE; i++) {
        if (same_cell(rt_column_text(answers->find, (int)i - PATIENT), answer->cells[i]))
            continue;
        *good = false;
        add_fault(answers, answer->line, i, "not what the list had here",
                  i == VALUE ? "correct records in their sheet and load it; put back what the list had"
                             : "put back what the list had, or write the list again; only answer, "
                               "answered_by and reply are to be filled in");
    }
    return RT_OK;
}

static bool read_answer(struct answers *answers, struct answer *answer)
{
    static const struct {
        const char *word, *state;
    } words[] = {{"replied", "replied"}, {"left as is", "left"}, {"waiting", "waiting"}};
    const char *cell = answer->cells[ANSWER];
    bool replies = answer->cells[REPLY][0] != '\0';
    answer->state = cell[0] == '\0' && replies ? "replied" : NULL;
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strcasecmp(cell, words[i].word) == 0)
            answer->state = words[i].state;
    long before = answers->report->faults;
    if (cell[0] != '\0' && answer->state == NULL)
        add_fault(answers, answer->line, ANSWER, "not an answer", "type replied, left as is or waiting");
    bool answered = answer->state != NULL && strcmp(answer->state, "waiting") != 0;
    bool left = answered && strcmp(answer->state, "left") == 0;
    if (answered && !replies)
        add_fault(answers, answer->line, REPLY, "empty",
                  left ? "say why it is left as it is" : "say what was found out");
    if (left && answer->cells[ANSWERED_BY][0] == '\0')
        add_fault(answers, answer->line, ANSWERED_BY, "empty", "say who leaves it as it is");
    for (enum column i = ANSWERED_BY; i <= REPLY; i++)
        if (strlen(answer->cells[i]) > RT_LONGEST_TEXT)
            add_fault(answers, answer->line, i, "longer than 500 bytes", "shorten it");
    return answers->report->faults == before;
}

static void count_answer(struct rt_answer_report *report, const char *state)
{
    report->replied += strcmp(state, "replied") == 0;
    report->left += strcmp(state, "left") == 0;
    report->withdrawn += strcmp(state, "waiting") == 0;
}

static enum rt_status keep_answer(struct answers *answers, const struct answer *answer,
                                  struct rt_error *error)
{
    char now[RT_CLOCK_BYTES];
    bool withdrawn = strcmp(answer->state, "waiting") == 0;
    rt_bind_integer(answers->add, ":doubt_id", answer->number);
    rt_bind_text(answers->add, ":state", answer->state);
    rt_bind_text(answers->add, ":reply", withdrawn ? "" : answer->cells[REPLY]);
    rt_bind_text(answers->add, ":answered_by", answer->cells[ANSWERED_BY]);
    rt_bind_text(answers->add, ":answered_at", rt_clock(now));
    enum rt_status status = rt_query_run(answers->add, error);
    rt_bind_integer(answers->turn, ":number", answer->number);
    rt_bind_text(answers->turn, ":state", answer->state);
    if (status == RT_OK)
        status = rt_query_run(answers->turn, error);
    count_answer(answers->report, answer->state);
    return status;
}

/* Whether the answer that counts says the same; a withdrawn one has only its state. */
static bool is_known(const struct answers *answers, const struct answer *answer)
{
    return strcmp(rt_column_text(answers->find, 4), answer->state) == 0 &&
           (strcmp(answer->state, "waiting") == 0 ||
            (strcmp(rt_column_text(answers->find, 5), answer->cells[ANSWERED_BY]) == 0 &&
             strcmp(rt_column_text(answers->find, 6), answer->cells[REPLY]) == 0));
}

static enum rt_status take_row(void *context, const struct rt_row *row, struct rt_error *error)
{
    struct answers *answers = context;
    if (!answers->header_read)
        return read_names(answers, row, error);
    struct answer answer = {.line = row->line};
    bool good = false;
    answers->report->rows_read++;
    take_cells(answers, row, &answer);
    enum rt_status status = check_key(answers, &answer, &good, error);
    good = status == RT_OK && read_answer(answers, &answer) && good;
    bool known = good && answer.state != NULL && is_known(answers, &answer);
    rt_query_reset(answers->find);
    if (known)
        answers->report->unchanged++;
    else if (good && answer.state != NULL)
        status = keep_answer(answers, &answer, error);
    return status;
}

/* --- the list
 * ---------------------------------------------------------------------------------------------------- */

static enum rt_status open_statements(struct answers *answers, struct rt_error *error)
{
    enum rt_status status =
        rt_query_open(answers->store, "sql/intake/answered-doubt.sql", &answers->find, error);
    if (status == RT_OK)
        status = rt_query_open_text(answers->store,
                                    "INSERT INTO doubt_answer (doubt_id, state, reply, answered_by, "
                                    "answered_at, after_batch_id) SELECT :doubt_id, :state, :reply, "
                                    ":answered_by, :answered_at, max(id) FROM batch",
                                    &answers->add, error);
    if (status == RT_OK)
        status = rt_query_open_text(
            answers->store, "UPDATE doubt SET state = :state WHERE id = :number AND state <> 'mended'",
            &answers->turn, error);
    return status;
}

static enum rt_status take_list(struct answers *answers, struct rt_error *error)
{
    static const struct rt_header_judge judge = {known_names, no_numbers, NULL};
    struct rt_dialect dialect = {.header_line = 0};
    struct rt_error first_fault = {0};
    answers->first_fault = &first_fault;
    enum rt_status status = rt_detect_dialect(answers->path, NULL, &judge, &dialect, error);
    if (status == RT_OK)
        status = rt_read_dialect_rows(answers->path, &dialect, take_row, answers, NULL, error);
    if (status == RT_OK)
        status = rt_text_status(&answers->report->words, error);
    if (status != RT_OK || answers->report->faults == 0)
        return status;
    if (error != NULL)
        *error = first_fault;
    return RT_INPUT;
}

enum rt_status rt_answer_doubts(struct rt_store *store, const char *path, struct rt_answer_report *report,
                                struct rt_error *error)
{
    struct answers answers = {.store = store, .report = report, .path = path};
    enum rt_status status = rt_transaction_begin(store, error);
    if (status != RT_OK)
        return status;
    status = open_statements(&answers, error);
    if (status == RT_OK)
        status = take_list(&answers, error);
    rt_query_close(answers.find);
    rt_query_close(answers.add);
    rt_query_close(answers.turn);
    if (status == RT_OK)
        return rt_transaction_commit(store, error);
    rt_transaction_rollback(store);
    return status;
}

void rt_release_answer_report(struct rt_answer_report *report)
{
    rt_text_release(&report->words);
}
