#include "ridgetally/cli/demo.h"

#include "ridgetally/audit/period.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/file.h"
#include "ridgetally/base/resource.h"
#include "ridgetally/cli/audit.h"
#include "ridgetally/cli/deck.h"
#include "ridgetally/cli/demo_folder.h"
#include "ridgetally/cli/demo_meeting.h"
#include "ridgetally/cli/due.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/cli/progress.h"
#include "ridgetally/cli/records.h"
#include "ridgetally/cli/trend.h"

#include <stdio.h>
#include <string.h>

enum { SHEETS = 3, NAMES = 11 };

/* What a demo writes; the first are the sample files, in the order they are loaded. */
static const char *const names[NAMES] = {"implants.csv", "followups.csv",   "events.csv",       "practice.db",
                                         "doubts.csv",   "audit.html",      "figures.csv",      "due.html",
                                         "due.csv",      "due-figures.csv", "deck-withheld.csv"};

/* One demo under way. */
struct demo {
    struct rt_demo_folder folder;
    struct rt_store *store;
    struct rt_written_audit written;
};

static enum rt_status join(const char *folder, const char *name, struct rt_text *path, struct rt_error *error)
{
    rt_text_clear(path);
    rt_text_format(path, "%s/%s", folder, name);
    return rt_text_status(path, error);
}

static enum rt_status write_in(const char *folder, const char *name, const char *bytes, size_t length,
                               struct rt_error *error)
{
    struct rt_text path = {0};
    enum rt_status status = join(folder, name, &path, error);
    if (status == RT_OK)
        status = rt_write_file(path.bytes, bytes, length, error);
    rt_text_release(&path);
    return status;
}

static enum rt_status write_sheets(const char *folder, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t i = 0; i < SHEETS && status == RT_OK; i++) {
        char source[64];
        snprintf(source, sizeof source, "sample-data/%s", names[i]);
        const struct rt_resource *sheet = rt_find_resource(source);
        if (sheet == NULL)
            return rt_fail(error, RT_SYSTEM, "this program was built without %s", source);
        status = write_in(folder, names[i], sheet->bytes, (size_t)(sheet->end - sheet->bytes), error);
    }
    return status;
}

static enum rt_status make_store(struct demo *demo, struct rt_error *error)
{
    static const struct {
        const char *name, *value;
    } settings[] = {
        {"practice_name", "Quillhaven Implant Practice (invented)"},
        {"complete_since", "2020-07-01"},
        {"primary_reader", "R1"},
        {"fictional", "1"},
    };
    struct rt_text path = {0};
    enum rt_status status = join(demo->folder.path, "practice.db", &path, error);
    if (status == RT_OK)
        status = rt_store_create(path.bytes, error);
    if (status == RT_OK)
        status = rt_store_open(path.bytes, RT_STORE_WRITE, &demo->store, error);
    if (status == RT_OK)
        rt_show_progress(demo->store);
    for (size_t i = 0; i < sizeof settings / sizeof settings[0] && status == RT_OK; i++)
        status = rt_set_setting(demo->store, settings[i].name, settings[i].value, error);
    rt_text_release(&path);
    return status;
}

/* The sample files have mistakes on purpose, so that refused rows are no failure of the demo. */
static enum rt_status load_sheets(struct demo *demo, struct rt_error *error)
{
    struct rt_text paths[SHEETS] = {{0}};
    const char *files[SHEETS];
    struct rt_load_report reports[SHEETS * RT_RECORD_KINDS];
    const struct rt_load_options options = {.kind_given = false};
    size_t done = 0;
    enum rt_status status = RT_OK;
    memset(reports, 0, sizeof reports);
    for (size_t i = 0; i < SHEETS && status == RT_OK; i++) {
        status = join(demo->folder.path, names[i], &paths[i], error);
        files[i] = paths[i].bytes;
    }
    if (status == RT_OK)
        status = rt_load_files(demo->store, files, SHEETS, &options, reports, &done, error);
    if (status == RT_PARTIAL)
        status = RT_OK;
    for (size_t i = 0; i < SHEETS; i++) {
        if (i < done && status == RT_OK)
            printf("loaded  %s: %ld row%s in, %ld refused\n", files[i], reports[i].rows_new,
                   reports[i].rows_new == 1 ? "" : "s", reports[i].rows_refused);
        rt_release_load_report(&reports[i]);
        rt_text_release(&paths[i]);
    }
    return status;
}

static enum rt_status write_doubts(const struct demo *demo, struct rt_error *error)
{
    struct rt_text text = {0};
    long count = 0;
    enum rt_status status = rt_doubts_to_csv(demo->store, &text, error);
    if (status == RT_OK)
        status = write_in(demo->folder.path, "doubts.csv", text.bytes, text.length, error);
    if (status == RT_OK)
        status = rt_count_doubts(demo->store, &count, error);
    if (status == RT_OK)
        printf("doubts  %s/doubts.csv: %ld to look at\n", demo->folder.path, count);
    rt_text_release(&text);
    return status;
}

static enum rt_status write_due(const struct demo *demo, struct rt_error *error)
{
    enum rt_status status = rt_write_due(demo->store, demo->folder.path, error);
    if (status == RT_OK)
        printf("due     %s/due.html: recalls and cases to look at, under their labels\n", demo->folder.path);
    return status;
}

static enum rt_status write_audit(struct demo *demo, struct rt_error *error)
{
    struct rt_period period;
    char first[11], last[11];
    enum rt_status status = rt_default_period(demo->store, &period, error);
    if (status == RT_OK)
        status = rt_write_audit(demo->store, &period, NULL, true, demo->folder.path, &demo->written, error);
    if (demo->written.page != NULL)
        printf("audit   %s to %s; every number of the page is in %s\n",
               rt_format_iso_date(period.first_day, first), rt_format_iso_date(period.last_day, last),
               demo->written.figures);
    return status;
}

/* The verbs deck and trend as a user would run them, on the demo's store, each into a folder of its own; they print the path of
 * their page. */
static enum rt_status run_verb(const struct demo *demo, const char *verb, const char *operator_label,
                               enum rt_status (*verb_run)(int, char **, struct rt_error *),
                               struct rt_error *error)
{
    struct rt_text store = {0}, out = {0}, word = {0}, label = {0};
    char store_option[] = "--store", out_option[] = "--out", operator_option[] = "--operator";
    enum rt_status status = join(demo->folder.path, "practice.db", &store, error);
    if (status == RT_OK)
        status = join(demo->folder.path, verb, &out, error);
    rt_text_add(&word, verb);
    rt_text_add(&label, operator_label);
    if (status == RT_OK)
        status = rt_text_status(&word, error);
    if (status == RT_OK)
        status = rt_text_status(&label, error);
    if (status == RT_OK) {
        char *arguments[] = {word.bytes, store_option,    store.bytes, out_option,
                             out.bytes,  operator_option, label.bytes, NULL};
        printf("%-7s ", verb);
        status = verb_run(operator_label[0] == '\0' ? 5 : 7, arguments, error);
    }
    rt_text_release(&store);
    rt_text_release(&out);
    rt_text_release(&word);
    rt_text_release(&label);
    return status;
}

static enum rt_status run(struct demo *demo, const char *out, struct rt_error *error)
{
    enum rt_status status = rt_open_demo_folder(&demo->folder, out, names, NAMES, error);
    if (status != RT_OK)
        return status;
    printf("The practice is invented. See what each step does: ridgetally VERB --help\n");
    status = write_sheets(out, error);
    if (status == RT_OK)
        status = make_store(demo, error);
    if (status == RT_OK)
        status = load_sheets(demo, error);
    if (status == RT_OK)
        status = rt_hold_demo_meeting(demo->store, error);
    if (status == RT_OK)
        status = write_doubts(demo, error);
    if (status == RT_OK)
        status = write_due(demo, error);
    if (status == RT_OK)
        status = write_audit(demo, error);
    rt_store_close(demo->store);
    if (status == RT_OK)
        status = run_verb(demo, "deck", "", rt_deck_verb, error);
    if (status == RT_OK)
        status = run_verb(demo, "trend", "B", rt_trend_verb, error);
    struct rt_error listing = {0};
    enum rt_status listed = rt_list_demo_folder(&demo->folder, &listing);
    if (status == RT_OK && listed != RT_OK) {
        *error = listing;
        status = listed;
    }
    if (demo->written.page != NULL)
        printf("%s\n", demo->written.page);
    return status;
}

enum rt_status rt_demo_verb(int argc, char **argv, struct rt_error *error)
{
    const char *out = "ridgetally-demo";
    const struct rt_option options[] = {{"--out", RT_OPTION_TEXT, &out}};
    struct demo demo = {.store = NULL};
    enum rt_status status = rt_parse_options(argc, argv, options, 1, 0, 0, NULL, error);
    if (status == RT_OK) {
        status = run(&demo, out, error);
        enum rt_status printed = rt_write_stream(stdout, "", 0, status == RT_OK ? error : NULL);
        status = status == RT_OK ? printed : status;
    }
    rt_release_written_audit(&demo.written);
    rt_release_demo_folder(&demo.folder);
    return status;
}
