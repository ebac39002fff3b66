/* The owners met lately: rows of one patient, or of one implant, are met again and again, in the sheet that brought them and in those
 * after it, and whoever was met spares a question to the store. */
#include "loader.h"

#include "ridgetally/base/memory.h"

#include <stdlib.h>
#include <string.h>

/* Each owner lies in one of the few places side by side that its label falls on, where another may drive it out; the places become
 * more as they fill, up to what is worth its memory. Longer labels are asked for every time. */
enum {
    LEAST_PLACES = 1 << 10,
    MOST_PATIENTS = 1 << 15,
    MOST_IMPLANTS = 1 << 16,
    SIDE_BY_SIDE = 4,
    LONGEST_KEPT = 31
};

struct place {
    int64_t id;       /* 0: nobody */
    int64_t owner;    /* of an implant its patient, of a patient 0 */
    double length_mm; /* of an implant */
    char label[LONGEST_KEPT + 1];
};

struct places_met {
    struct place *places;
    size_t count, most; /* of places */
    size_t filled;
};

struct owners {
    struct places_met patients, implants;
    int64_t store_version;
};

struct owners *new_owners(void)
{
    struct owners *owners = rt_new_array(1, sizeof *owners);
    if (owners == NULL)
        return NULL;
    owners->patients.most = MOST_PATIENTS;
    owners->implants.most = MOST_IMPLANTS;
    return owners;
}

static void forget_all(struct places_met *met)
{
    free(met->places);
    met->places = NULL;
    met->count = 0;
    met->filled = 0;
}

void release_owners(struct owners *owners)
{
    if (owners == NULL)
        return;
    forget_all(&owners->patients);
    forget_all(&owners->implants);
    free(owners);
}

enum rt_status renew_owners(struct owners *owners, struct rt_store *store, struct rt_error *error)
{
    int64_t version = 0;
    enum rt_status status = rt_store_version(store, &version, error);
    if (status != RT_OK || version == owners->store_version)
        return status;
    forget_all(&owners->patients);
    forget_all(&owners->implants);
    owners->store_version = version;
    return RT_OK;
}

/* FNV-1a, from memory: what it is given to spread are labels; a label that shares its place is only asked for again. */
static size_t spread_label(int64_t owner, const char *label)
{
    uint64_t hash = ((uint64_t)owner * 0x9e3779b97f4a7c15u) ^ 0xcbf29ce484222325u;
    for (const char *at = label; *at != '\0'; at++)
        hash = (hash ^ (unsigned char)*at) * 0x100000001b3u;
    return (size_t)(hash ^ hash >> 32);
}

/* The first of the places a label falls on. */
static struct place *places_of(const struct places_met *met, int64_t owner, const char *label)
{
    return &met->places[spread_label(owner, label) & (met->count - 1) & ~(size_t)(SIDE_BY_SIDE - 1)];
}

static struct place *find(const struct places_met *met, int64_t owner, const char *label)
{
    struct place *places = met->count == 0 ? NULL : places_of(met, owner, label);
    for (size_t i = 0; places != NULL && i < SIDE_BY_SIDE; i++)
        if (places[i].id > 0 && places[i].owner == owner && strcmp(places[i].label, label) == 0)
            return &places[i];
    return NULL;
}

/* A free place; where there is none, whoever is first moves out and the others move up, so that the one met last lies behind. */
static struct place *take_place(struct places_met *met, int64_t owner, const char *label)
{
    struct place *places = places_of(met, owner, label);
    for (size_t i = 0; i < SIDE_BY_SIDE; i++) {
        if (places[i].id == 0) {
            met->filled++;
            return &places[i];
        }
    }
    memmove(places, places + 1, (SIDE_BY_SIDE - 1) * sizeof *places);
    return &places[SIDE_BY_SIDE - 1];
}

/* Without memory for more, the places stay as many as they are: whoever has none is asked for. */
static void make_room(struct places_met *met)
{
    struct places_met wider = {.most = met->most};
    wider.count = met->count == 0 ? LEAST_PLACES : 2 * met->count;
    wider.places = rt_new_array(wider.count, sizeof *wider.places);
    if (wider.places == NULL)
        return;
    for (size_t i = 0; i < met->count; i++) {
        if (met->places[i].id == 0)
            continue;
        *take_place(&wider, met->places[i].owner, met->places[i].label) = met->places[i];
    }
    free(met->places);
    *met = wider;
}

static void keep(struct places_met *met, int64_t owner, const char *label, int64_t id, double length_mm)
{
    size_t length = strlen(label);
    if (length > LONGEST_KEPT)
        return;
    if (met->count < met->most && 2 * met->filled >= met->count)
        make_room(met);
    if (met->count == 0)
        return;
    struct place *place = find(met, owner, label);
    if (place == NULL)
        place = take_place(met, owner, label);
    place->id = id;
    place->owner = owner;
    place->length_mm = length_mm;
    memcpy(place->label, label, length + 1);
}

bool can_keep(const char *label)
{
    return strlen(label) <= LONGEST_KEPT;
}

int64_t met_patient(const struct owners *owners, const char *label)
{
    const struct place *place = find(&owners->patients, 0, label);
    return place == NULL ? 0 : place->id;
}

void keep_patient(struct owners *owners, const char *label, int64_t id)
{
    keep(&owners->patients, 0, label, id, 0);
}

int64_t met_implant(const struct owners *owners, int64_t patient_id, const char *label, double *length_mm)
{
    const struct place *place = find(&owners->implants, patient_id, label);
    if (place == NULL)
        return 0;
    *length_mm = place->length_mm;
    return place->id;
}

void keep_implant(struct owners *owners, int64_t patient_id, const char *label, int64_t id, double length_mm)
{
    keep(&owners->implants, patient_id, label, id, length_mm);
}

void forget_implant(struct owners *owners, int64_t patient_id, const char *label)
{
    struct place *place = find(&owners->implants, patient_id, label);
    if (place == NULL)
        return;
    place->id = 0;
    owners->implants.filled--;
}
