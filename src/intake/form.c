#include "ridgetally/intake/form.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

static const char *const depth_sources[] = {"surgery", "film", NULL};
static const char *const closures[] = {"one-stage", "two-stage", NULL};
static const char *const timings[] = {"type 1", "type 2", "type 3", "type 4", "immediate",
                                      "early",  "late",   "healed", NULL};
static const char *const sexes[] = {"F", "M", "other", NULL};
static const char *const smokings[] = {"never", "former", "current", NULL};
static const char *const diabetes_states[] = {"none", "controlled", "uncontrolled", NULL};
static const char *const visits[] = {"placement", "uncovering", "loading", "review", NULL};
static const char *const level_kinds[] = {"crest", "contact", NULL};
static const char *const events[] = {"removed",    "elective", "unused", "complication",
                                     "moved_away", "died",     "remade", NULL};

#define RANGE(least, most, low, high)                                                                        \
    .hard_least = (least), .hard_most = (most), .soft_least = (low), .soft_most = (high)
#define NO_RANGE               RANGE(NAN, NAN, NAN, NAN)
#define FIELD(n, is, of, text) .name = (n), .type = (is), .unit = (of), .meaning = (text)

#define ID(n, must, text)                                                                                    \
    {                                                                                                        \
        FIELD(n, RT_FIELD_ID, "", text), NO_RANGE, .key = true, .needed = (must)                             \
    }
#define PLAIN(n, is, text)                                                                                   \
    {                                                                                                        \
        FIELD(n, is, "", text), NO_RANGE, .column = (n)                                                      \
    }
#define TEXT(n, text)   PLAIN(n, RT_FIELD_TEXT, text)
#define DATE(n, text)   PLAIN(n, RT_FIELD_DATE, text)
#define YES_NO(n, text) PLAIN(n, RT_FIELD_YES_NO, text)
#define CODE(n, list, text)                                                                                  \
    {                                                                                                        \
        FIELD(n, RT_FIELD_CODE, "", text), NO_RANGE, .column = (n), .codes = (list)                          \
    }
#define NUMBER(n, of, least, most, low, high, text)                                                          \
    {                                                                                                        \
        FIELD(n, RT_FIELD_NUMBER, of, text), RANGE(least, most, low, high), .column = (n)                    \
    }
#define INTEGER(n, least, most, low, high, text)                                                             \
    {                                                                                                        \
        FIELD(n, RT_FIELD_INTEGER, "", text), RANGE(least, most, low, high), .column = (n)                   \
    }
#define TORQUE(n, flag, text)                                                                                \
    {                                                                                                        \
        FIELD(n, RT_FIELD_TORQUE, "Ncm", text), RANGE(0, 200, 10, 100), .column = (n),                       \
                                                                        .second_column = (flag)              \
    }
#define DENSITY(n, scale, text)                                                                              \
    {                                                                                                        \
        FIELD(n, RT_FIELD_DENSITY, "", text), NO_RANGE, .column = (n), .second_column = (scale)              \
    }

/* Ranges: plausibility of the fields as published series report them; walls, bone and stall heights are ours.
 */
static const struct rt_field implant_fields[] = {
    ID("patient", true, "your own pseudonym for the patient, never a name"),
    ID("implant", false,
       "your own label of the implant within the patient; empty: TOOTH@DATE is used and kept"),
    PLAIN("tooth", RT_FIELD_TOOTH, "site, ISO 3950: 11-18, 21-28, 31-38, 41-48"),
    DATE("placed_on", "day of placement"),
    TEXT("operator", "who placed it, as a short code"),
    TEXT("implant_line", "your code for the implant line"),
    NUMBER("diameter_mm", "mm", 2, 8, 3, 6, "implant diameter"),
    NUMBER("length_mm", "mm", 4, 60, 6, 18, "implant length"),
    NUMBER("planned_depth_mm", "mm", -5, 8, -3, 4, "planned platform depth; positive = below the crest"),
    NUMBER("achieved_depth_mm", "mm", -5, 8, -3, 4, "achieved platform depth; positive = below the crest"),
    CODE("depth_source", depth_sources, "how the achieved depth was measured"),
    DENSITY("density_planned", "density_planned_scale", "bone density expected before surgery"),
    DENSITY("density_found", "density_found_scale", "bone density found at surgery"),
    YES_NO("stalled", "the motor stalled before the planned depth"),
    NUMBER("stall_height_mm", "mm", -8, 30, 0, 12,
           "platform above the crest when it stalled; positive = proud"),
    TORQUE("stall_torque_ncm", "stall_torque_capped", "torque at which it stalled"),
    TORQUE("final_torque_ncm", "final_torque_capped", "final insertion torque"),
    INTEGER("isq", 1, 100, 40, 90, "stability quotient at placement"),
    NUMBER("tissue_mm", "mm", 0, 10, 0.5, 6, "soft tissue height above the crest"),
    NUMBER("wall_buccal_mm", "mm", 0, 15, 0, 8, "bone left on the buccal side"),
    NUMBER("wall_lingual_mm", "mm", 0, 15, 0, 8, "bone left on the lingual side"),
    NUMBER("bone_height_mm", "mm", 0, 60, 4, 30, "bone height available at the site"),
    YES_NO("changed", "the implant was swapped for another size"),
    YES_NO("dense_drilling", "the drills for dense bone were used"),
    YES_NO("next_size_possible", "the next larger size would have fitted"),
    CODE("closure", closures, "healing through the gum or under it"),
    CODE("timing", timings, "time since extraction; type 1 to 4 (1 to 4 is enough), or in words"),
    YES_NO("graft", "bone was added"),
    DATE("uncovered_on", "day of uncovering"),
    DATE("loaded_on", "day of loading"),
    YES_NO("loaded", "loaded yet; no = known not to be"),
    INTEGER("birth_year", 1900, 2100, NAN, NAN, "year of birth, never the full date"),
    CODE("sex", sexes, "sex"),
    CODE("smoking", smokings, "smoking at the time of surgery"),
    CODE("diabetes", diabetes_states, "diabetes at the time of surgery"),
    YES_NO("periodontitis", "history of periodontitis"),
};

static const struct rt_field followup_fields[] = {
    ID("patient", true, "as in implants"),
    ID("implant", true, "as in implants"),
    {.name = "seen_on",
     .type = RT_FIELD_DATE,
     .column = "seen_on",
     NO_RANGE,
     .unit = "",
     .meaning = "day the implant was seen",
     .key = true,
     .needed = true},
    CODE("visit", visits, "which visit"),
    {.name = "film",
     .type = RT_FIELD_TEXT,
     .column = "film",
     .if_empty = "",
     NO_RANGE,
     .unit = "",
     .meaning = "which film, as your own number"},
    {.name = "reader",
     .type = RT_FIELD_TEXT,
     .column = "reader",
     .if_empty = "",
     NO_RANGE,
     .unit = "",
     .meaning = "who read the film, as a short code"},
    {.name = "reading",
     .type = RT_FIELD_INTEGER,
     .column = "reading",
     .if_empty = "1",
     RANGE(1, 99, NAN, NAN),
     .unit = "",
     .meaning = "first, second, ... reading of it; empty = 1"},
    {.name = "level_mesial_mm",
     .type = RT_FIELD_NUMBER,
     .column = "level_mesial_raw_mm",
     RANGE(-20, 8, -6, 3),
     .unit = "mm",
     .meaning = "bone level, mesial; positive = crest above the platform"},
    {.name = "level_distal_mm",
     .type = RT_FIELD_NUMBER,
     .column = "level_distal_raw_mm",
     RANGE(-20, 8, -6, 3),
     .unit = "mm",
     .meaning = "bone level, distal; positive = crest above the platform"},
    {.name = "level_kind",
     .type = RT_FIELD_CODE,
     .column = "level_kind",
     .codes = level_kinds,
     .if_empty = "crest",
     NO_RANGE,
     .unit = "",
     .meaning = "crest where it stands above the platform, or first contact only; empty = crest"},
    NUMBER("imaged_length_mm", "mm", 2, 120, NAN, NAN, "length of the implant as it measures on the film"),
    YES_NO("readable", "the film can be read"),
    YES_NO("radiolucency", "a dark line around the implant"),
    NUMBER("probing_mm", "mm", 0, 20, 1, 12, "deepest probing depth"),
    YES_NO("bleeding", "bleeding on probing"),
    YES_NO("suppuration", "pus"),
    YES_NO("mobile", "the implant moves"),
    YES_NO("pain", "pain"),
};

static const struct rt_field event_fields[] = {
    ID("patient", true, "as in implants"),
    ID("implant", false, "as in implants; empty = the whole patient"),
    {.name = "happened_on",
     .type = RT_FIELD_DATE,
     .column = "happened_on",
     NO_RANGE,
     .unit = "",
     .meaning = "day it happened or was found",
     .key = true,
     .needed = true},
    {.name = "event",
     .type = RT_FIELD_CODE,
     .column = "event",
     .codes = events,
     NO_RANGE,
     .unit = "",
     .meaning = "removed = lost or taken out as a failure; elective = taken out for another reason; unused = "
                "in place, not used; "
                "remade = the crown",
     .key = true,
     .needed = true},
    {FIELD("cause", RT_FIELD_TEXT, "",
           "as a short code, such as bone-loss; other text is taken only when asked for"),
     NO_RANGE, .column = "cause", .free_text = true},
};

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static const struct rt_form forms[RT_RECORD_KINDS] = {
    {RT_IMPLANTS, "implants", "implant", implant_fields, LENGTH(implant_fields)},
    {RT_FOLLOWUPS, "followups", "reading", followup_fields, LENGTH(followup_fields)},
    {RT_EVENTS, "events", "event", event_fields, LENGTH(event_fields)},
};

const struct rt_form *rt_form(enum rt_record_kind kind)
{
    return &forms[kind];
}

bool rt_find_kind(const char *text, enum rt_record_kind *kind)
{
    for (size_t i = 0; i < RT_RECORD_KINDS; i++) {
        if (strcmp(forms[i].name, text) == 0) {
            *kind = forms[i].kind;
            return true;
        }
    }
    return false;
}

/* Letters, digits and bytes beyond ASCII count: `Stall torque (N cm)` is stall_torque_ncm. */
static const char *next_counting(const char *at)
{
    while (*at != '\0' && (unsigned char)*at < 0x80 && !isalnum((unsigned char)*at))
        at++;
    return at;
}

static bool same_name(const char *name, const char *typed)
{
    name = next_counting(name);
    typed = next_counting(typed);
    while (*name != '\0' && tolower((unsigned char)*typed) == *name) {
        name = next_counting(name + 1);
        typed = next_counting(typed + 1);
    }
    return *name == '\0' && *typed == '\0';
}

size_t rt_find_field(const struct rt_form *form, const char *name)
{
    for (size_t i = 0; i < form->count; i++)
        if (same_name(form->fields[i].name, name))
            return i;
    return form->count;
}

void rt_form_header(const struct rt_form *form, struct rt_text *text)
{
    for (size_t i = 0; i < form->count; i++) {
        if (i > 0)
            rt_text_add_character(text, ',');
        rt_text_add(text, form->fields[i].name);
    }
    rt_text_add_character(text, '\n');
}

static void add_what_to_type(const struct rt_field *field, struct rt_text *text)
{
    switch (field->type) {
    case RT_FIELD_ID:
        rt_text_add(text, "label");
        break;
    case RT_FIELD_TEXT:
        rt_text_add(text, "short text");
        break;
    case RT_FIELD_DATE:
        rt_text_add(text, "YYYY-MM-DD");
        break;
    case RT_FIELD_YES_NO:
        rt_text_add(text, "yes | no");
        break;
    case RT_FIELD_CODE:
        for (size_t i = 0; field->codes[i] != NULL; i++)
            rt_text_format(text, "%s%s", i > 0 ? " | " : "", field->codes[i]);
        break;
    case RT_FIELD_NUMBER:
        rt_text_format(text, "%s, %g to %g", field->unit, field->hard_least, field->hard_most);
        break;
    case RT_FIELD_INTEGER:
        rt_text_format(text, "whole number, %g to %g", field->hard_least, field->hard_most);
        break;
    case RT_FIELD_TOOTH:
        rt_text_add(text, "two digits");
        break;
    case RT_FIELD_TORQUE:
        rt_text_format(text, "%s, %g to %g; >70, >=70 or 70+ where the device's limit was reached",
                       field->unit, field->hard_least, field->hard_most);
        break;
    case RT_FIELD_DENSITY:
        rt_text_add(text, "D1-D4, or LZ1-LZ4 for the 1985 type scale; the two are never mixed");
        break;
    }
}

void rt_code_list(struct rt_text *text)
{
    rt_text_add(
        text,
        "What to type into the three sheets\n"
        "\n"
        "Save each sheet as CSV (UTF-8, comma-separated). An empty cell means \"not recorded\"; it is never\n"
        "zero and never \"no\". Columns may stand in any order; those marked * must be there, cells marked "
        "**\n"
        "must be filled. Type pseudonyms, never names, addresses or dates of birth.\n");
    for (size_t k = 0; k < RT_RECORD_KINDS; k++) {
        rt_text_format(text, "\n%s.csv\n", forms[k].name);
        for (size_t i = 0; i < forms[k].count; i++) {
            const struct rt_field *field = &forms[k].fields[i];
            rt_text_format(text, "  %-20s", field->name);
            rt_text_add(text, field->needed ? "** " : field->key ? "*  " : "   ");
            add_what_to_type(field, text);
            rt_text_format(text, "\n%27s%s\n", "", field->meaning);
        }
    }
}
