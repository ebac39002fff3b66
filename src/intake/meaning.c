#include "ridgetally/intake/match.h"

#include "loader.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

/* What fields are called in sheets, in English, German, Dutch, French, Italian and Spanish. Words are folded as by fold_text();
 * a phrase is known when each of its words stands in the header, at the beginning of a word or, from five letters on,
 * anywhere in one (compounds). Generic words of the trade only. */
struct called {
    const char *field;
    const char *phrases; /* separated by | */
};

static const struct called names[] = {
    {"patient", "patient|pat|pat nr|pat no|patient id|case id|chart|paciente|paziente|patientnr|dossier"},
    {"implant",
     "implant label|implant nr|implant no|implant id|implant|implantat|implantaat|implante|impianto"},
    {"tooth", "tooth|site|position|region|regio|zahn|dent|dente|diente|element|fdi|locatie"},
    {"placed_on",
     "placed on|date placed|placement date|date of placement|surgery date|date of surgery|op datum|op date|"
     "operation date|insertion date|datum insertion|implantiert am|date pose|fecha cirugia|plaatsingsdatum|"
     "data intervento|placed"},
    {"operator", "operator|surgeon|behandler|chirurg|operateur|operatore|cirujano|dentist"},
    {"implant_line", "implant line|line|type of implant|implant type|implantattyp|linea|gamme"},
    {"diameter_mm", "diameter|durchmesser|diametre|diametro|width of implant|dia"},
    {"length_mm", "implant length|length|laenge|lange|implantatlange|longueur|lunghezza|longitud|lengte"},
    {"planned_depth_mm",
     "planned depth|depth planned|depth plan|plan depth|geplante tiefe|tiefe geplant|profondeur "
     "prevue|geplande diepte|profundidad planificada|profondita prevista|profondita pianificata"},
    {"achieved_depth_mm",
     "achieved depth|final depth|actual depth|depth achieved|depth reached|erreichte tiefe|tiefe "
     "erreicht|tiefe ist|profondeur obtenue|bereikte diepte|profondita ottenuta|platform depth|depth|tiefe"},
    {"depth_source", "depth source|depth measured by"},
    {"density_planned",
     "planned density|density planned|expected density|density before|dichte geplant|knochendichte "
     "geplant|densite prevue"},
    {"density_found",
     "density found|found density|bone density|density|bone class|bone type|bone quality|knochendichte|"
     "knochenqualitat|densite|densita|botkwaliteit"},
    {"stalled", "stalled|motor stalled|stall|motor stopp|gestoppt|blocked|cale|vastgelopen|motore fermo"},
    {"stall_height_mm", "stall height|height at stall|proud at stall|hohe bei stopp|stopphohe|hauteur cale"},
    {"stall_torque_ncm",
     "stall torque|torque at stall|torque when stalled|drehmoment bei stopp|stoppmoment|couple cale"},
    {"final_torque_ncm",
     "final torque|insertion torque|torque final|torque|drehmoment|eindrehmoment|couple|torsione|"
     "draaimoment|torque insercion"},
    {"isq", "isq|stability quotient|rfa|stability"},
    {"tissue_mm",
     "tissue height|tissue thickness|soft tissue|mucosa|tissue|gewebe|schleimhaut|schleimhautdicke|muqueuse|"
     "tessuto|weefsel|gum height"},
    {"wall_buccal_mm",
     "buccal wall|wall buccal|buccal bone|bukkale wand|wand bukkal|paroi vestibulaire|facial wall"},
    {"wall_lingual_mm",
     "lingual wall|wall lingual|palatal wall|lingual bone|linguale wand|wand lingual|paroi linguale"},
    {"bone_height_mm", "bone height|available bone|knochenhohe|hauteur osseuse|bothoogte"},
    {"changed", "changed|swapped|implant changed|gewechselt"},
    {"dense_drilling", "dense drilling|dense bone drill|dense protocol"},
    {"next_size_possible", "next size possible|next size"},
    {"closure", "closure|healing mode|stages|einheilung|cicatrisation"},
    {"timing", "timing|time since extraction|zeitpunkt"},
    {"graft", "graft|grafted|augmentation|bone added|greffe|innesto|knochenaufbau|bone graft"},
    {"uncovered_on",
     "uncovered on|uncovering date|second stage|date uncovered|freilegung|uncovered|reouverture"},
    {"loaded_on",
     "loaded on|loading date|date loaded|date of loading|belastung|belastet am|crown date|mise en charge|"
     "belasting|carico"},
    {"loaded", "loaded"},
    {"birth_year",
     "birth year|year of birth|geburtsjahr|geboortejaar|annee naissance|date of birth|birth date|dob|"
     "geburtsdatum|geboortedatum|date naissance|data di nascita|fecha nacimiento"},
    {"sex", "sex|gender|geschlecht|sexe|sesso|sexo|geslacht"},
    {"smoking", "smoking|smoker|raucher|tabac|fumeur|fumatore|fumador|roken|rauchen"},
    {"diabetes", "diabetes|diabete"},
    {"periodontitis", "periodontitis|parodontitis|periodontal history|parodontite"},
    {"seen_on",
     "seen on|date seen|visit date|date of visit|control date|recall date|kontrolle am|kontrolldatum|"
     "untersucht am|date controle|date|datum|fecha|controledatum|data controllo|seen"},
    {"visit", "visit|which visit|kontrollart|soort controle"},
    {"film", "film|film no|radiograph|rontgenbild|bild|cliche|xray"},
    {"reader", "reader|read by|befunder|lecteur|measured by"},
    {"reading", "reading|reading no"},
    {"level_mesial_mm",
     "bone level mesial|mesial bone level|level mesial|mesial level|mesial bone|bone mesial|mesial|"
     "knochen mesial|os mesial|bone loss mesial|mesial loss|mbl mesial|mbl m|mesiaal|mesiale"},
    {"level_distal_mm",
     "bone level distal|distal bone level|level distal|distal level|distal bone|bone distal|distal|"
     "knochen distal|os distal|bone loss distal|distal loss|mbl distal|mbl d|distaal|distale"},
    {"level_kind", "level kind"},
    {"imaged_length_mm", "imaged length|length on film|measured length|lange im bild"},
    {"readable", "readable|lesbar|lisible"},
    {"radiolucency", "radiolucency|dark line|aufhellung"},
    {"probing_mm", "probing depth|probing|pocket|ppd|sondierungstiefe|sondage|taschentiefe"},
    {"bleeding", "bleeding|bop|blutung|saignement|bloeding"},
    {"suppuration", "suppuration|pus|eiter"},
    {"mobile", "mobile|mobility|beweglich|locker|mobilite"},
    {"pain", "pain|schmerz|douleur|pijn"},
    {"happened_on",
     "event date|date of event|date removed|removed on|lost on|date of loss|happened on|entfernt am|verlust "
     "am|date perte|verloren op|rimosso il"},
    {"event", "event|what happened|ereignis|evenement"},
    {"cause", "cause|reason|ursache|grund|raison"},
};

static const struct {
    const char *word, *unit;
} units[] = {{"mm", "mm"},   {"cm", "cm"},   {"in", "in"}, {"inch", "in"},
             {"zoll", "in"}, {"ncm", "Ncm"}, {"nm", "Nm"}};

static const char *const reversing[] = {"loss",    "verlust", "perte",    "perdita", "resorption",
                                        "perdida", "verlies", "negative", NULL};

void fold_text(const char *text, char *out, size_t size)
{
    static const char latin[] =
        "aaaaaaaceeeeiiiidnooooo ouuuuypsaaaaaaaceeeeiiiidnooooo ouuuuypy"; /* U+00C0.. */
    size_t length = 0;
    for (; *text != '\0' && length + 2 < size; text++) {
        unsigned char byte = (unsigned char)*text;
        if (byte == 0xc3 && (unsigned char)text[1] >= 0x80) {
            out[length++] = latin[(unsigned char)*++text - 0x80];
            if ((unsigned char)*text == 0x9f) /* sharp s */
                out[length++] = 's';
        } else if (isalnum(byte) && byte < 0x80) {
            out[length++] = (char)tolower(byte);
        } else {
            out[length++] = ' ';
        }
    }
    out[length] = '\0';
}

enum { MOST_WORDS = 16 };

struct words {
    char text[160];
    char *items[MOST_WORDS];
    bool used[MOST_WORDS];
    size_t count;
};

static void split(const char *header, struct words *words)
{
    fold_text(header, words->text, sizeof words->text);
    words->count = 0;
    for (char *at = words->text; words->count < MOST_WORDS;) {
        at += strspn(at, " ");
        if (*at == '\0')
            return;
        words->used[words->count] = false;
        words->items[words->count++] = at;
        at += strcspn(at, " ");
        if (*at != '\0')
            *at++ = '\0';
    }
}

static bool stands_in(const char *word, size_t length, const char *in)
{
    if (length <= 3)
        return strlen(in) == length && strncmp(in, word, length) == 0;
    if (length == 4)
        return strncmp(in, word, length) == 0;
    for (; *in != '\0'; in++)
        if (strncmp(in, word, length) == 0)
            return true;
    return false;
}

/* How much of the header a phrase explains: letters of the phrase against letters of the words it does not touch. 0: it
 * does not stand there. */
static double weigh(const char *phrase, size_t length, const struct words *words, bool used[MOST_WORDS])
{
    size_t letters = 0;
    memset(used, 0, sizeof(bool[MOST_WORDS]));
    for (size_t at = 0; at < length;) {
        size_t size = strcspn(phrase + at, " |");
        bool found = false;
        for (size_t i = 0; !found && i < words->count; i++) {
            if (!words->used[i] && stands_in(phrase + at, size, words->items[i])) {
                used[i] = found = true;
                letters += size;
            }
        }
        if (!found)
            return 0;
        at += size + 1;
    }
    size_t left = 0;
    for (size_t i = 0; i < words->count; i++)
        if (!words->used[i])
            left += strlen(words->items[i]);
    return letters > left ? 1 : (double)letters / (double)left;
}

/* Mark the words that state a unit or a sign. "N cm" and "N m" are two words. */
static void take_unit(struct words *words, char unit[8], bool *reversed)
{
    unit[0] = '\0';
    *reversed = false;
    for (size_t i = 0; i < words->count; i++) {
        for (size_t u = 0; i > 0 && u < sizeof units / sizeof units[0]; u++) {
            bool torque = strcmp(words->items[i - 1], "n") == 0 &&
                          (strcmp(words->items[i], "cm") == 0 || strcmp(words->items[i], "m") == 0);
            if (torque || strcmp(words->items[i], units[u].word) == 0) {
                words->used[i] = true;
                words->used[i - 1] = words->used[i - 1] || torque;
                snprintf(unit, 8, "%s", !torque ? units[u].unit : words->items[i][0] == 'c' ? "Ncm" : "Nm");
                break;
            }
        }
        for (size_t r = 0; reversing[r] != NULL; r++)
            *reversed = *reversed || stands_in(reversing[r], strlen(reversing[r]), words->items[i]);
    }
}

static const struct rt_field *field_named(const char *name)
{
    for (size_t k = 0; k < RT_RECORD_KINDS; k++) {
        const struct rt_form *form = rt_form((enum rt_record_kind)k);
        for (size_t i = 0; i < form->count; i++)
            if (strcmp(form->fields[i].name, name) == 0)
                return &form->fields[i];
    }
    return NULL;
}

/* What the words of the phrase leave over. */
static void say_rest(const struct words *words, const bool used[MOST_WORDS], char rest[64])
{
    size_t length = 0;
    rest[0] = '\0';
    for (size_t i = 0; i < words->count && length < 60; i++) {
        bool sign = false;
        for (size_t r = 0; reversing[r] != NULL; r++)
            sign = sign || strcmp(words->items[i], reversing[r]) == 0;
        bool filler = strcmp(words->items[i], "bone") == 0 || strcmp(words->items[i], "at") == 0 ||
                      strcmp(words->items[i], "of") == 0 || strcmp(words->items[i], "level") == 0;
        if (!words->used[i] && !used[i] && !sign && !filler)
            length +=
                (size_t)snprintf(rest + length, 64 - length, "%s%s", length > 0 ? " " : "", words->items[i]);
    }
}

/* The native name itself is surest; else the phrase that explains most, the longer of equals. */
const struct rt_field *rt_meaning(const char *header, char unit[8], bool *reversed, char rest[64],
                                  double *confidence)
{
    struct words words;
    const struct rt_field *best = NULL;
    size_t longest = 0;
    *confidence = 0;
    rest[0] = '\0';
    for (size_t k = 0; k < RT_RECORD_KINDS; k++) {
        const struct rt_form *form = rt_form((enum rt_record_kind)k);
        size_t field = rt_find_field(form, header);
        if (field < form->count) {
            unit[0] = '\0';
            *reversed = false;
            *confidence = 1;
            return field_named(form->fields[field].name);
        }
    }
    split(header, &words);
    take_unit(&words, unit, reversed);
    for (size_t n = 0; n < sizeof names / sizeof names[0]; n++) {
        for (const char *phrase = names[n].phrases; *phrase != '\0';) {
            size_t length = strcspn(phrase, "|");
            bool used[MOST_WORDS];
            double weight = weigh(phrase, length, &words, used);
            if (weight > *confidence + 1e-9 ||
                (weight > 0 && weight > *confidence - 1e-9 && length > longest)) {
                *confidence = weight;
                longest = length;
                best = field_named(names[n].field);
                say_rest(&words, used, rest);
            }
            phrase += length + (phrase[length] == '|');
        }
    }
    if (*confidence < 0.3)
        best = NULL;
    return best;
}
