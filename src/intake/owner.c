#include "loader.h"

#include "ridgetally/base/memory.h"

#include <stdlib.h>
#include <string.h>

/* --- owners met lately --------------------------------------------------------------------------------------- */

/* Rows of one patient, or of one implant, are met again and again, seldom far apart: the owners met last, each in the place its
 * label falls on, spare most questions to the store. Longer labels are asked for every time. */
enum { PATIENT_PLACES = 1 << 14, IMPLANT_PLACES = 1 << 15, LONGEST_KEPT = 31 };

struct kept_patient {
    int64_t id; /* 0: nobody */
    char label[LONGEST_KEPT + 1];
};

struct kept_implant {
    int64_t id, patient_id;
    double length_mm;
    char label[LONGEST_KEPT + 1];
};

struct owners {
    struct kept_patient patients[PATIENT_PLACES];
    struct kept_implant implants[IMPLANT_PLACES];
};

enum rt_status open_owners(struct loader *loader, struct rt_error *error)
{
    loader->owners = rt_new_array(1, sizeof *loader->owners);
    return loader->owners == NULL ? rt_fail_memory(error) : RT_OK;
}

void close_owners(struct loader *loader)
{
    free(loader->owners);
    loader->owners = NULL;
}

/* FNV-1a, from memory: what it is given to spread are labels; a label that shares its place is only asked for again. */
static uint64_t spread_label(uint64_t start, const char *label)
{
    uint64_t hash = start ^ 0xcbf29ce484222325u;
    for (const char *at = label; *at != '\0'; at++)
        hash = (hash ^ (unsigned char)*at) * 0x100000001b3u;
    return hash ^ hash >> 32;
}

static struct kept_patient *place_of_patient(const struct loader *loader, const char *label)
{
    return &loader->owners->patients[spread_label(0, label) % PATIENT_PLACES];
}

static struct kept_implant *place_of_implant(const struct loader *loader, int64_t patient_id,
                                             const char *label)
{
    return &loader->owners
                ->implants[spread_label((uint64_t)patient_id * 0x9e3779b97f4a7c15u, label) % IMPLANT_PLACES];
}

static void keep_patient(struct loader *loader, const char *label, int64_t id)
{
    struct kept_patient *place = place_of_patient(loader, label);
    size_t length = strlen(label);
    if (length > LONGEST_KEPT)
        return;
    memcpy(place->label, label, length + 1);
    place->id = id;
}

static void keep_implant(struct loader *loader, const struct record *record)
{
    struct kept_implant *place = place_of_implant(loader, record->patient_id, record->implant);
    size_t length = strlen(record->implant);
    if (length > LONGEST_KEPT)
        return;
    memcpy(place->label, record->implant, length + 1);
    place->id = record->implant_id;
    place->patient_id = record->patient_id;
    place->length_mm = record->length_mm;
}

/* --- asking the store ---------------------------------------------------------------------------------------- */

static enum rt_status find_patient(struct loader *loader, const char *label, int64_t *id,
                                   struct rt_error *error)
{
    const struct kept_patient *kept = place_of_patient(loader, label);
    if (kept->id > 0 && strcmp(kept->label, label) == 0) {
        *id = kept->id;
        return RT_OK;
    }
    bool row = false;
    rt_bind_text_at(loader->find_patient, 1, label);
    enum rt_status status = rt_query_next(loader->find_patient, &row, error);
    *id = status == RT_OK && row ? rt_column_integer(loader->find_patient, 0, 0) : 0;
    rt_query_reset(loader->find_patient);
    if (*id > 0)
        keep_patient(loader, label, *id);
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
        keep_patient(loader, label, *id);
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
        keep_implant(loader, record);
    return status;
}

static enum rt_status find_implant(struct loader *loader, struct record *record, struct rt_error *error)
{
    const struct kept_implant *kept = place_of_implant(loader, record->patient_id, record->implant);
    if (kept->id == 0 || kept->patient_id != record->patient_id || strcmp(kept->label, record->implant) != 0)
        return look_up_implant(loader, record, error);
    record->implant_id = kept->id;
    record->length_mm = kept->length_mm;
    return RT_OK;
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
