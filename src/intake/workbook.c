#include "workbook.h"

#include "ridgetally/base/arena.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/base/number.h"
#include "ridgetally/base/text.h"

#include <expat.h>
#include <stdint.h>
#include <string.h>
#include <zip.h>

enum {
    PART_BYTES = 32 * 1024,
    MOST_STYLES = 65536,
    MOST_SHEETS = 1024,
    MOST_COLUMNS = 4096,
    LONGEST_TEXT = 1024 * 1024,
    FALSE_LEAP_DAY = 60
};
/* A zip may unpack to a thousand times its size; no sheet of records does. */
static const uint64_t most_unpacked = UINT64_C(4) << 30;
static const uint64_t least_to_suspect = UINT64_C(64) << 20;
static const uint64_t most_expansion = 200;
static const size_t most_strings = (size_t)512 << 20; /* bytes of shared strings, which are kept in memory */

struct part_sheet {
    const char *name, *relation;
};

struct workbook {
    zip_t *zip;
    struct rt_error *error;
    enum rt_status status;
    XML_Parser parser;
    struct rt_arena arena;
    struct rt_text text; /* character data being gathered */
    bool gather;
    bool phonetic; /* reading aids beside a string are no part of it */

    struct part_sheet *sheets;
    size_t sheet_count, sheet_capacity;
    bool system_1904;
    const char *wanted_relation;
    const char *target; /* part name of the wanted sheet */

    const char **strings;
    size_t string_count, string_capacity, string_bytes;

    bool *dates; /* by style: a date */
    size_t style_count, style_capacity;
    bool in_formats; /* inside cellXfs */
    long *date_formats;
    size_t date_format_count, date_format_capacity;

    const struct row_sink *sink;
    long line;
    size_t column; /* of the next cell */
    char type;     /* n number, s shared, i inline, t text, b boolean, e error */
    bool date;
    bool any;
};

static void stop(struct workbook *book, enum rt_status status)
{
    if (book->status == RT_OK)
        book->status = status;
    XML_StopParser(book->parser, XML_FALSE);
}

static void fail(struct workbook *book, const char *what, const char *remedy)
{
    if (book->status == RT_OK) {
        rt_fail(book->error, RT_INPUT, "%s", what);
        rt_error_remedy(book->error, "%s", remedy);
    }
    book->status = book->status == RT_OK ? RT_INPUT : book->status;
    if (book->parser != NULL)
        XML_StopParser(book->parser, XML_FALSE);
}

static const char *const save_again =
    "open it in a spreadsheet program and save it again, or save the sheet as CSV (UTF-8)";

/* The name without its namespace prefix. */
static const char *local(const char *name)
{
    const char *colon = strrchr(name, ':');
    return colon == NULL ? name : colon + 1;
}

static const char *attribute(const char **attributes, const char *name)
{
    for (size_t i = 0; attributes[i] != NULL; i += 2)
        if (strcmp(attributes[i], name) == 0)
            return attributes[i + 1];
    return NULL;
}

static void no_doctype(void *context, const char *name, const char *system, const char *public_id,
                       int internal)
{
    (void)name, (void)system, (void)public_id, (void)internal;
    fail(context, "this workbook has a document type, which no spreadsheet program writes", save_again);
}

static void take_text(void *context, const char *text, int length)
{
    struct workbook *book = context;
    if (!book->gather || book->phonetic)
        return;
    if (book->text.length + (size_t)length > LONGEST_TEXT)
        fail(book, "a cell of this workbook is too long", "shorten it");
    else
        rt_text_add_bytes(&book->text, text, (size_t)length);
    if (book->text.failed)
        stop(book, rt_fail_memory(book->error));
}

static void begin_text(struct workbook *book)
{
    rt_text_clear(&book->text);
    rt_text_add(&book->text, "");
    book->gather = true;
}

/* --- parts of the zip ----------------------------------------------------------------------------------- */

struct handlers {
    XML_StartElementHandler start;
    XML_EndElementHandler end;
};

static void feed(struct workbook *book, zip_file_t *file, uint64_t packed)
{
    uint64_t unpacked = 0;
    zip_int64_t got = 1;
    while (book->status == RT_OK && got > 0) {
        void *buffer = XML_GetBuffer(book->parser, PART_BYTES);
        if (buffer == NULL) {
            book->status = rt_fail_memory(book->error);
            return;
        }
        got = zip_fread(file, buffer, PART_BYTES);
        if (got < 0) {
            fail(book, "this workbook is damaged", save_again);
            return;
        }
        unpacked += (uint64_t)got;
        if (unpacked > most_unpacked || (unpacked > least_to_suspect && unpacked > packed * most_expansion)) {
            fail(book, "this workbook unpacks to far more than a sheet of records",
                 "save the sheet as CSV (UTF-8)");
            return;
        }
        if (XML_ParseBuffer(book->parser, (int)got, got == 0) == XML_STATUS_ERROR && book->status == RT_OK) {
            if (XML_GetErrorCode(book->parser) == XML_ERROR_NO_MEMORY)
                book->status = rt_fail_memory(book->error);
            else
                fail(book, "this workbook is damaged", save_again);
        }
    }
}

/* Parse one part; a part that is not there is fine when it is not needed. */
static enum rt_status parse_part(struct workbook *book, const char *name, bool needed,
                                 struct handlers handlers)
{
    struct zip_stat information;
    zip_stat_init(&information);
    zip_file_t *file = zip_stat(book->zip, name, 0, &information) == 0 ? zip_fopen(book->zip, name, 0) : NULL;
    if (file == NULL) {
        if (needed)
            fail(book, "this is no workbook of sheets", "name an .xlsx workbook or a CSV file");
        return book->status;
    }
    book->parser = XML_ParserCreate(NULL);
    if (book->parser == NULL) {
        book->status = rt_fail_memory(book->error);
    } else {
        XML_SetUserData(book->parser, book);
        XML_SetElementHandler(book->parser, handlers.start, handlers.end);
        XML_SetCharacterDataHandler(book->parser, take_text);
        XML_SetStartDoctypeDeclHandler(book->parser, no_doctype);
        feed(book, file, information.comp_size);
        XML_ParserFree(book->parser);
        book->parser = NULL;
    }
    zip_fclose(file);
    return book->status;
}

/* --- workbook.xml and its relations --------------------------------------------------------------------- */

static void nothing_ends(void *context, const char *name)
{
    (void)context, (void)name;
}

static void add_sheet(struct workbook *book, const char *name, const char *relation)
{
    struct part_sheet *sheets =
        rt_grow_array(book->sheets, &book->sheet_capacity, book->sheet_count + 1, sizeof *sheets);
    if (sheets == NULL || name == NULL || relation == NULL || book->sheet_count == MOST_SHEETS) {
        if (sheets != NULL)
            book->sheets = sheets;
        fail(book, "this workbook is damaged", save_again);
        return;
    }
    book->sheets = sheets;
    struct part_sheet *sheet = &sheets[book->sheet_count++];
    sheet->name = rt_arena_copy(&book->arena, name);
    sheet->relation = rt_arena_copy(&book->arena, relation);
    if (sheet->name == NULL || sheet->relation == NULL)
        stop(book, rt_fail_memory(book->error));
}

static void workbook_starts(void *context, const char *name, const char **attributes)
{
    struct workbook *book = context;
    if (strcmp(local(name), "workbookPr") == 0) {
        const char *system = attribute(attributes, "date1904");
        book->system_1904 = system != NULL && (strcmp(system, "1") == 0 || strcmp(system, "true") == 0);
    }
    if (strcmp(local(name), "sheet") == 0)
        add_sheet(book, attribute(attributes, "name"), attribute(attributes, "r:id"));
}

/* A target is relative to xl/ unless it begins with a slash. */
static void relations_start(void *context, const char *name, const char **attributes)
{
    struct workbook *book = context;
    const char *id = attribute(attributes, "Id");
    const char *target = attribute(attributes, "Target");
    if (strcmp(local(name), "Relationship") != 0 || id == NULL || target == NULL ||
        strcmp(id, book->wanted_relation) != 0)
        return;
    struct rt_text path = {0};
    rt_text_add(&path, target[0] == '/' ? "" : "xl/");
    rt_text_add(&path, target + (target[0] == '/'));
    book->target = path.failed ? NULL : rt_arena_copy(&book->arena, path.bytes);
    rt_text_release(&path);
    if (book->target == NULL)
        stop(book, rt_fail_memory(book->error));
}

static enum rt_status choose_sheet(struct workbook *book, const char *wanted)
{
    struct rt_text names = {0};
    for (size_t i = 0; i < book->sheet_count; i++) {
        if (wanted == NULL ? book->sheet_count == 1 : strcmp(book->sheets[i].name, wanted) == 0) {
            book->wanted_relation = book->sheets[i].relation;
            rt_text_release(&names);
            return RT_OK;
        }
        rt_text_add(&names, i > 0 ? ", " : "");
        rt_text_add_plain(&names, book->sheets[i].name);
    }
    if (names.failed || names.bytes == NULL) {
        book->status = names.failed ? rt_fail_memory(book->error) : RT_OK;
        fail(book, "this workbook has no sheets", save_again);
    } else {
        book->status = rt_fail(book->error, RT_INPUT,
                               wanted == NULL ? "the workbook has several sheets: %s"
                                              : "the workbook has no such sheet, but: %s",
                               names.bytes);
        rt_error_remedy(book->error, "say --sheet and the name of one");
    }
    rt_text_release(&names);
    return book->status;
}

/* --- shared strings ------------------------------------------------------------------------------------- */

static void strings_start(void *context, const char *name, const char **attributes)
{
    struct workbook *book = context;
    (void)attributes;
    if (strcmp(local(name), "si") == 0) {
        begin_text(book);
        book->gather = false;
    }
    book->phonetic = book->phonetic || strcmp(local(name), "rPh") == 0;
    if (strcmp(local(name), "t") == 0)
        book->gather = true;
}

static void strings_end(void *context, const char *name)
{
    struct workbook *book = context;
    if (strcmp(local(name), "t") == 0)
        book->gather = false;
    if (strcmp(local(name), "rPh") == 0)
        book->phonetic = false;
    if (strcmp(local(name), "si") != 0 || book->text.bytes == NULL)
        return;
    book->string_bytes += book->text.length + 64;
    if (book->string_bytes > most_strings) {
        fail(book, "this workbook holds too much text", "save the sheet as CSV (UTF-8)");
        return;
    }
    const char **strings =
        rt_grow_array(book->strings, &book->string_capacity, book->string_count + 1, sizeof *strings);
    if (strings != NULL) {
        book->strings = strings;
        strings[book->string_count] = rt_arena_copy(&book->arena, book->text.bytes);
    }
    if (strings == NULL || strings[book->string_count++] == NULL)
        stop(book, rt_fail_memory(book->error));
}

/* --- styles: which number formats are dates ------------------------------------------------------------- */

/* A format with a day or a year outside quotes, escapes and brackets. Built in: 14 to 17 and 22 (ECMA-376, 18.8.30), and
 * those of East Asian versions. */
static bool is_date_code(const char *code)
{
    for (; *code != '\0'; code++) {
        if (*code == '"' || *code == '[') {
            char end = *code == '"' ? '"' : ']';
            while (code[1] != '\0' && code[1] != end)
                code++;
            code += code[1] != '\0';
        } else if (*code == '\\' || *code == '_' || *code == '*') {
            code += code[1] != '\0';
        } else if (strchr("dDyY", *code) != NULL) {
            return true;
        }
    }
    return false;
}

static bool is_date_format(const struct workbook *book, long id)
{
    for (size_t i = 0; i < book->date_format_count; i++)
        if (book->date_formats[i] == id)
            return true;
    return (id >= 14 && id <= 17) || id == 22 || (id >= 27 && id <= 31) || id == 36 ||
           (id >= 50 && id <= 54) || id == 57 || id == 58;
}

static void add_style(struct workbook *book, bool date)
{
    bool *dates = rt_grow_array(book->dates, &book->style_capacity, book->style_count + 1, sizeof *dates);
    if (dates == NULL) {
        stop(book, rt_fail_memory(book->error));
        return;
    }
    book->dates = dates;
    dates[book->style_count++] = date;
}

static void styles_start(void *context, const char *name, const char **attributes)
{
    struct workbook *book = context;
    const char *text = attribute(attributes, "numFmtId");
    const char *code = attribute(attributes, "formatCode");
    long id = 0;
    bool number = text != NULL && rt_parse_integer(text, &id);
    if (strcmp(local(name), "cellXfs") == 0)
        book->in_formats = true;
    if (strcmp(local(name), "numFmt") == 0 && number && code != NULL && is_date_code(code)) {
        long *formats = rt_grow_array(book->date_formats, &book->date_format_capacity,
                                      book->date_format_count + 1, sizeof *formats);
        if (formats == NULL) {
            stop(book, rt_fail_memory(book->error));
            return;
        }
        book->date_formats = formats;
        formats[book->date_format_count++] = id;
    }
    if (book->in_formats && strcmp(local(name), "xf") == 0 && book->style_count < MOST_STYLES)
        add_style(book, number && is_date_format(book, id));
}

static void styles_end(void *context, const char *name)
{
    struct workbook *book = context;
    if (strcmp(local(name), "cellXfs") == 0)
        book->in_formats = false;
}

/* --- the sheet ------------------------------------------------------------------------------------------ */

/* Column of a reference such as AB12, from 0; SIZE_MAX when it is none. */
static size_t column_of(const char *reference)
{
    size_t column = 0;
    size_t letters = 0;
    for (; reference[letters] >= 'A' && reference[letters] <= 'Z' && letters < 4; letters++)
        column = column * 26 + (size_t)(reference[letters] - 'A') + 1;
    return letters == 0 || letters > 3 ? SIZE_MAX : column - 1;
}

static void hand_cell(struct workbook *book, const char *text, size_t length)
{
    enum rt_status status = book->sink->cell(book->sink->context, text, length);
    book->column++;
    book->any = true;
    if (status != RT_OK)
        stop(book, status);
}

static void sheet_starts(void *context, const char *name, const char **attributes)
{
    struct workbook *book = context;
    const char *element = local(name);
    if (strcmp(element, "row") == 0) {
        const char *number = attribute(attributes, "r");
        long line = 0;
        book->line =
            number != NULL && rt_parse_integer(number, &line) && line > book->line ? line : book->line + 1;
        book->column = 0;
        book->any = false;
    } else if (strcmp(element, "c") == 0) {
        const char *reference = attribute(attributes, "r");
        const char *type = attribute(attributes, "t");
        const char *style = attribute(attributes, "s");
        long s = 0;
        size_t column = reference == NULL ? book->column : column_of(reference);
        if (column < book->column || column >= MOST_COLUMNS) {
            fail(book, "this workbook is damaged, or has more columns than a sheet of records", save_again);
            return;
        }
        while (book->status == RT_OK && book->column < column)
            hand_cell(book, "", 0);
        book->type = type == NULL || strcmp(type, "n") == 0 ? 'n'
                     : strcmp(type, "s") == 0               ? 's'
                     : strcmp(type, "inlineStr") == 0       ? 'i'
                     : strcmp(type, "b") == 0               ? 'b'
                     : strcmp(type, "d") == 0               ? 'd'
                                                            : 't';
        book->date = style != NULL && rt_parse_integer(style, &s) && s >= 0 &&
                     (size_t)s < book->style_count && book->dates[s];
        begin_text(book);
        book->gather = false;
    } else if (strcmp(element, "v") == 0 || strcmp(element, "t") == 0) {
        book->gather = true;
    } else if (strcmp(element, "rPh") == 0) {
        book->phonetic = true;
    }
}

/* The day of a serial number; 1900 counts a 29 February that never was. RT_NO_DATE: none. */
static int day_of_serial(const struct workbook *book, double serial)
{
    if (serial < (book->system_1904 ? 0 : 1) || serial >= 2958466)
        return RT_NO_DATE;
    int day = (int)serial;
    if (book->system_1904)
        return day - 24107;
    return day == FALSE_LEAP_DAY ? RT_NO_DATE : day - 25569 + (day < FALSE_LEAP_DAY);
}

static void end_number(struct workbook *book)
{
    double number = 0;
    char date[11];
    struct rt_text text = {0};
    if (!rt_parse_number(book->text.bytes, &number)) {
        hand_cell(book, book->text.bytes, book->text.length);
        return;
    }
    int day = book->date ? day_of_serial(book, number) : RT_NO_DATE;
    if (day != RT_NO_DATE)
        rt_text_add(&text, rt_format_iso_date(day, date));
    else if (book->date)
        rt_text_format(&text, "day number %s", book->text.bytes); /* no date: refused, and shown as it is */
    else
        rt_text_add_number(&text, number);
    if (text.failed)
        stop(book, rt_fail_memory(book->error));
    else
        hand_cell(book, text.bytes, text.length);
    rt_text_release(&text);
}

static void end_cell(struct workbook *book)
{
    long index = 0;
    const char *text = book->text.bytes;
    if (book->text.length == 0) {
        hand_cell(book, "", 0);
    } else if (book->type == 's') {
        if (!rt_parse_integer(text, &index) || index < 0 || (size_t)index >= book->string_count)
            fail(book, "this workbook is damaged", save_again);
        else
            hand_cell(book, book->strings[index], strlen(book->strings[index]));
    } else if (book->type == 'b') {
        text = strcmp(text, "1") == 0 || strcmp(text, "true") == 0 ? "yes" : "no";
        hand_cell(book, text, strlen(text));
    } else if (book->type == 'n') {
        end_number(book);
    } else {
        hand_cell(book, text, book->text.length);
    }
}

static void sheet_ends(void *context, const char *name)
{
    struct workbook *book = context;
    const char *element = local(name);
    if (book->status != RT_OK)
        return;
    if (strcmp(element, "v") == 0 || strcmp(element, "t") == 0)
        book->gather = false;
    else if (strcmp(element, "rPh") == 0)
        book->phonetic = false;
    else if (strcmp(element, "c") == 0 && book->text.bytes != NULL)
        end_cell(book);
    else if (strcmp(element, "row") == 0 && book->any) {
        enum rt_status status = book->sink->row(book->sink->context, book->line);
        if (status != RT_OK)
            stop(book, status);
    }
}

/* --- all together --------------------------------------------------------------------------------------- */

static enum rt_status open_zip(struct workbook *book, const char *path, const char *bytes, size_t length)
{
    zip_error_t reason;
    zip_error_init(&reason);
    zip_source_t *source = path != NULL ? zip_source_file_create(path, 0, -1, &reason)
                                        : zip_source_buffer_create(bytes, length, 0, &reason);
    if (source != NULL)
        book->zip = zip_open_from_source(source, ZIP_RDONLY, &reason);
    if (book->zip == NULL) {
        if (source != NULL)
            zip_source_free(source);
        fail(book, "this workbook is damaged", save_again);
    }
    zip_error_fini(&reason);
    return book->status;
}

enum rt_status read_workbook(const char *path, const char *bytes, size_t length, const char *sheet,
                             const struct row_sink *sink, struct rt_error *error)
{
    struct rt_error local_error = {0};
    struct workbook book = {.sink = sink, .error = error == NULL ? &local_error : error};
    enum rt_status status = open_zip(&book, path, bytes, length);
    if (status == RT_OK)
        status = parse_part(&book, "xl/workbook.xml", true, (struct handlers){workbook_starts, nothing_ends});
    if (status == RT_OK)
        status = choose_sheet(&book, sheet);
    if (status == RT_OK)
        status = parse_part(&book, "xl/_rels/workbook.xml.rels", true,
                            (struct handlers){relations_start, nothing_ends});
    if (status == RT_OK)
        status =
            parse_part(&book, "xl/sharedStrings.xml", false, (struct handlers){strings_start, strings_end});
    if (status == RT_OK)
        status = parse_part(&book, "xl/styles.xml", false, (struct handlers){styles_start, styles_end});
    book.gather = book.phonetic = false;
    if (status == RT_OK)
        status = parse_part(&book, book.target == NULL ? "" : book.target, true,
                            (struct handlers){sheet_starts, sheet_ends});
    if (book.zip != NULL)
        zip_discard(book.zip);
    rt_text_release(&book.text);
    rt_arena_release(&book.arena);
    free(book.sheets);
    free(book.strings);
    free(book.dates);
    free(book.date_formats);
    return status;
}
