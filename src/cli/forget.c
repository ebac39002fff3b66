#include "ridgetally/intake/forget.h"
#include "ridgetally/base/file.h"
#include "ridgetally/cli/fit.h"
#include "ridgetally/cli/key.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/cli/records.h"
#include "ridgetally/store/query.h"

#include <glob.h>
#include <stdlib.h>
#include <unistd.h>

const char rt_forget_help[] =
    "Usage: ridgetally forget PATIENT [--store FILE] [--key FILE]\n"
    "\n"
    "Erases a patient: records, doubts and the answers to them, refused rows, and what was kept for `undo`. "
    "The\n"
    "label is also struck from file names, comments of column maps, answers and decisions. The store is then "
    "rewritten,\n"
    "so that no byte of the label is left in the file. Printed are the copies that still hold the patient.\n"
    "Figures of recorded audits stay; they name no patient. Sheets and outputs are yours to clean: a sheet "
    "that\n"
    "still has the patient brings them back when it is loaded.\n"
    "  --store FILE  the store; else RIDGETALLY_STORE, else practice.db\n"
    "  --key FILE    where the store holds codes: PATIENT is the label in the sheets; else RIDGETALLY_KEY.\n"
    "                Without a key, PATIENT is the code\n";

/* Copies made with backup: those still there, and those that went elsewhere. */
static enum rt_status add_copies(struct rt_store *store, struct rt_text *text, long *copies,
                                 struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open_text(
        store, "SELECT path, made_at FROM backup_copy ORDER BY made_at, path", &query, error);
    bool row = status == RT_OK;
    while (status == RT_OK && row) {
        status = rt_query_next(query, &row, error);
        if (status != RT_OK || !row)
            break;
        const char *path = rt_column_text(query, 0);
        rt_text_add(text, "  ");
        rt_text_add_plain(text, path);
        rt_text_format(text, ", made %s%s\n", rt_column_text(query, 1),
                       access(path, F_OK) == 0 ? "" : " (not there now: removed, or moved elsewhere)");
        (*copies)++;
    }
    rt_query_close(query);
    return status;
}

/* The pattern that finds the copies kept before an update; characters of the path stand for themselves. */
static void add_pattern(const char *path, struct rt_text *pattern)
{
    for (const char *at = path; *at != '\0'; at++) {
        if (*at == '*' || *at == '?' || *at == '[' || *at == '\\')
            rt_text_add_character(pattern, '\\');
        rt_text_add_character(pattern, *at);
    }
    rt_text_add(pattern, ".before-update-*");
}

static enum rt_status add_update_copies(struct rt_store *store, struct rt_text *text, long *copies,
                                        struct rt_error *error)
{
    struct rt_text pattern = {0};
    add_pattern(rt_store_path(store), &pattern);
    enum rt_status status = rt_text_status(&pattern, error);
    glob_t found = {.gl_pathc = 0};
    int result = status == RT_OK ? glob(pattern.bytes, 0, NULL, &found) : GLOB_NOMATCH;
    if (result == GLOB_NOSPACE)
        status = rt_fail_memory(error);
    for (size_t i = 0; result == 0 && i < found.gl_pathc; i++) {
        rt_text_add(text, "  ");
        rt_text_add_plain(text, found.gl_pathv[i]);
        rt_text_add(text, ", kept before an update\n");
        (*copies)++;
    }
    globfree(&found);
    rt_text_release(&pattern);
    return status;
}

static enum rt_status add_all(struct rt_store *store, const struct rt_forget_report *gone,
                              struct rt_text *text, struct rt_error *error)
{
    long copies = 0;
    struct rt_text list = {0};
    const struct {
        long count;
        const char *noun;
    } erased[] = {{gone->implants, "implant"},    {gone->readings, "follow-up"},
                  {gone->events, "event"},        {gone->doubts, "doubt"},
                  {gone->refused, "refused row"}, {gone->changes, "kept change"}};
    const size_t kinds = sizeof erased / sizeof erased[0];
    rt_text_add(text, "the patient is forgotten; erased: ");
    for (size_t i = 0; i < kinds; i++) {
        rt_text_add(text, i == 0 ? "" : i + 1 == kinds ? " and " : ", ");
        rt_text_add_count(text, erased[i].count, erased[i].noun);
    }
    rt_text_add(text, "\n");
    rt_fit_lines(text); /* the paths after it stay whole */
    enum rt_status status = add_copies(store, &list, &copies, error);
    if (status == RT_OK)
        status = add_update_copies(store, &list, &copies, error);
    if (status == RT_OK)
        status = rt_text_status(&list, error);
    if (status == RT_OK && copies > 0) {
        rt_text_add(text,
                    "copies that may still hold this patient; remove them, or replace them with `backup`:\n");
        rt_text_add(text, list.bytes);
    } else if (status == RT_OK) {
        rt_text_add(text, "no copies of the store are known\n");
    }
    rt_text_release(&list);
    return status == RT_OK ? rt_text_status(text, error) : status;
}

/* The patient as the store knows them. */
static enum rt_status find_code(struct rt_store *store, const char *key_path, const char *patient,
                                char code[RT_PSEUDONYM_BYTES], const char **label, struct rt_error *error)
{
    struct rt_pseudonym_key key;
    bool needed = false;
    const char *variable = getenv("RIDGETALLY_KEY");
    *label = patient;
    if (key_path == NULL && (variable == NULL || *variable == '\0'))
        return RT_OK;
    enum rt_status status = rt_choose_key(store, false, key_path, &key, &needed, error);
    if (status == RT_OK && needed)
        status = rt_keep_to_key(store, &key, error);
    if (status == RT_OK && needed) {
        rt_pseudonym(&key, patient, code);
        *label = code;
    }
    return status;
}

enum rt_status rt_forget_verb(int argc, char **argv, struct rt_error *error)
{
    const char *path = NULL;
    const char *key_path = NULL;
    const char *label = NULL;
    char code[RT_PSEUDONYM_BYTES];
    struct rt_operands operands = {NULL, 0};
    struct rt_store *store = NULL;
    struct rt_forget_report gone = {.implants = 0};
    struct rt_text text = {0};
    const struct rt_option options[] = {{"--store", RT_OPTION_TEXT, &path},
                                        {"--key", RT_OPTION_TEXT, &key_path}};
    enum rt_status status = rt_parse_options(argc, argv, options, 2, 1, 1, &operands, error);
    if (status == RT_OK)
        status = rt_open_chosen_store(path, RT_STORE_WRITE, &store, error);
    if (status == RT_OK)
        status = find_code(store, key_path, operands.items[0], code, &label, error);
    if (status == RT_OK)
        status = rt_forget_patient(store, label, &gone, error);
    if (status == RT_OK)
        status = add_all(store, &gone, &text, error);
    if (status == RT_OK)
        status = rt_write_stream(stdout, text.bytes, text.length, error);
    rt_text_release(&text);
    rt_store_close(store);
    return status;
}
