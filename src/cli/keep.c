/* The small verbs that keep a store safe: undo, verify, backup. */
#include "ridgetally/base/file.h"
#include "ridgetally/base/number.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/cli/records.h"
#include "ridgetally/store/query.h"

const char rt_undo_help[] = "Usage: ridgetally undo BATCH [--store FILE]\n"
                            "\n"
                            "Takes a loaded file back out. After undoing the latest, the records, the doubts "
                            "and the refused rows are "
                            "exactly as\n"
                            "before it. An earlier one can be undone when no later file changed, held or "
                            "added to its rows and no doubt of "
                            "it was\n"
                            "answered; else it says which batches are in the way, and how many rows each. "
                            "Audits recorded since are kept "
                            "and marked\n"
                            "as restated. `load` prints the numbers of batches.\n"
                            "  --store FILE  the store; else RIDGETALLY_STORE, else practice.db\n";

const char rt_verify_help[] =
    "Usage: ridgetally verify [--store FILE]\n"
    "\n"
    "Tells a damaged store from a good one: the file itself, the seal (a checksum) of each of its pages, the "
    "links\n"
    "between its rows, its tables, and what must always hold between its numbers. Exit code 3, with the "
    "first "
    "fault\n"
    "in words, when it is damaged. A store that another program has written into counts as damaged.\n"
    "  --store FILE  the store; else RIDGETALLY_STORE, else practice.db\n";

const char rt_backup_help[] =
    "Usage: ridgetally backup FILE [--store FILE]\n"
    "\n"
    "Writes a consistent copy of the store, also while it is in use (mode 0600). "
    "An earlier copy of that name is\n"
    "replaced; any other file is left alone.\n"
    "  --store FILE  the store; else RIDGETALLY_STORE, else practice.db\n"
    "The copy holds the same health data as the store: keep it as safe. The store keeps a list\n"
    "of its copies, for `forget`.\n";

static enum rt_status print_line(struct rt_text *text, struct rt_error *error)
{
    enum rt_status status = rt_text_status(text, error);
    if (status == RT_OK)
        status = rt_write_stream(stdout, text->bytes, text->length, error);
    rt_text_release(text);
    return status;
}

/* One operand and --store, the form of undo and backup. */
static enum rt_status parse_one(int argc, char **argv, const char **store, const char **operand,
                                struct rt_error *error)
{
    struct rt_operands operands = {NULL, 0};
    const struct rt_option options[] = {{"--store", RT_OPTION_TEXT, store}};
    enum rt_status status = rt_parse_options(argc, argv, options, 1, 1, 1, &operands, error);
    if (status == RT_OK)
        *operand = operands.items[0];
    return status;
}

enum rt_status rt_undo_verb(int argc, char **argv, struct rt_error *error)
{
    const char *path = NULL;
    const char *operand = NULL;
    long batch = 0;
    struct rt_store *store = NULL;
    enum rt_status status = parse_one(argc, argv, &path, &operand, error);
    if (status == RT_OK && !rt_parse_integer(operand, &batch)) {
        status = rt_fail(error, RT_USE, "'%s' is not the number of a batch", operand);
        rt_error_remedy(error, "`ridgetally load` prints the number of each batch");
    }
    if (status == RT_OK)
        status = rt_open_chosen_store(path, RT_STORE_WRITE, &store, error);
    if (status == RT_OK)
        status = rt_undo_batch(store, batch, error);
    struct rt_text text = {0};
    rt_text_format(&text, "batch %ld is undone\n", batch);
    if (status == RT_OK)
        status = print_line(&text, error);
    rt_text_release(&text);
    rt_store_close(store);
    return status;
}

static enum rt_status count_rows(struct rt_store *store, struct rt_text *text, struct rt_error *error)
{
    static const char *const counted[] = {"patient", "implant", "follow-up", "event"};
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status =
        rt_query_open_text(store,
                           "SELECT (SELECT count(*) FROM patient), (SELECT count(*) FROM implant), "
                           "(SELECT count(*) FROM reading), (SELECT count(*) FROM event)",
                           &query, error);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    if (status == RT_OK && row)
        rt_text_format(text, "%s: sound", rt_store_path(store));
    for (int i = 0; status == RT_OK && row && i < 4; i++) {
        rt_text_add(text, i == 0 ? "; " : ", ");
        rt_text_add_count(text, (long)rt_column_integer(query, i, 0), counted[i]);
    }
    rt_text_add(text, row ? "\n" : "");
    rt_query_close(query);
    return status;
}

enum rt_status rt_verify_verb(int argc, char **argv, struct rt_error *error)
{
    const char *path = NULL;
    struct rt_store *store = NULL;
    struct rt_text text = {0};
    const struct rt_option options[] = {{"--store", RT_OPTION_TEXT, &path}};
    enum rt_status status = rt_parse_options(argc, argv, options, 1, 0, 0, NULL, error);
    if (status == RT_OK)
        status = rt_open_chosen_store(path, RT_STORE_READ, &store, error);
    if (status == RT_OK)
        status = rt_store_verify(store, error);
    if (status == RT_OK)
        status = count_rows(store, &text, error);
    if (status == RT_OK)
        status = print_line(&text, error);
    rt_text_release(&text);
    rt_store_close(store);
    return status;
}

/* A store that may only be read can be copied too. */
static enum rt_status open_to_copy(const char *path, struct rt_store **store, struct rt_error *error)
{
    enum rt_status status = rt_open_chosen_store(path, RT_STORE_WRITE, store, error);
    if (status != RT_SYSTEM)
        return status;
    rt_error_clear(error);
    return rt_open_chosen_store(path, RT_STORE_READ, store, error);
}

/* The copy is good even when the store cannot keep where it is. */
static void note_copy(struct rt_store *store, const char *target)
{
    struct rt_error error = {.status = RT_OK};
    if (rt_store_note_copy(store, target, &error) != RT_OK)
        fprintf(stderr,
                "ridgetally: this copy is not on the store's list of copies (%s): remember it yourself\n",
                error.message);
}

enum rt_status rt_backup_verb(int argc, char **argv, struct rt_error *error)
{
    const char *path = NULL;
    const char *target = NULL;
    struct rt_store *store = NULL;
    struct rt_text text = {0};
    enum rt_status status = parse_one(argc, argv, &path, &target, error);
    if (status == RT_OK)
        status = open_to_copy(path, &store, error);
    if (status == RT_OK)
        status = rt_store_backup(store, target, error);
    if (status == RT_OK)
        note_copy(store, target);
    rt_text_format(&text, "%s: a copy of %s\n", target == NULL ? "" : target, rt_store_choice(path));
    if (status == RT_OK)
        status = print_line(&text, error);
    rt_text_release(&text);
    rt_store_close(store);
    return status;
}
