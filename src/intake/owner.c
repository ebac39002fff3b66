#include "loader.h"

#include <math.h>

/* The patient alone. */
static enum rt_status look_up_patient(struct loader *loader, const char *label, int64_t *id,
                                      struct rt_error *error)
{
    bool row = false;
    rt_bind_text_at(loader->find_patient, 1, label);
    enum rt_status status = rt_query_next(loader->find_patient, &row, error);
    *id = status == RT_OK && row ? rt_column_integer(loader->find_patient, 0, 0) : 0;
    rt_query_reset(loader->find_patient);
    if (*id > 0)
        keep_patient(loader->owners, label, *id);
    return status;
}

/* The patient and, for the rows to come, the implants of the patient: one question where there would be one for each. */
static enum rt_status look_up_family(struct loader *loader, const char *label, int64_t *id,
                                     struct rt_error *error)
{
    struct rt_query *query = loader->find_family;
    bool row = true;
    enum rt_status status = RT_OK;
    rt_bind_text_at(query, 1, label);
    while (status == RT_OK && row) {
        status = rt_query_next(query, &row, error);
        if (status != RT_OK || !row)
            continue;
        *id = rt_column_integer(query, 0, 0);
        if (!rt_column_is_null(query, 1))
            keep_implant(loader->owners, *id, rt_column_text(query, 2), rt_column_integer(query, 1, 0),
                         rt_column_real(query, 3));
    }
    rt_query_reset(query);
    if (*id > 0)
        keep_patient(loader->owners, label, *id);
    return status;
}

/* 0 = there is none of that label. */
static enum rt_status find_patient(struct loader *loader, const char *label, int64_t *id,
                                   struct rt_error *error)
{
    *id = met_patient(loader->owners, label);
    if (*id > 0)
        return RT_OK;
    /* what cannot be kept is not asked for again and again */
    return loader->kind != RT_IMPLANTS && can_keep(label) ? look_up_family(loader, label, id, error)
                                                          : look_up_patient(loader, label, id, error);
}

/* In a sheet of implants: those in the store are found, others added. Where the patient before was new this one is likely to be,
 * and adding is tried before finding. */
static enum rt_status find_or_add_patient(struct loader *loader, const char *label, int64_t *id,
                                          struct rt_error *error)
{
    enum rt_status status = RT_OK;
    *id = met_patient(loader->owners, label);
    if (*id == 0 && !loader->patients_new)
        status = look_up_patient(loader, label, id, error);
    if (status != RT_OK || *id > 0)
        return status;
    rt_bind_text_at(loader->add_patient, 1, label);
    rt_bind_integer_at(loader->add_patient, 2, loader->batch);
    status = rt_query_run(loader->add_patient, error);
    if (status != RT_OK)
        return status;
    loader->patients_new = rt_rows_changed(loader->store) == 1;
    if (!loader->patients_new)
        return look_up_patient(loader, label, id, error);
    *id = rt_last_row_id(loader->store);
    keep_patient(loader->owners, label, *id);
    return loader->any_waiting ? try_again(loader, label, "", error) : RT_OK;
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
    if (kind == RT_IMPLANTS)
        return find_or_add_patient(loader, record->patient, &record->patient_id, error);
    enum rt_status status = find_patient(loader, record->patient, &record->patient_id, error);
    if (status != RT_OK)
        return status;
    bool names_implant = record->implant[0] != '\0';
    if (record->patient_id > 0 && names_implant)
        status = find_implant(loader, record, error);
    if (status == RT_OK && (record->patient_id == 0 || (names_implant && record->implant_id == 0)))
        status = fault_unknown(loader, record, faults, error);
    return status;
}
