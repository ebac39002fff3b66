#include "ridgetally/intake/load.h"

#include "loader.h"

#include "ridgetally/base/interrupt.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/base/progress.h"
#include "ridgetally/store/clock.h"

#include <math.h>
#include <string.h>
#include <sys/stat.h>

static const char no_hash[] = "0000000000000000000000000000000000000000000000000000000000000000";

static const char *base_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash == NULL ? path : slash + 1;
}

/* --- one row
 * ------------------------------------------------------------------------------------------------ */

static enum rt_status enter_record(struct loader *loader, struct record *record, struct faults *faults,
                                   enum outcome *outcome, struct rt_error *error)
{
    struct writer *writer = &loader->writers[loader->kind];
    *outcome = OUTCOME_REFUSED;
    enum rt_status status = find_owners(loader, loader->kind, record, faults, error);
    if (status != RT_OK || faults->count > 0)
        return status;
    status = write_record(loader, writer, record, true, outcome, faults, error);
    if (status == RT_OK && loader->kind == RT_IMPLANTS)
        note_implant(loader, record, *outcome);
    if (status == RT_OK && *outcome == OUTCOME_NEW && loader->kind == RT_IMPLANTS && loader->any_waiting)
        status = try_again(loader, record->patient, record->implant, error);
    return status;
}

static enum rt_status count_outcome(struct loader *loader, const struct record *record,
                                    const struct faults *faults, enum outcome outcome, struct rt_error *error)
{
    struct rt_load_report *report = loader->report;
    report->rows_read++;
    switch (outcome) {
    case OUTCOME_NEW:
        report->rows_new++;
        break;
    case OUTCOME_CHANGED:
        report->rows_changed++;
        break;
    case OUTCOME_UNCHANGED:
        report->rows_unchanged++;
        break;
    case OUTCOME_REFUSED: {
        report->rows_refused++;
        enum rt_status status = spare_refused(loader, record, error);
        return status == RT_OK ? refuse_record(loader, record, faults, error) : status;
    }
    }
    return note_accepted(loader, record, error);
}

/* A row that was read and typed: into the store, or among those refused. */
static enum rt_status settle_row(struct loader *loader, struct typed_row *row, struct rt_error *error)
{
    struct faults found; /* its items are written before they are read */
    struct faults *faults = row->faulty ? row->faults : &found;
    enum outcome outcome = OUTCOME_REFUSED;
    enum rt_status status = RT_OK;
    found.count = 0;
    found.try_again = false;
    rt_progress_show(loader->progress, loader->doing.bytes, (double)row->record.line, "lines",
                     row->bytes_read > 0 ? row->bytes_read / loader->bytes : NAN);
    if (!row->faulty)
        status = enter_record(loader, &row->record, faults, &outcome, error);
    return status == RT_OK ? count_outcome(loader, &row->record, faults, outcome, error) : status;
}

/* --- one file
 * ----------------------------------------------------------------------------------------------- */

static enum rt_status open_loader(struct loader *loader, struct rt_error *error)
{
    struct {
        struct rt_query **query;
        const char *sql;
    } statements[] = {
        {&loader->find_patient, "SELECT id FROM patient WHERE label = :label"},
        {&loader->find_family,
         "SELECT p.id, i.id, i.label, i.length_mm FROM patient p LEFT JOIN implant i ON "
         "i.patient_id = p.id WHERE p.label = :label LIMIT 32"},
        {&loader->add_patient,
         "INSERT INTO patient (label, batch_id) VALUES (:label, :batch_id) ON CONFLICT DO NOTHING"},
        {&loader->find_implant,
         "SELECT id, length_mm FROM implant WHERE patient_id = :patient_id AND label = :label"},
        {&loader->add_history,
         "INSERT INTO history (batch_id, table_name, row_id, column_name, old_value, new_value) "
         "VALUES (:batch_id, :table_name, :row_id, :column_name, :old_value, :new_value)"},
    };
    enum rt_status status = open_writer(loader, loader->kind, error);
    if (status == RT_OK)
        status = renew_owners(loader->owners, loader->store, error);
    for (size_t i = 0; status == RT_OK && i < sizeof statements / sizeof statements[0]; i++)
        status = rt_query_open_text(loader->store, statements[i].sql, statements[i].query, error);
    if (status == RT_OK)
        status = open_whole(loader, error);
    return status == RT_OK ? open_refusals(loader, error) : status;
}

static void close_loader(struct loader *loader)
{
    for (size_t i = 0; i < RT_RECORD_KINDS; i++)
        close_writer(&loader->writers[i]);
    rt_query_close(loader->find_patient);
    rt_query_close(loader->find_family);
    rt_query_close(loader->add_patient);
    rt_query_close(loader->find_implant);
    rt_query_close(loader->add_history);
    rt_query_close(loader->near_patient);
    rt_query_close(loader->near_implant);
    rt_query_close(loader->spare);
    release_watch(loader->watch);
    close_refusals(loader);
}

static enum rt_status start_batch(struct loader *loader, struct rt_error *error)
{
    struct rt_query *query = NULL;
    char now[RT_CLOCK_BYTES];
    enum rt_status status = rt_query_open_text(loader->store,
                                               "INSERT INTO batch (file_name, kind, sha256, loaded_at, "
                                               "program, map_text, whole) VALUES (:file_name, :kind, "
                                               ":sha256, :loaded_at, :program, :map_text, :whole)",
                                               &query, error);
    rt_bind_text(query, ":file_name", base_name(loader->report->path));
    rt_bind_text(query, ":kind", rt_form(loader->kind)->name);
    rt_bind_text(query, ":sha256", no_hash);
    rt_bind_text(query, ":loaded_at", rt_clock(now));
    rt_bind_text(query, ":program", RT_VERSION);
    rt_bind_text(query, ":map_text", loader->report->map_text);
    rt_bind_integer(query, ":whole", loader->report->whole);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    loader->batch = rt_last_row_id(loader->store);
    loader->report->batch = loader->batch;
    rt_query_close(query);
    return status;
}

static enum rt_status find_same_file(struct loader *loader, const char *sha256, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open_text(loader->store,
                                               "SELECT max(id) FROM batch WHERE sha256 = :sha256 AND id <> "
                                               ":id AND kind = :kind AND undone_at IS NULL",
                                               &query, error);
    rt_bind_text(query, ":sha256", sha256);
    rt_bind_text(query, ":kind", rt_form(loader->kind)->name);
    rt_bind_integer(query, ":id", loader->batch);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    if (status == RT_OK && row)
        loader->report->same_as_batch = rt_column_integer(query, 0, 0);
    rt_query_close(query);
    return status;
}

static enum rt_status finish_batch(struct loader *loader, const char *sha256, struct rt_error *error)
{
    const struct rt_load_report *report = loader->report;
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open_text(
        loader->store,
        "UPDATE batch SET sha256 = :sha256, rows_read = :read, rows_new = :new, rows_changed = :changed, "
        "rows_unchanged = :unchanged, rows_refused = :refused, rows_mended = :mended WHERE id = :id",
        &query, error);
    rt_bind_text(query, ":sha256", sha256);
    rt_bind_integer(query, ":read", report->rows_read);
    rt_bind_integer(query, ":new", report->rows_new);
    rt_bind_integer(query, ":changed", report->rows_changed);
    rt_bind_integer(query, ":unchanged", report->rows_unchanged);
    rt_bind_integer(query, ":refused", report->rows_refused);
    rt_bind_integer(query, ":mended", report->rows_mended);
    rt_bind_integer(query, ":id", loader->batch);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    return status;
}

enum rt_status recalibrate(struct rt_store *store, int64_t batch, struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open(store, "sql/intake/recalibrate.sql", &query, error);
    rt_bind_integer(query, ":batch", batch);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    return status;
}

/* A sheet of several kinds may have rows and none of this kind. */
static enum rt_status check_rows(const struct rt_load_report *report, long rows, struct rt_error *error)
{
    if (rows > 0)
        return RT_OK;
    rt_fail(error, RT_INPUT, "this file has a header and no rows");
    rt_error_locate(error, report->path, 0, NULL);
    rt_error_remedy(error, "check that this is the right file");
    return RT_INPUT;
}

/* A changed implant may change the levels of its readings; one that is new may let waiting rows of any kind in. */
static unsigned touched_by(const struct rt_load_report *report)
{
    static const unsigned of_kind[RT_RECORD_KINDS] = {[RT_IMPLANTS] =
                                                          RT_TOUCHED_PATIENTS | RT_TOUCHED_IMPLANTS,
                                                      [RT_FOLLOWUPS] = RT_TOUCHED_READINGS,
                                                      [RT_EVENTS] = RT_TOUCHED_EVENTS};
    long changed =
        report->rows_new + report->rows_changed + report->rows_mended + report->rows_gone + report->rows_back;
    bool others = report->kind == RT_IMPLANTS && report->rows_changed + report->rows_mended > 0;
    return changed == 0 ? 0 : others ? RT_TOUCHED_ALL : of_kind[report->kind];
}

static enum rt_status load_rows(struct loader *loader, struct rt_error *error)
{
    char sha256[RT_SHA256_HEX] = "";
    struct rt_load_report *report = loader->report;
    long rows = 0;
    enum rt_status status = start_batch(loader, error);
    if (status == RT_OK)
        status = read_ahead(loader, settle_row, sha256, &rows, error);
    if (status == RT_OK)
        status = check_rows(report, rows, error);
    rt_progress_show(loader->progress, "checking the records", NAN, "", NAN);
    if (status == RT_OK)
        status = find_same_file(loader, sha256, error);
    if (status == RT_OK)
        status = settle_refusals(loader, error);
    if (status == RT_OK)
        status = finish_batch(loader, sha256, error);
    if (status == RT_OK && report->rows_changed > 0)
        status = recalibrate(loader->store, loader->batch, error);
    if (status == RT_OK)
        status = settle_gone(loader, error);
    if (status == RT_OK)
        status = refresh_doubts(loader->store, loader->batch, touched_by(report), &report->doubts_raised,
                                &report->doubts_mended, error);
    if (status == RT_OK)
        status = tell_watched(loader, error);
    if (status == RT_OK)
        status = add_warnings(loader->store, report, error);
    return status == RT_OK ? rt_text_status(&report->words, error) : status;
}

/* What a waiting user is told. Without memory for the words no one is told. */
static void tell_what(struct loader *loader)
{
    struct stat information;
    loader->progress = rt_store_progress(loader->store);
    loader->bytes = stat(loader->report->bytes_path, &information) == 0 && information.st_size > 0
                        ? (double)information.st_size
                        : NAN;
    rt_text_format(&loader->doing, "reading %s", base_name(loader->report->path));
    if (loader->doing.failed)
        loader->progress = NULL;
}

static enum rt_status load_file(struct rt_store *store, const struct rt_load_options *options,
                                struct owners *owners, struct rt_load_report *report, struct rt_error *error)
{
    struct loader *loader = rt_new_array(1, sizeof *loader); /* too large for the stack to be polite */
    if (loader == NULL)
        return rt_fail_memory(error);
    loader->store = store;
    loader->report = report;
    loader->kind = report->kind;
    loader->options = options;
    loader->owners = owners;
    tell_what(loader);
    enum rt_status status = rt_transaction_begin(store, error);
    if (status == RT_OK) {
        status = rt_keep_to_key(store, options->key, error);
        if (status == RT_OK)
            status = rt_store_test_constraints(store, false,
                                               error); /* cells are tested by their form, owners looked up */
        if (status == RT_OK)
            status = open_loader(loader, error);
        if (status == RT_OK)
            status = load_rows(loader, error);
        close_loader(loader);
        struct rt_error ignored = {0};
        enum rt_status back = rt_store_test_constraints(store, true, status == RT_OK ? error : &ignored);
        status = status == RT_OK ? back : status;
        if (status == RT_OK)
            status = rt_transaction_commit(store, error);
        else
            rt_transaction_rollback(store);
    }
    rt_error_locate(status == RT_OK ? NULL : error, report->path, 0, NULL);
    rt_progress_end(loader->progress);
    rt_text_release(&loader->doing);
    free(loader);
    return status;
}

/* --- several files
 * ------------------------------------------------------------------------------------------ */

static enum rt_status order_files(struct rt_store *store, const struct spool *spools, size_t count,
                                  const struct rt_load_options *options, struct rt_load_report *reports,
                                  size_t *placed, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    struct file_plan *plans = rt_new_array(count, sizeof *plans);
    if (plans == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; status == RT_OK && i < count; i++)
        status = plan_file(store, spools[i].path, options, &plans[i], error);
    for (size_t k = 0; status == RT_OK && k < RT_RECORD_KINDS; k++) {
        for (size_t i = 0; status == RT_OK && i < count; i++) {
            if (!plans[i].kinds[k])
                continue;
            struct rt_load_report *report = &reports[(*placed)++];
            report->path = spools[i].shown;
            report->bytes_path = spools[i].path;
            for (size_t j = 0; j + 1 < *placed; j++)
                report->sheet_watched = report->sheet_watched || reports[j].bytes_path == spools[i].path;
            report->whole = options->whole;
            report->kind = (enum rt_record_kind)k;
            status = take_plan(report, &plans[i], error);
        }
    }
    for (size_t i = 0; i < count; i++)
        free(plans[i].map_text);
    free(plans);
    for (size_t i = 1; status == RT_OK && options->whole && i < *placed; i++) {
        if (reports[i].kind != reports[i - 1].kind)
            continue;
        status = rt_fail(error, RT_USE, "two files of %s cannot each be all of them",
                         rt_form(reports[i].kind)->name);
        rt_error_remedy(error, "put them into one sheet, or load them without --whole");
    }
    return status;
}

static enum rt_status load_in_order(struct rt_store *store, const struct rt_load_options *options,
                                    size_t count, struct rt_load_report *reports, size_t *done,
                                    struct rt_error *error)
{
    bool refused = false;
    struct owners *owners = new_owners();
    enum rt_status status = owners == NULL ? rt_fail_memory(error) : RT_OK;
    for (size_t i = 0; status == RT_OK && i < count; i++) {
        status = rt_check_interrupt(error);
        if (status == RT_OK)
            status = load_file(store, options, owners, &reports[i], error);
        if (status != RT_OK)
            break;
        refused = refused || reports[i].rows_refused > 0;
        *done = i + 1;
    }
    release_owners(owners);
    return status == RT_OK && refused ? RT_PARTIAL : status;
}

enum rt_status rt_load_files(struct rt_store *store, const char *const *paths, size_t count,
                             const struct rt_load_options *options, struct rt_load_report *reports,
                             size_t *done, struct rt_error *error)
{
    *done = 0;
    size_t placed = 0;
    size_t opened = 0;
    struct spool *spools = rt_new_array(count, sizeof *spools);
    enum rt_status status = spools == NULL ? rt_fail_memory(error) : RT_OK;
    while (status == RT_OK && opened < count) {
        status = open_spool(paths[opened], &spools[opened], error);
        opened++;
    }
    if (status == RT_OK)
        status = order_files(store, spools, count, options, reports, &placed, error);
    if (status == RT_OK && options->dry_run)
        status = rt_transaction_begin(store, error); /* files see each other, and all are rolled back */
    if (status == RT_OK) {
        status = load_in_order(store, options, placed, reports, done, error);
        if (options->dry_run)
            rt_transaction_rollback(store);
    }
    for (size_t i = 0; i < opened; i++)
        close_spool(&spools[i], error);
    free(spools);
    return status;
}
