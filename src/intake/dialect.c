#include "ridgetally/intake/dialect.h"

#include "decode.h"

#include "ridgetally/base/memory.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

static const char separators[] = {',', ';', '\t', '|'};
enum { SEPARATORS = sizeof separators };

static bool is_digit(char character)
{
    return character >= '0' && character <= '9';
}

/* --- encoding ------------------------------------------------------------------------------------------- */

/* UTF-16 without a byte order mark: nearly every second byte of western text is zero, and nearly none of the others. */
static enum rt_encoding by_zero_bytes(const unsigned char *bytes, size_t length)
{
    size_t zeros[2] = {0, 0};
    size_t pairs = length / 2;
    if (length == 0 || memchr(bytes, 0, length) == NULL)
        return RT_ENCODING_DETECT;
    for (size_t i = 0; i < 2 * pairs; i++)
        zeros[i % 2] += bytes[i] == 0;
    if (pairs >= 2 && zeros[1] * 10 >= pairs * 7 && zeros[0] * 20 <= pairs)
        return RT_ENCODING_UTF16_LE;
    if (pairs >= 2 && zeros[0] * 10 >= pairs * 7 && zeros[1] * 20 <= pairs)
        return RT_ENCODING_UTF16_BE;
    return RT_ENCODING_DETECT;
}

/* The length of the UTF-8 sequence (RFC 3629) of two bytes or more at the start; 0 = none, -1 = cut off by the end. */
static int sequence(const unsigned char *bytes, size_t length)
{
    unsigned char first = bytes[0];
    int size = first >= 0xc2 && first <= 0xdf   ? 2
               : first >= 0xe0 && first <= 0xef ? 3
               : first >= 0xf0 && first <= 0xf4 ? 4
                                                : 0;
    for (int i = 1; i < size; i++) {
        if ((size_t)i >= length)
            return -1;
        if ((bytes[i] & 0xc0) != 0x80)
            return 0;
    }
    return size;
}

/* Text that is no UTF-8 at all, and where every byte is a character of Windows-1252. A file that mixes the two is
 * damaged; it stays UTF-8, and the reading names the line. */
static bool is_windows_1252(const unsigned char *bytes, size_t length)
{
    bool foreign = false;
    for (size_t i = 0; i < length; i++) {
        if (bytes[i] >= 0x20 && bytes[i] < 0x7f)
            continue; /* nearly all: the same character in both */
        bool control = bytes[i] < 0x20 && bytes[i] != '\t' && bytes[i] != '\n' && bytes[i] != '\r';
        if (control || windows_1252(bytes[i]) == 0 ||
            (bytes[i] >= 0x80 && sequence(bytes + i, length - i) > 0))
            return false;
        foreign = foreign || (bytes[i] >= 0x80 && sequence(bytes + i, length - i) == 0);
    }
    return foreign;
}

static enum rt_encoding find_encoding(const unsigned char *bytes, size_t length)
{
    if (length >= 2 && memcmp(bytes, "\xff\xfe", 2) == 0)
        return RT_ENCODING_UTF16_LE;
    if (length >= 2 && memcmp(bytes, "\xfe\xff", 2) == 0)
        return RT_ENCODING_UTF16_BE;
    enum rt_encoding encoding = by_zero_bytes(bytes, length);
    if (encoding != RT_ENCODING_DETECT)
        return encoding;
    return is_windows_1252(bytes, length) ? RT_ENCODING_WINDOWS_1252 : RT_ENCODING_UTF8;
}

/* --- separator and header ------------------------------------------------------------------------------- */

struct search {
    const struct rt_header_judge *judge;
    long given_line;
    size_t known;  /* cells known in the best row */
    long line;     /* of that row */
    size_t widest; /* cells of the widest row */
};

static enum rt_status look_at_row(void *context, const struct rt_row *row, struct rt_error *error)
{
    (void)error;
    struct search *search = context;
    if (search->given_line > 0 && row->line < search->given_line)
        return RT_OK;
    if (search->given_line == 0 && row->line > RT_HEADER_WITHIN)
        return RT_PARTIAL;
    size_t known = search->judge->known(search->judge->context, row);
    if (known > search->known) {
        search->known = known;
        search->line = row->line;
    }
    if (row->count > search->widest)
        search->widest = row->count;
    return search->given_line > 0 ? RT_PARTIAL : RT_OK;
}

/* What is wrong with the text is found again, and told, by the reading that follows. */
static enum rt_status settle(enum rt_status status, struct rt_error *error)
{
    return status == RT_MEMORY ? rt_fail_memory(error) : RT_OK;
}

static enum rt_status find_separator(const char *bytes, size_t length, bool whole,
                                     const struct rt_header_judge *judge, struct rt_dialect *dialect,
                                     struct rt_error *error)
{
    struct search best = {.known = 0};
    char given = dialect->separator;
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < SEPARATORS; i++) {
        struct search search = {.judge = judge, .given_line = dialect->header_line};
        struct rt_dialect trial = {.encoding = dialect->encoding, .separator = separators[i]};
        struct rt_error unused = {0};
        if (given != '\0' && given != separators[i])
            continue;
        status =
            settle(rt_read_row_bytes("", bytes, length, whole, &trial, look_at_row, &search, &unused), error);
        if (dialect->separator == '\0' || search.known > best.known ||
            (search.known == best.known && search.widest > best.widest)) {
            best = search;
            dialect->separator = separators[i];
        }
    }
    if (dialect->header_line == 0)
        dialect->header_line = best.line;
    return status;
}

/* --- decimal mark --------------------------------------------------------------------------------------- */

/* A number with one or more marks. */
struct marked {
    char mark;      /* the last one; 0 = none, or no number */
    bool ambiguous; /* it could mark thousands as well: 1,234 */
};

static struct marked look_at_number(const char *cell)
{
    struct marked found = {'\0', false};
    const char *at =
        cell + strspn(cell, " \t<>=+-\xe2\x89\xa5\x88\x92"); /* limits and signs, also as one character */
    size_t length = strspn(at, "0123456789.,");
    const char *rest = at + length;
    const char *last = NULL;
    size_t marks = 0;
    for (size_t i = 0; i < length; i++) {
        if (!is_digit(at[i])) {
            bool repeated = last != NULL && *last == at[i];
            if (repeated) /* 13.07.2020, 1.234.567 */
                return found;
            last = at + i;
            marks++;
        }
    }
    rest += strspn(rest, " \t+");
    if (last == NULL || *rest != '\0' || marks > 2 || last + 1 == at + length)
        return found;
    size_t before = (size_t)(last - at);
    size_t after = (size_t)(at + length - last - 1);
    found.mark = *last;
    found.ambiguous = marks == 1 && after == 3 && before >= 1 && before <= 3 && at[0] != '0';
    return found;
}

struct evidence {
    const struct rt_header_judge *judge;
    const char *name;
    bool *numbers; /* of the header's columns */
    size_t columns;
    bool native; /* commas between cells: the mark is the point, and a cell with a comma is refused alone */
    long line_of[2]; /* first row with a decimal point, comma; 0 = none */
    struct rt_error *error;
};

static enum rt_status take_header(struct evidence *evidence, const struct rt_row *row, struct rt_error *error)
{
    evidence->numbers = rt_new_array(row->count, sizeof *evidence->numbers);
    if (evidence->numbers == NULL)
        return rt_fail_memory(error);
    evidence->columns = row->count;
    for (size_t i = 0; i < row->count; i++)
        evidence->numbers[i] = evidence->judge->holds_numbers(evidence->judge->context, row->cells[i]);
    return RT_OK;
}

static enum rt_status fail_both(const struct evidence *evidence, long line, char mark, const char *cell)
{
    bool comma = mark == ',';
    rt_fail(evidence->error, RT_INPUT, "'%s' has a decimal %s, but line %ld has a decimal %s", cell,
            comma ? "comma" : "point", evidence->line_of[!comma], comma ? "point" : "comma");
    rt_error_locate(evidence->error, evidence->name, line, NULL);
    rt_error_remedy(evidence->error,
                    "write all of them one way, or state --decimal comma or point; rows written the "
                    "other way are then refused");
    return RT_USE; /* only ends this reading */
}

static enum rt_status weigh_row(void *context, const struct rt_row *row, struct rt_error *error)
{
    struct evidence *evidence = context;
    if (evidence->numbers == NULL)
        return take_header(evidence, row, error);
    for (size_t i = 0; i < row->count && i < evidence->columns; i++) {
        if (!evidence->numbers[i])
            continue;
        struct marked found = look_at_number(row->cells[i]);
        if (found.mark == '\0' || found.ambiguous)
            continue;
        bool comma = found.mark == ',';
        if (evidence->line_of[!comma] > 0 && !evidence->native)
            return fail_both(evidence, row->line, found.mark, row->cells[i]);
        if (evidence->line_of[comma] == 0)
            evidence->line_of[comma] = row->line;
    }
    /* one point settles it where cells with commas are refused one by one */
    return evidence->native && evidence->line_of[0] > 0 ? RT_PARTIAL : RT_OK;
}

static enum rt_status find_decimal(const char *name, const char *bytes, size_t length, bool whole,
                                   const struct rt_header_judge *judge, struct rt_dialect *dialect,
                                   struct rt_error *error)
{
    struct evidence evidence = {
        .judge = judge, .name = name, .native = dialect->separator == ',', .error = error};
    struct rt_error unused = {0};
    enum rt_status status =
        rt_read_row_bytes("", bytes, length, whole, dialect, weigh_row, &evidence, &unused);
    free(evidence.numbers);
    if (status == RT_USE)
        return RT_INPUT;
    if (evidence.line_of[0] > 0)
        dialect->decimal = '.';
    else if (evidence.line_of[1] > 0)
        dialect->decimal = ',';
    return settle(status, error);
}

bool rt_point_decimal(const struct rt_dialect *dialect, char *cell, const char **reason, const char **remedy)
{
    if (dialect->decimal == '.')
        return true; /* as it is; what is no number is told where it is read */
    struct marked found = look_at_number(cell);
    if (found.mark == '\0')
        return true;
    if (dialect->decimal == '\0' && found.ambiguous && (found.mark == ',' || dialect->separator != ',')) {
        *reason = "a number whose mark could stand before decimals or after thousands";
        *remedy = "type it without a mark for thousands, or state --decimal comma or point";
        return false;
    }
    if (dialect->decimal != ',')
        return true;
    char *comma = strchr(cell, ',');
    if (strchr(cell, '.') != NULL || comma == NULL) {
        *reason = "a number with a point in a sheet of decimal commas";
        *remedy = "type it with a decimal comma and without a mark for thousands";
        return false;
    }
    *comma = '.';
    return true;
}

/* --- all together --------------------------------------------------------------------------------------- */

static enum rt_status detect(const char *name, const char *bytes, size_t length, bool whole,
                             const struct rt_dialect *given, const struct rt_header_judge *judge,
                             struct rt_dialect *dialect, struct rt_error *error)
{
    *dialect = given == NULL ? (struct rt_dialect){.header_line = 0} : *given;
    if (dialect->encoding == RT_ENCODING_DETECT)
        dialect->encoding = find_encoding((const unsigned char *)bytes, length);
    enum rt_status status = find_separator(bytes, length, whole, judge, dialect, error);
    if (status == RT_OK && dialect->decimal == '\0')
        status = find_decimal(name, bytes, length, whole, judge, dialect, error);
    return status;
}

/* Cells of a workbook come decoded and apart, numbers with points: only the header is sought. */
static enum rt_status detect_in_workbook(const char *path, const char *bytes, size_t length,
                                         const struct rt_header_judge *judge, struct rt_dialect *dialect,
                                         struct rt_error *error)
{
    struct search search = {.judge = judge, .given_line = dialect->header_line};
    struct rt_dialect trial = {.workbook = true, .sheet = dialect->sheet};
    struct rt_error unused = {0};
    dialect->workbook = true;
    if (dialect->decimal == '\0')
        dialect->decimal = '.';
    enum rt_status status =
        path != NULL ? rt_read_dialect_rows(path, &trial, look_at_row, &search, NULL, &unused)
                     : rt_read_row_bytes("", bytes, length, true, &trial, look_at_row, &search, &unused);
    if (dialect->header_line == 0)
        dialect->header_line = search.line;
    return settle(status, error);
}

static bool is_workbook(const char *bytes, size_t length)
{
    return length >= 4 && memcmp(bytes, "PK\x03\x04", 4) == 0;
}

enum rt_status rt_detect_dialect_bytes(const char *bytes, size_t length, bool whole,
                                       const struct rt_dialect *given, const struct rt_header_judge *judge,
                                       struct rt_dialect *dialect, struct rt_error *error)
{
    if (whole && is_workbook(bytes, length)) {
        *dialect = given == NULL ? (struct rt_dialect){.header_line = 0} : *given;
        return detect_in_workbook(NULL, bytes, length, judge, dialect, error);
    }
    return detect("", bytes, length, whole, given, judge, dialect, error);
}

/* The beginning of a file, in no more memory than it needs: most files are far shorter than a sample may be. The caller frees it. A
 * failing disk is told by the reading that follows. */
static enum rt_status read_sample(FILE *stream, char **sample, size_t *length, bool *whole,
                                  struct rt_error *error)
{
    struct stat information;
    size_t room = RT_SAMPLE_BYTES;
    if (fstat(fileno(stream), &information) == 0 && information.st_size > 0 &&
        information.st_size < RT_SAMPLE_BYTES)
        room = (size_t)information.st_size + 1; /* one more, so that the end is met */
    *sample = malloc(room);
    if (*sample == NULL)
        return rt_fail_memory(error);
    *length = fread(*sample, 1, room, stream);
    *whole = *length < room;
    return RT_OK;
}

enum rt_status rt_detect_dialect(const char *path, const struct rt_dialect *given,
                                 const struct rt_header_judge *judge, struct rt_dialect *dialect,
                                 struct rt_error *error)
{
    FILE *stream = NULL;
    enum rt_status status = open_rows(path, &stream, true, error);
    if (status != RT_OK)
        return status;
    char *sample = NULL;
    size_t length = 0;
    bool whole = false;
    status = read_sample(stream, &sample, &length, &whole, error);
    fclose(stream);
    if (status == RT_OK && is_workbook(sample, length)) {
        *dialect = given == NULL ? (struct rt_dialect){.header_line = 0} : *given;
        status = detect_in_workbook(path, NULL, 0, judge, dialect, error);
    } else if (status == RT_OK) {
        status = detect(path, sample, length, whole, given, judge, dialect, error);
    }
    free(sample);
    return status;
}

/* --- words ---------------------------------------------------------------------------------------------- */

static const char *separator_name(char separator)
{
    switch (separator) {
    case ';':
        return "semicolons";
    case '\t':
        return "tabs";
    case '|':
        return "bars";
    default:
        return "commas";
    }
}

void rt_add_dialect(struct rt_text *text, const struct rt_dialect *dialect)
{
    const char *decimal = dialect->decimal == ','   ? "decimal comma"
                          : dialect->decimal == '.' ? "decimal point"
                                                    : "no decimals seen";
    if (dialect->workbook) {
        rt_text_add(text, "workbook, ");
        rt_text_add(text, dialect->sheet == NULL ? "its only sheet" : "sheet ");
        rt_text_add_plain(text, dialect->sheet);
        rt_text_format(text, ", header on row %ld", dialect->header_line > 0 ? dialect->header_line : 1);
        return;
    }
    rt_text_format(text, "%s, %s, %s, header on line %ld", encoding_name(dialect->encoding),
                   separator_name(dialect->separator), decimal,
                   dialect->header_line > 0 ? dialect->header_line : 1);
}

bool rt_find_encoding(const char *word, enum rt_encoding *encoding)
{
    static const struct {
        const char *word;
        enum rt_encoding encoding;
    } all[] = {{"utf-8", RT_ENCODING_UTF8},
               {"utf-16le", RT_ENCODING_UTF16_LE},
               {"utf-16be", RT_ENCODING_UTF16_BE},
               {"windows-1252", RT_ENCODING_WINDOWS_1252}};
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++) {
        if (strcmp(all[i].word, word) == 0) {
            *encoding = all[i].encoding;
            return true;
        }
    }
    return false;
}

bool rt_find_separator(const char *word, char *separator)
{
    static const char *const words[SEPARATORS] = {"comma", "semicolon", "tab", "bar"};
    for (size_t i = 0; i < SEPARATORS; i++) {
        if (strcmp(words[i], word) == 0) {
            *separator = separators[i];
            return true;
        }
    }
    return false;
}

bool rt_find_decimal(const char *word, char *decimal)
{
    bool comma = strcmp(word, "comma") == 0;
    if (!comma && strcmp(word, "point") != 0)
        return false;
    *decimal = comma ? ',' : '.';
    return true;
}
