#include "loader.h"

#include <math.h>

static enum rt_status find_patient(struct loader *loader, const char *label, int64_t *id,
                                   struct rt_error *error)
{
    bool row = false;
    *id = met_patient(loader->owners, label);
    if (*id > 0)
        return RT_OK;
    rt_bind_text_at(loader->find_patient, 1, label);
    enum rt_status status = rt_query_next(loader->find_patient, &row, error);
    *id = status == RT_OK && row ? rt_column_integer(loader->find_patient, 0, 0) : 0;
    rt_query_reset(loader->find_patient);
    if (*id > 0)
        keep_patient(loader->owners, label, *id);
    return status;
}

static enum rt_status add_patient(struct loader *loader, const char *label, int64_t *id,
                                  struct rt_error *error)
{
    rt_bind_text_at(loader->add_patient, 1, label);
    rt_bind_integer_at(loader->add_patient, 2, loader->batch);
    enum rt_status status = rt_query_run(loader->add_patient, error);
    *id = rt_last_row_id(loader->store);
    if (status == RT_OK)
        keep_patient(loader->owners, label, *id);
    if (status == RT_OK && loader->any_waiting)
        status = try_again(loader, label, "", error);
    return status;
}

static enum rt_status look_up_implant(struct loader *loader, struct record *record, struct rt_error *error)
{
    bool row = false;
    rt_bind_integer_at(loader->find_implant, 1, record->patient_id);
    rt_bind_text_at(loader->find_implant, 2, record->implant);
    enum rt_status status = rt_query_next(loader->find_implant, &row, error);
    bool found = status == RT_OK && row;
    if (found) {
        record->implant_id = rt_column_integer(loader->find_implant, 0, 0);
        record->length_mm = rt_column_real(loader->find_implant, 1);
    }
    rt_query_reset(loader->find_implant);
    if (found)
        keep_implant(loader->owners, record->patient_id, record->implant, record->implant_id,
                     record->length_mm);
    return status;
}

static enum rt_status find_implant(struct loader *loader, struct record *record, struct rt_error *error)
{
    record->implant_id = met_implant(loader->owners, record->patient_id, record->implant, &record->length_mm);
    return record->implant_id > 0 ? RT_OK : look_up_implant(loader, record, error);
}

void note_implant(struct loader *loader, const struct record *record, enum outcome outcome)
{
    const struct writer *writer = &loader->writers[RT_IMPLANTS];
    const struct rt_value *length = &record->values[writer->length];
    if (outcome == OUTCOME_NEW)
        keep_implant(loader->owners, record->patient_id, record->implant, rt_last_row_id(loader->store),
                     length->kind == RT_VALUE_REAL ? length->real : NAN);
    else if (outcome == OUTCOME_CHANGED)
        forget_implant(loader->owners, record->patient_id, record->implant);
}

/* A label without what spreadsheets add to it or take away: leading zeros, spaces, a trailing .0. The same form stands
 * in the checks of near-equal labels. */
#define CANONICAL(label)                                                                                     \
    "ltrim(replace(CASE WHEN " label " GLOB '*.0' THEN substr(" label ", 1, length(" label                   \
    ") - 2) ELSE " label " END, ' ', ''), '0')"

/* The canonical labels of all patients, listed once, when the first unknown patient of a file is met. */
static const char list_patients[] =
    "CREATE TEMP TABLE IF NOT EXISTS near_patient (label TEXT PRIMARY KEY) STRICT;"
    "DELETE FROM temp.near_patient;"
    "INSERT OR IGNORE INTO temp.near_patient SELECT " CANONICAL("label") " FROM patient";

static enum rt_status open_near(struct loader *loader, struct rt_error *error)
{
    if (loader->near_patient != NULL)
        return RT_OK;
    enum rt_status status = rt_run_script(loader->store, list_patients, error);
    if (status == RT_OK)
        status = rt_query_open_text(
            loader->store,
            "SELECT EXISTS (SELECT 1 FROM temp.near_patient WHERE label = " CANONICAL(":label") ")",
            &loader->near_patient, error);
    if (status == RT_OK)
        status = rt_query_open_text(
            loader->store,
            "SELECT EXISTS (SELECT 1 FROM implant i WHERE i.patient_id = :patient_id AND " CANONICAL(
                "i.label") " = " CANONICAL(":label") ")",
            &loader->near_implant, error);
    return status;
}

/* Whether a patient, or an implant of the known patient, has the same label but for what spreadsheets do to it. */
static enum rt_status has_near(struct loader *loader, const struct record *record, bool *near,
                               struct rt_error *error)
{
    bool row = false;
    enum rt_status status = open_near(loader, error);
    if (status != RT_OK)
        return status;
    struct rt_query *query = record->patient_id == 0 ? loader->near_patient : loader->near_implant;
    rt_bind_text(query, ":label", record->patient_id == 0 ? record->patient : record->implant);
    rt_bind_integer_at(query, rt_parameter(query, ":patient_id"), record->patient_id);
    status = rt_query_next(query, &row, error);
    *near = status == RT_OK && row && rt_column_integer(query, 0, 0) != 0;
    rt_query_reset(query);
    return status;
}

static enum rt_status fault_unknown(struct loader *loader, const struct record *record, struct faults *faults,
                                    struct rt_error *error)
{
    const char *column = record->patient_id == 0 ? "patient" : "implant";
    bool refused = false;
    bool near = false;
    faults->try_again = true;
    enum rt_status status = was_refused(loader, record, &refused, error);
    if (status == RT_OK && !refused)
        status = has_near(loader, record, &near, error);
    if (refused)
        add_fault(faults, column, "the row of this implant was refused",
                  "correct that row and load it; this one then enters by itself");
    else if (near)
        add_fault(faults, column, "not known, but for leading zeros, spaces or .0 it is like one that is",
                  "type the label as it stands in the implants sheet");
    else if (record->patient_id == 0)
        add_fault(faults, column, "this patient is in no implants file loaded so far",
                  "load the implant, or correct the label; the row is tried again at every load");
    else
        add_fault(faults, column, "this patient has no implant of that label",
                  "load the implant, or correct the label; the row is tried again at every load");
    return status;
}

enum rt_status find_owners(struct loader *loader, enum rt_record_kind kind, struct record *record,
                           struct faults *faults, struct rt_error *error)
{
    enum rt_status status = find_patient(loader, record->patient, &record->patient_id, error);
    if (status != RT_OK)
        return status;
    if (kind == RT_IMPLANTS)
        return record->patient_id > 0 ? RT_OK
                                      : add_patient(loader, record->patient, &record->patient_id, error);
    bool names_implant = record->implant[0] != '\0';
    if (record->patient_id > 0 && names_implant)
        status = find_implant(loader, record, error);
    if (status == RT_OK && (record->patient_id == 0 || (names_implant && record->implant_id == 0)))
        status = fault_unknown(loader, record, faults, error);
    return status;
}
