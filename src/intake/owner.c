#include "loader.h"

#include <stdio.h>
#include <string.h>

static enum rt_status find_patient(struct loader *loader, const char *label, int64_t *id,
                                   struct rt_error *error)
{
    if (loader->last_patient_id > 0 && strcmp(loader->last_patient, label) == 0) {
        *id = loader->last_patient_id;
        return RT_OK;
    }
    bool row = false;
    rt_bind_text_at(loader->find_patient, 1, label);
    enum rt_status status = rt_query_next(loader->find_patient, &row, error);
    *id = status == RT_OK && row ? rt_column_integer(loader->find_patient, 0, 0) : 0;
    rt_query_reset(loader->find_patient);
    return status;
}

static void remember_patient(struct loader *loader, const char *label, int64_t id)
{
    snprintf(loader->last_patient, sizeof loader->last_patient, "%s", label);
    loader->last_patient_id = id;
}

static enum rt_status add_patient(struct loader *loader, const char *label, int64_t *id,
                                  struct rt_error *error)
{
    rt_bind_text(loader->add_patient, ":label", label);
    rt_bind_integer(loader->add_patient, ":batch_id", loader->batch);
    enum rt_status status = rt_query_run(loader->add_patient, error);
    *id = rt_last_row_id(loader->store);
    if (status == RT_OK)
        remember_patient(loader, label, *id);
    if (status == RT_OK && loader->any_waiting)
        status = try_again(loader, label, "", error);
    return status;
}

static enum rt_status find_implant(struct loader *loader, struct record *record, struct rt_error *error)
{
    bool row = false;
    rt_bind_integer_at(loader->find_implant, 1, record->patient_id);
    rt_bind_text_at(loader->find_implant, 2, record->implant);
    enum rt_status status = rt_query_next(loader->find_implant, &row, error);
    if (status == RT_OK && row) {
        record->implant_id = rt_column_integer(loader->find_implant, 0, 0);
        record->length_mm = rt_column_real(loader->find_implant, 1);
    }
    rt_query_reset(loader->find_implant);
    return status;
}

static void fault_unknown(const struct record *record, struct faults *faults)
{
    faults->try_again = true;
    if (record->patient_id == 0)
        add_fault(faults, "patient", "this patient is in no implants file loaded so far",
                  "load the implant, or correct the label; the row is tried again at every load");
    else
        add_fault(faults, "implant", "this patient has no implant of that label",
                  "load the implant, or correct the label; the row is tried again at every load");
}

enum rt_status find_owners(struct loader *loader, enum rt_record_kind kind, struct record *record,
                           struct faults *faults, struct rt_error *error)
{
    enum rt_status status = find_patient(loader, record->patient, &record->patient_id, error);
    if (status == RT_OK && record->patient_id > 0)
        remember_patient(loader, record->patient, record->patient_id);
    if (status != RT_OK)
        return status;
    if (kind == RT_IMPLANTS)
        return record->patient_id > 0 ? RT_OK
                                      : add_patient(loader, record->patient, &record->patient_id, error);
    bool names_implant = record->implant[0] != '\0';
    if (record->patient_id > 0 && names_implant)
        status = find_implant(loader, record, error);
    if (status == RT_OK && (record->patient_id == 0 || (names_implant && record->implant_id == 0)))
        fault_unknown(record, faults);
    return status;
}
