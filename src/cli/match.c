#include "ridgetally/intake/match.h"

#include "ridgetally/base/file.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/cli/records.h"

const char rt_match_help[] =
    "Usage: ridgetally match FILE [--out MAP] [--sheet NAME] [--encoding ENCODING] [--separator SEPARATOR]\n"
    "                        [--decimal MARK] [--header-line N]\n"
    "\n"
    "Drafts a map for a sheet of your own: which of its columns are which of ours, in which unit, sign and "
    "code, by\n"
    "what the headers mean and what the cells are like. Read the draft, correct it, and load through it. "
    "What the\n"
    "sheet does not prove, such as the order of day and month, stands as ask until you decide it.\n"
    "  --out MAP     write the draft there; else it is printed\n"
    "How the file is written is detected; state what is detected wrongly as for load:\n"
    "  --sheet NAME           the sheet of a workbook that has several\n"
    "  --encoding ENCODING    utf-8, utf-16le, utf-16be or windows-1252\n"
    "  --separator SEPARATOR  comma, semicolon, tab or bar\n"
    "  --decimal MARK         comma or point\n"
    "  --header-line N        the line with the column names\n";

enum rt_status rt_fail_word(const char *verb, const char *option, const char *words, const char *given,
                            struct rt_error *error)
{
    rt_fail(error, RT_USE, "%s is %s, not '%s'", option, words, given);
    rt_error_remedy(error, "see `ridgetally %s --help`", verb);
    return RT_USE;
}

enum rt_status rt_read_written(const char *verb, const struct rt_written *written, struct rt_dialect *dialect,
                               struct rt_error *error)
{
    if (written->encoding != NULL && !rt_find_encoding(written->encoding, &dialect->encoding))
        return rt_fail_word(verb, "--encoding", "utf-8, utf-16le, utf-16be or windows-1252",
                            written->encoding, error);
    if (written->separator != NULL && !rt_find_separator(written->separator, &dialect->separator))
        return rt_fail_word(verb, "--separator", "comma, semicolon, tab or bar", written->separator, error);
    if (written->decimal != NULL && !rt_find_decimal(written->decimal, &dialect->decimal))
        return rt_fail_word(verb, "--decimal", "comma or point", written->decimal, error);
    if (written->header_line < 0) {
        rt_fail(error, RT_USE, "--header-line counts from 1");
        rt_error_remedy(error, "see `ridgetally %s --help`", verb);
        return RT_USE;
    }
    dialect->sheet = written->sheet;
    dialect->header_line = written->header_line;
    return RT_OK;
}

enum rt_status rt_match_verb(int argc, char **argv, struct rt_error *error)
{
    const char *out = NULL;
    struct rt_written written = {.header_line = 0};
    struct rt_dialect given = {.header_line = 0};
    struct rt_operands files = {NULL, 0};
    struct rt_text draft = {0};
    const struct rt_option options[] = {{"--out", RT_OPTION_TEXT, &out},
                                        {"--sheet", RT_OPTION_TEXT, &written.sheet},
                                        {"--encoding", RT_OPTION_TEXT, &written.encoding},
                                        {"--separator", RT_OPTION_TEXT, &written.separator},
                                        {"--decimal", RT_OPTION_TEXT, &written.decimal},
                                        {"--header-line", RT_OPTION_INTEGER, &written.header_line}};
    enum rt_status status =
        rt_parse_options(argc, argv, options, sizeof options / sizeof options[0], 1, 1, &files, error);
    if (status == RT_OK)
        status = rt_read_written("match", &written, &given, error);
    if (status == RT_OK)
        status = rt_draft_map(files.items[0], &given, &draft, error);
    if (status == RT_OK)
        status = out == NULL ? rt_write_stream(stdout, draft.bytes, draft.length, error)
                             : rt_write_file(out, draft.bytes, draft.length, error);
    rt_text_release(&draft);
    return status;
}
