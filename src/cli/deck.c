#include "ridgetally/cli/deck.h"

#include "deck_parts.h"

#include "ridgetally/audit/audit.h"
#include "ridgetally/audit/judged.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/file.h"
#include "ridgetally/base/interrupt.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/chart/chart.h"
#include "ridgetally/chart/picture.h"
#include "ridgetally/cli/figures.h"
#include "ridgetally/cli/open_page.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/output/deck.h"
#include "ridgetally/page/slides.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LARGEST_SLIDE_FILE = 1 << 20 };

struct choices {
    const char *store, *period, *folder, *slides;
    int from, to;
    bool show_operators, show_lines, show;
    struct rt_audit_filters filters;
};

struct work {
    struct rt_figure_list figures;
    struct rt_audit_info info;
    struct rt_slide_list slides;
    struct rt_deck_rows rows;
    struct rt_document document;
    struct rt_chart_request *requests;
    struct rt_chart *charts;
    struct rt_text conditions, words, page, csv, withheld;
    char *salt;
    bool drawn, painted;
};

static void release(struct work *work)
{
    if (work->charts != NULL)
        rt_release_charts(work->charts, work->document.chart_count);
    free(work->charts);
    free(work->requests);
    rt_release_document(&work->document);
    rt_release_deck_rows(&work->rows);
    rt_release_slides(&work->slides);
    rt_release_figures(&work->figures);
    rt_text_release(&work->conditions);
    rt_text_release(&work->words);
    rt_text_release(&work->page);
    rt_text_release(&work->csv);
    rt_text_release(&work->withheld);
    free(work->salt);
}

static enum rt_status read_list(const char *file, struct rt_slide_list *list, struct rt_error *error)
{
    char *bytes = NULL;
    size_t length = 0;
    if (file == NULL)
        return rt_usual_slides(list, error);
    enum rt_status status = rt_read_file(file, LARGEST_SLIDE_FILE, &bytes, &length, error);
    if (status == RT_OK && strlen(bytes) != length)
        status = rt_fail(error, RT_INPUT, "%s is not a text file", file);
    if (status == RT_OK)
        status = rt_read_slides(bytes, file, list, error);
    free(bytes);
    return status;
}

/* Earlier cells first, then those of the slides. */
static enum rt_status settle(struct rt_store *store, const struct choices *choices, struct work *work,
                             struct rt_error *error)
{
    enum rt_status status = rt_setting(store, "hash_salt", &work->salt, error);
    work->rows = (struct rt_deck_rows){.figures = &work->figures,
                                       .first_day = work->info.first_day,
                                       .last_day = work->info.last_day,
                                       .conditions = work->conditions.bytes,
                                       .salt = work->salt,
                                       .show_operators = choices->show_operators,
                                       .show_lines = choices->show_lines};
    if (status == RT_OK)
        status = load_issued_cells(store, &work->rows, error);
    if (status == RT_OK)
        status = load_deck_letters(store, &work->rows, error);
    for (size_t i = 0; status == RT_OK && i < work->slides.count; i++)
        if (rt_is_deck_finding(work->slides.slides[i].name))
            status = rt_add_deck_slide(&work->rows, work->slides.slides[i].name, error);
    if (status == RT_OK)
        status = rt_settle_deck(&work->rows, error);
    return status;
}

static enum rt_status draw(struct work *work, struct rt_error *error)
{
    struct rt_error drawing = {0};
    size_t count = work->document.chart_count;
    work->requests = rt_new_array(count, sizeof *work->requests);
    work->charts = rt_new_array(count, sizeof *work->charts);
    if (work->requests == NULL || work->charts == NULL)
        return rt_fail_memory(error);
    rt_document_charts(&work->document, work->requests);
    enum rt_status status = rt_draw_charts(work->requests, count, work->charts, &drawing);
    work->drawn = status == RT_OK;
    if (status == RT_SYSTEM) {
        work->document.without_charts = rt_document_text(&work->document, "%s", drawing.message);
        return RT_OK;
    }
    if (status != RT_OK && error != NULL)
        *error = drawing;
    return status;
}

static enum rt_status compose(const struct choices *choices, struct work *work, struct rt_error *error)
{
    const struct rt_deck_subject subject = {&work->info, work->words.bytes, &work->rows, &work->slides};
    enum rt_status status = rt_plan_deck(&subject, choices->slides, &work->document, error);
    if (status == RT_OK)
        status = draw(work, error);
    if (status == RT_OK)
        status = rt_render_slides(&work->document, work->drawn ? work->charts : NULL, &work->page, error);
    rt_figures_to_csv(&work->rows.shown, &work->csv);
    rt_withheld_to_csv(&work->rows, &work->withheld);
    if (status == RT_OK)
        status = rt_text_status(&work->csv, error);
    return status == RT_OK ? rt_text_status(&work->withheld, error) : status;
}

static enum rt_status write_in(const char *folder, const char *name, const struct rt_text *text,
                               struct rt_error *error)
{
    struct rt_text path = {0};
    rt_text_format(&path, "%s%s", folder, name);
    enum rt_status status = rt_text_status(&path, error);
    if (status == RT_OK)
        status = rt_write_file(path.bytes, text->bytes == NULL ? "" : text->bytes, text->length, error);
    rt_text_release(&path);
    return status;
}

static enum rt_status write_charts(const char *folder, struct work *work, struct rt_error *error)
{
    struct rt_text path = {0};
    rt_text_format(&path, "%s/charts", folder);
    enum rt_status status = rt_text_status(&path, error);
    if (status == RT_OK)
        status = rt_make_folder(path.bytes, error);
    work->painted = true;
    for (size_t i = 0; status == RT_OK && work->drawn && i < work->document.chart_count; i++) {
        if (work->charts[i].wide == NULL)
            continue;
        bool painted = false;
        rt_text_clear(&path);
        rt_text_format(&path, "%s/charts/%s", folder, work->requests[i].id);
        status = rt_text_status(&path, error);
        if (status == RT_OK)
            status = rt_write_pictures(work->charts[i].wide, path.bytes, &painted, error);
        work->painted = work->painted && painted;
    }
    rt_text_release(&path);
    return status;
}

static enum rt_status write_files(const char *folder, struct work *work, struct rt_error *error)
{
    enum rt_status status = rt_check_interrupt(error);
    if (status == RT_OK)
        status = rt_make_folder(folder, error);
    if (status == RT_OK)
        status = write_in(folder, "-withheld.csv", &work->withheld, error);
    if (status == RT_OK)
        status = write_in(folder, "/figures.csv", &work->csv, error);
    if (status == RT_OK)
        status = write_charts(folder, work, error);
    if (status == RT_OK)
        status = write_in(folder, "/deck.html", &work->page, error);
    return status;
}

static void name_folder(const struct choices *choices, const struct rt_audit_info *info,
                        struct rt_text *folder)
{
    char first[11], last[11];
    if (choices->folder != NULL) {
        size_t length = strlen(choices->folder);
        while (length > 1 && choices->folder[length - 1] == '/')
            length--;
        rt_text_add(folder, choices->folder[0] == '-' ? "./" : "");
        rt_text_add_bytes(folder, choices->folder, length);
    } else if (info->period_name[0] != '\0') {
        rt_text_format(folder, "deck-%s", info->period_name);
    } else {
        rt_text_format(folder, "deck-%s-to-%s", rt_format_iso_date(info->first_day, first),
                       rt_format_iso_date(info->last_day, last));
    }
}

/* The cells are kept before the first file is written: a deck that was seen and not kept would undo the promise. */
static enum rt_status issue(struct rt_store *store, const struct choices *choices, struct work *work,
                            struct rt_error *error)
{
    struct rt_text folder = {0};
    name_folder(choices, &work->info, &folder);
    enum rt_status status = rt_text_status(&folder, error);
    if (status == RT_OK)
        status = record_issued_deck(store, &work->info, &work->rows, error);
    if (status == RT_OK)
        status = write_files(folder.bytes, work, error);
    if (status == RT_OK) {
        rt_text_add(&folder, "/deck.html");
        status = rt_text_status(&folder, error);
    }
    if (status == RT_OK) {
        printf("%s\n", folder.bytes);
        status = rt_write_stream(stdout, "", 0, error);
    }
    if (status == RT_OK && !work->drawn) {
        status = rt_fail(error, RT_SYSTEM, "the deck has no charts: %s", work->document.without_charts);
    } else if (status == RT_OK && !work->painted) {
        fprintf(stderr, "ridgetally: no PNG files: rsvg-convert is not installed (Debian: librsvg2-bin)\n");
    }
    if (status == RT_OK && choices->show)
        status = rt_open_page(folder.bytes, error);
    rt_text_release(&folder);
    return status;
}

static enum rt_status choose(struct rt_store *store, const struct choices *choices, struct rt_period *period,
                             struct rt_error *error)
{
    bool dates = choices->from != RT_NO_DATE || choices->to != RT_NO_DATE;
    if (choices->period != NULL && dates)
        return rt_fail(error, RT_USE, "give either --period or --from and --to");
    if (choices->period == NULL && !dates)
        return rt_default_period(store, period, error);
    return rt_choose_period(store, choices->period, choices->from, choices->to, period, error);
}

static enum rt_status make_deck(struct rt_store *store, const struct choices *choices, struct work *work,
                                struct rt_error *error)
{
    struct rt_period period;
    enum rt_status status = choose(store, choices, &period, error);
    if (status == RT_OK)
        status = rt_audit_run(store, &period, &choices->filters, &work->figures, NULL, &work->info, error);
    if (status == RT_OK)
        status = settle(store, choices, work, error);
    if (status == RT_OK)
        status = compose(choices, work, error);
    if (status == RT_OK)
        status = issue(store, choices, work, error);
    return status;
}

enum rt_status rt_deck_verb(int argc, char **argv, struct rt_error *error)
{
    struct choices choices = {.from = RT_NO_DATE, .to = RT_NO_DATE, .filters = rt_no_filters()};
    const struct rt_option options[] = {{"--store", RT_OPTION_TEXT, &choices.store},
                                        {"--period", RT_OPTION_TEXT, &choices.period},
                                        {"--from", RT_OPTION_DATE, &choices.from},
                                        {"--to", RT_OPTION_DATE, &choices.to},
                                        {"--out", RT_OPTION_TEXT, &choices.folder},
                                        {"--slides", RT_OPTION_TEXT, &choices.slides},
                                        {"--show-operators", RT_OPTION_FLAG, &choices.show_operators},
                                        {"--show-lines", RT_OPTION_FLAG, &choices.show_lines},
                                        {"--open", RT_OPTION_FLAG, &choices.show},
                                        RT_FILTER_OPTIONS(choices.filters)};
    struct work work = {.salt = NULL};
    struct rt_store *store = NULL;
    enum rt_status status =
        rt_parse_options(argc, argv, options, sizeof options / sizeof options[0], 0, 0, NULL, error);
    if (status == RT_OK)
        status = deck_conditions(&choices.filters, &work.conditions, error);
    if (status == RT_OK)
        status = read_list(choices.slides, &work.slides, error);
    deck_filter_words(&choices.filters, choices.show_operators, choices.show_lines, &work.words);
    if (status == RT_OK)
        status = rt_text_status(&work.words, error);
    if (status == RT_OK)
        status = rt_open_chosen_store(choices.store, RT_STORE_WRITE, &store, error);
    if (status == RT_OK)
        status = make_deck(store, &choices, &work, error);
    release(&work);
    rt_store_close(store);
    return status;
}
