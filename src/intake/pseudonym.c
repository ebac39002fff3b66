#include "ridgetally/intake/pseudonym.h"

#include "ridgetally/base/hmac.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/base/text.h"
#include "ridgetally/intake/load.h"
#include "ridgetally/intake/reader.h"
#include "ridgetally/store/query.h"

#include <ctype.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <unistd.h>

enum { KEY_TEXT = 2 * RT_PSEUDONYM_KEY_BYTES + 1 /* its newline */ };

static const char fingerprint_setting[] = "patient_code_key";

/* --- the key ------------------------------------------------------------------------------------------------ */

static enum rt_status fail_key(const char *path, enum rt_status status, const char *words, const char *remedy,
                               struct rt_error *error)
{
    rt_fail(error, status, "%s", words);
    rt_error_locate(error, path, 0, NULL);
    rt_error_remedy(error, "%s", remedy);
    return status;
}

static enum rt_status write_key(int descriptor, const char *path, struct rt_error *error)
{
    static const char digits[] = "0123456789abcdef";
    unsigned char random[RT_PSEUDONYM_KEY_BYTES];
    char text[KEY_TEXT];
    ssize_t got = getrandom(random, sizeof random, 0);
    for (size_t i = 0; i < sizeof random; i++) {
        text[2 * i] = digits[random[i] >> 4];
        text[2 * i + 1] = digits[random[i] & 15];
    }
    text[KEY_TEXT - 1] = '\n';
    bool written = got == (ssize_t)sizeof random && write(descriptor, text, KEY_TEXT) == KEY_TEXT &&
                   fsync(descriptor) == 0;
    explicit_bzero(random, sizeof random);
    explicit_bzero(text, sizeof text);
    return written ? RT_OK
                   : fail_key(path, RT_SYSTEM, "the key could not be written",
                              "check the folder, its permissions and the free space", error);
}

/* Under another name first, so that a key is there complete or not at all; an existing file is never replaced. */
static enum rt_status make_key(const char *path, bool *made, struct rt_error *error)
{
    struct rt_text temporary = {0};
    rt_text_format(&temporary, "%s.part-XXXXXX", path);
    enum rt_status status = rt_text_status(&temporary, error);
    int descriptor = status == RT_OK ? mkstemp(temporary.bytes) : -1; /* mode 0600 */
    if (status == RT_OK && descriptor < 0)
        status = fail_key(path, RT_SYSTEM, strerror(errno), "check the folder and its permissions", error);
    if (descriptor >= 0) {
        status = write_key(descriptor, path, error);
        close(descriptor);
        *made = status == RT_OK && link(temporary.bytes, path) == 0;
        if (status == RT_OK && !*made && errno != EEXIST) /* EEXIST: another program made it meanwhile */
            status =
                fail_key(path, RT_SYSTEM, strerror(errno), "check the folder and its permissions", error);
        unlink(temporary.bytes);
    }
    rt_text_release(&temporary);
    return status;
}

static int hex_value(char digit)
{
    const char *digits = "0123456789abcdef";
    const char *at = digit == '\0' ? NULL : strchr(digits, digit);
    return at == NULL ? -1 : (int)(at - digits);
}

static bool parse_key(const char *text, ssize_t length, struct rt_pseudonym_key *key)
{
    if (length != KEY_TEXT || text[KEY_TEXT - 1] != '\n')
        return false;
    for (size_t i = 0; i < RT_PSEUDONYM_KEY_BYTES; i++) {
        int high = hex_value(text[2 * i]);
        int low = hex_value(text[2 * i + 1]);
        if (high < 0 || low < 0)
            return false;
        key->bytes[i] = (unsigned char)(16 * high + low);
    }
    return true;
}

static enum rt_status read_open_key(int descriptor, const char *path, struct rt_pseudonym_key *key,
                                    struct rt_error *error)
{
    struct stat information;
    char text[KEY_TEXT + 1];
    if (fstat(descriptor, &information) != 0 || !S_ISREG(information.st_mode))
        return fail_key(path, RT_USE, "this is not a key file", "name the key file with --key FILE", error);
    if ((information.st_mode & 077) != 0)
        return fail_key(path, RT_USE, "others than you may use this key file", "chmod 600 it", error);
    ssize_t length = read(descriptor, text, sizeof text);
    bool parsed = parse_key(text, length, key);
    explicit_bzero(text, sizeof text);
    return parsed ? RT_OK
                  : fail_key(path, RT_USE, "this is not a key file",
                             "a key is 64 hexadecimal digits in one line", error);
}

enum rt_status rt_read_pseudonym_key(const char *path, bool make, struct rt_pseudonym_key *key, bool *made,
                                     struct rt_error *error)
{
    enum rt_status status = RT_OK;
    *made = false;
    int descriptor = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (descriptor < 0 && errno == ENOENT && make) {
        status = make_key(path, made, error);
        descriptor = status == RT_OK ? open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK) : -1;
    }
    if (status == RT_OK && descriptor < 0)
        return fail_key(path, errno == ENOENT ? RT_USE : RT_SYSTEM, strerror(errno),
                        "name the key file with --key FILE", error);
    if (status == RT_OK)
        status = read_open_key(descriptor, path, key, error);
    if (descriptor >= 0)
        close(descriptor);
    return status;
}

/* --- codes -------------------------------------------------------------------------------------------------- */

/* bits (a multiple of 5) of the HMAC of a purpose and a text, in base 32. */
static void add_code(const struct rt_pseudonym_key *key, char purpose, const char *text, size_t length,
                     size_t characters, char *out)
{
    static const char digits[] = "0123456789abcdefghjkmnpqrstvwxyz";
    unsigned char under[RT_PSEUDONYM_KEY_BYTES + 1];
    unsigned char code[RT_SHA256_BYTES];
    memcpy(under, key->bytes, RT_PSEUDONYM_KEY_BYTES);
    under[RT_PSEUDONYM_KEY_BYTES] = (unsigned char)purpose; /* a key of its own for each purpose */
    rt_hmac_sha256(under, sizeof under, text, length, code);
    for (size_t i = 0; i < characters; i++) {
        unsigned value = 0;
        for (size_t bit = 5 * i; bit < 5 * i + 5; bit++)
            value = 2 * value + (((unsigned)code[bit / 8] >> (7 - bit % 8)) & 1U);
        out[i] = digits[value];
    }
}

static const char *trim(const char *label, size_t *length)
{
    while (isspace((unsigned char)*label))
        label++;
    *length = strlen(label);
    while (*length > 0 && isspace((unsigned char)label[*length - 1]))
        (*length)--;
    return label;
}

/* The HMAC is of this: ASCII letters small, no spaces and punctuation, no leading zeros, no trailing .0. Labels longer
 * than the buffer are too long for a record and are only told apart by their beginning. */
static size_t simplify(const char *label, size_t length, char *out, size_t size)
{
    size_t used = 0;
    if (length > 2 && label[length - 2] == '.' && label[length - 1] == '0')
        length -= 2;
    for (size_t i = 0; i < length && used < size; i++) {
        unsigned char c = (unsigned char)label[i];
        bool kept = c >= 0x80 || isalnum(c);
        if (kept && !(used == 0 && c == '0'))
            out[used++] = (char)(c < 0x80 ? tolower(c) : c);
    }
    return used;
}

void rt_pseudonym(const struct rt_pseudonym_key *key, const char *label, char code[RT_PSEUDONYM_BYTES])
{
    char simple[256];
    size_t length;
    const char *typed = trim(label, &length);
    code[0] = '\0';
    if (length == 0)
        return;
    code[0] = 'K';
    add_code(key, 'n', simple, simplify(typed, length, simple, sizeof simple), 12, code + 1);
    code[13] = '-';
    add_code(key, 'e', typed, length, 3, code + 14);
    code[RT_PSEUDONYM_BYTES - 1] = '\0';
}

/* --- one way and one key per store ---------------------------------------------------------------------------- */

static enum rt_status has_patients(struct rt_store *store, bool *has, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open_text(store, "SELECT EXISTS (SELECT 1 FROM patient)", &query, error);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    *has = status == RT_OK && row && rt_column_integer(query, 0, 0) != 0;
    rt_query_close(query);
    return status;
}

enum rt_status rt_holds_pseudonyms(struct rt_store *store, bool *holds, struct rt_error *error)
{
    char *kept = NULL;
    bool has = false;
    enum rt_status status = has_patients(store, &has, error);
    if (status == RT_OK)
        status = rt_setting(store, fingerprint_setting, &kept, error);
    *holds = has && kept != NULL && kept[0] != '\0';
    free(kept);
    return status;
}

static enum rt_status fail_way(const char *words, const char *remedy, struct rt_error *error)
{
    rt_fail(error, RT_USE, "%s", words);
    rt_error_remedy(error, "%s", remedy);
    return RT_USE;
}

enum rt_status rt_keep_to_key(struct rt_store *store, const struct rt_pseudonym_key *key,
                              struct rt_error *error)
{
    char fingerprint[13] = "";
    char *kept = NULL;
    bool has = false;
    if (key != NULL)
        add_code(key, 'f', "", 0, 12, fingerprint);
    enum rt_status status = has_patients(store, &has, error);
    if (status == RT_OK)
        status = rt_setting(store, fingerprint_setting, &kept, error);
    if (status == RT_OK && strcmp(kept, fingerprint) != 0) {
        if (!has)
            status = rt_set_setting(store, fingerprint_setting, fingerprint, error);
        else if (key == NULL)
            status = fail_way("the patients of this store stand under keyed codes",
                              "name the key with --key FILE or RIDGETALLY_KEY", error);
        else if (kept[0] == '\0')
            status = fail_way("the patients of this store stand under the labels of the sheets",
                              "load without --pseudonym, or load all sheets into a new store", error);
        else
            status = fail_way("the codes of this store are of another key",
                              "name the key they were made with", error);
    }
    free(kept);
    return status;
}

/* --- back to the label ---------------------------------------------------------------------------------------- */

struct search {
    const struct rt_pseudonym_key *key;
    const struct rt_form *form;
    const char *code;
    bool header_read;
    size_t column;
    char *label;
};

static enum rt_status search_row(void *context, const struct rt_row *row, struct rt_error *error)
{
    struct search *search = context;
    char code[RT_PSEUDONYM_BYTES];
    if (!search->header_read) {
        size_t patient = rt_find_field(search->form, "patient");
        search->header_read = true;
        while (search->column < row->count &&
               rt_find_field(search->form, row->cells[search->column]) != patient)
            search->column++;
        return RT_OK;
    }
    if (search->label != NULL || search->column >= row->count)
        return RT_OK;
    rt_pseudonym(search->key, row->cells[search->column], code);
    if (strcmp(code, search->code) != 0)
        return RT_OK;
    search->label = rt_copy_text(row->cells[search->column]);
    return search->label == NULL ? rt_fail_memory(error) : RT_OK;
}

enum rt_status rt_reveal(const struct rt_pseudonym_key *key, const char *sheet_path, const char *code,
                         char **label, struct rt_error *error)
{
    char sha256[RT_SHA256_HEX];
    const struct rt_load_options options = {.kind_given = false};
    struct rt_dialect dialect = {.header_line = 0};
    enum rt_record_kind kind = RT_IMPLANTS;
    struct search search = {.key = key, .code = code};
    enum rt_status status = rt_look_at_file(sheet_path, &options, &dialect, &kind, error);
    search.form = rt_form(kind);
    if (status == RT_OK)
        status = rt_read_dialect_rows(sheet_path, &dialect, search_row, &search, sha256, error);
    if (status != RT_OK) {
        free(search.label);
        search.label = NULL;
    }
    *label = search.label;
    return status;
}
