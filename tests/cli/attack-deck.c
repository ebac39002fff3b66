/* Decks as they were written, against an attacker: attack-deck make SEED FOLDER writes the sheets of a small random practice;
 * attack-deck attack FOLDER... reads the decks d0, d1, ... that the program made of each and what it would show without protection
 * (d0.csv, ..., of the verb figures), and looks for groups of one to four implants that a reader of all decks can be certain of.
 *
 * The attacker knows what each number counts: a set of kinds of implants (when placed, by whom, in whom, what became of it at each
 * deck's end). Of all ways to fill the kinds that agree with the numbers, it asks for the one with most cases in the set that it is
 * curious about: a row that was not shown, or what one row counts and another does not. When the most is under five, and the
 * set is not empty, a small group is found. That its kinds are those of the program is tested on the true records first. */
#include "../unit/support/attacker.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { MOST_IMPLANTS = 400, MOST_SETS = 600, MOST_KINDS = 60000, DECKS = 11, LATE = 99999, SMALL = 5 };

/* --- the practice --- */

struct implant {
    int placed, removed, seen[4], seen_count;
    int by, smoking, jaw, within, torque; /* torque: 0 to 3, the classes */
};

static const char *const operators[] = {"A", "B", "C"};
static const char *const smokings[] = {"never", "former", "current"};
static const char *const torques[] = {"<20 Ncm", "20 to <35 Ncm", "35 to <50 Ncm", ">=50 Ncm"};

static uint64_t random_state;

static int draw(int most)
{
    random_state = random_state * 6364136223846793005u + 1442695040888963407u;
    return (int)((random_state >> 33) % (uint64_t)(most + 1));
}

static int day_of(int year, int month, int day)
{
    struct tm date = {.tm_year = year - 1900, .tm_mon = month - 1, .tm_mday = day, .tm_hour = 12};
    return (int)(timegm(&date) / 86400);
}

static const char *write_day(int day, char text[32])
{
    time_t seconds = (time_t)day * 86400;
    struct tm date;
    gmtime_r(&seconds, &date);
    strftime(text, 32, "%Y-%m-%d", &date);
    return text;
}

/* Patients in the order of the draw; sheets and truth come from the same seed. */
static size_t make_practice(unsigned seed, struct implant *implants, int *patient_of)
{
    random_state = seed * 7919u + 3u;
    size_t count = 0;
    int patients = 60 + draw(60), first = day_of(2024, 1, 10), days = day_of(2026, 6, 25) - first;
    for (int patient = 0; patient < patients; patient++) {
        int smoking = draw(5), placed = first + draw(days), number = draw(4) == 0 ? 2 : 1;
        for (int k = 0; k < number; k++) {
            struct implant *one = &implants[count];
            patient_of[count++] = patient;
            *one =
                (struct implant){.placed = placed, .removed = LATE, .smoking = smoking > 3 ? 2 : smoking > 2};
            one->by = draw(9) < 5 ? 0 : draw(3) > 0 ? 1 : 2;
            one->jaw = draw(3) > 0;
            one->within = draw(9) < 6;
            one->torque = draw(9) < 2 ? 0 : 1 + draw(2);
            if (draw(5) == 0)
                one->removed = placed + (draw(1) == 0 ? 20 + draw(170) : 200 + draw(500));
            for (int visit = 0; visit < 4; visit++) {
                int seen = placed + 100 + 220 * visit + draw(60);
                if (seen < one->removed && draw(9) > 0)
                    one->seen[one->seen_count++] = seen;
            }
        }
    }
    return count;
}

static FILE *open_sheet(const char *folder, const char *name)
{
    char path[512];
    snprintf(path, sizeof path, "%s/%s.csv", folder, name);
    FILE *file = fopen(path, "w");
    if (file == NULL) {
        perror(path);
        exit(2);
    }
    return file;
}

static int write_practice(unsigned seed, const char *folder)
{
    static struct implant implants[MOST_IMPLANTS];
    static int patient_of[MOST_IMPLANTS];
    static const int torque[] = {15, 25, 40, 60};
    size_t count = make_practice(seed, implants, patient_of);
    char day[32];
    FILE *sheet = open_sheet(folder, "implants"), *seen = open_sheet(folder, "followups"),
         *events = open_sheet(folder, "events");
    fputs("patient,implant,tooth,placed_on,operator,planned_depth_mm,achieved_depth_mm,depth_source,"
          "final_torque_ncm,smoking\n",
          sheet);
    fputs("patient,implant,seen_on,visit\n", seen);
    fputs("patient,implant,happened_on,event,cause\n", events);
    for (size_t i = 0; i < count; i++) {
        const struct implant *one = &implants[i];
        bool second = i > 0 && patient_of[i - 1] == patient_of[i];
        const char *name = second ? "b" : "a";
        fprintf(sheet, "P%03d,%s,%d,%s,%s,1.5,%s,surgery,%d,%s\n", patient_of[i], name,
                (one->jaw ? 14 : 34) + (second ? 2 : 0), write_day(one->placed, day), operators[one->by],
                one->within ? "1.7" : "2.6", torque[one->torque], smokings[one->smoking]);
        for (int k = 0; k < one->seen_count; k++)
            if (one->seen[k] <= day_of(2026, 6, 30))
                fprintf(seen, "P%03d,%s,%s,review\n", patient_of[i], name, write_day(one->seen[k], day));
        if (one->removed <= day_of(2026, 6, 30))
            fprintf(events, "P%03d,%s,%s,removed,mobile\n", patient_of[i], name,
                    write_day(one->removed, day));
    }
    return fclose(sheet) + fclose(seen) + fclose(events) == 0 ? 0 : 2;
}

/* --- decks, in the order in which they are issued by tests/cli/cases/deck-attack.sh --- */

struct deck {
    int first_year, first_month, year, month, last; /* of the period */
    int by, smoking, jaw;                           /* filters; -1: none */
};

static const struct deck decks[DECKS] = {
    {2025, 7, 2025, 9, 30, -1, -1, -1},  {2025, 10, 2025, 12, 31, -1, -1, -1},
    {2025, 1, 2025, 12, 31, -1, -1, -1}, {2025, 10, 2025, 12, 31, -1, 0, -1},
    {2026, 1, 2026, 3, 31, -1, -1, -1},  {2026, 4, 2026, 6, 30, -1, -1, -1},
    {2026, 4, 2026, 6, 30, 0, -1, -1},   {2026, 4, 2026, 6, 30, -1, 0, -1},
    {2026, 4, 2026, 6, 30, -1, -1, 1},   {2026, 4, 2026, 6, 30, 0, 0, -1},
    {2026, 1, 2026, 6, 30, -1, -1, -1},
};

static int end_of(const struct deck *deck)
{
    return day_of(deck->year, deck->month, deck->last);
}

static int start_of(const struct deck *deck)
{
    return day_of(deck->first_year, deck->first_month, 1);
}

/* First of the 12 months; all decks end with a month of 30 or 31 days. */
static int year_start(const struct deck *deck)
{
    return deck->month == 12 ? day_of(deck->year, 1, 1) : day_of(deck->year - 1, deck->month + 1, 1);
}

/* --- sets of kinds --- */

enum family { DEPTH, TORQUE, FATE, FAMILIES };

enum counted {
    GROUP_DEPTH,
    WITHIN,
    GROUP_TORQUE,
    LOW,
    EARLY_KNOWN,
    EARLY_FAILED,
    AT_RISK,
    FAILED_BY,
    PLACED
};

enum window { ALL, YEAR, PERIOD };

/* What a number counts. */
struct set {
    enum family family;
    enum counted counted;
    enum window window;
    int deck, by, smoking, jaw, torque, years; /* years: of a curve, or the calendar year */
    long count;                                /* as told */
    bool open, shown;                          /* without protection; in a deck */
    long truth;
    bool *kinds;
};

/* Placed on a day from..to-1; state at the two ends of FATE: -1 not placed, 0 to 3 last seen, 4 to 7 failed, before 180 days, one
 * year, two years, later. */
struct kind {
    int from, to;
    int by, smoking, jaw, within, torque;
    int state[2];
};

static bool is_fate_end(const struct deck *deck, size_t *which)
{
    *which = deck->year == 2026;
    return deck->year == 2025 ? deck->month == 12 : deck->month == 6;
}

static bool chosen(const struct kind *kind, int by, int smoking, int jaw)
{
    return (by < 0 || by == kind->by) && (smoking < 0 || smoking == kind->smoking) &&
           (jaw < 0 || jaw == kind->jaw);
}

static bool placed_between(const struct kind *kind, int first, int last)
{
    return kind->from >= first && kind->to - 1 <= last;
}

static bool in_fate(const struct kind *kind, const struct set *set, const struct deck *deck)
{
    size_t which = 0;
    is_fate_end(deck, &which);
    const int state = kind->state[which], age = state % 4;
    if (state < 0)
        return false;
    if (set->counted == PLACED)
        return set->years == 0 || placed_between(kind, day_of(set->years, 1, 1), day_of(set->years, 12, 31));
    if (set->counted == AT_RISK)
        return set->years <= 2 && age > set->years;
    if (set->counted == FAILED_BY)
        return state >= 4 && (set->years > 2 || age <= set->years);
    int first = set->window == YEAR ? year_start(deck) - 180 : 0;
    if (!placed_between(kind, first, end_of(deck) - 180) || (set->torque >= 0 && set->torque != kind->torque))
        return false;
    return set->counted == EARLY_FAILED ? state == 4 : state >= 4 || age > 0;
}

static bool in_set(const struct kind *kind, const struct set *set)
{
    const struct deck *deck = &decks[set->deck];
    if (!chosen(kind, deck->by, deck->smoking, deck->jaw) || !chosen(kind, set->by, set->smoking, set->jaw))
        return false;
    if (set->family == FATE)
        return in_fate(kind, set, deck);
    int first = set->window == PERIOD ? start_of(deck) : year_start(deck);
    return placed_between(kind, first, end_of(deck)) && (set->counted != WITHIN || kind->within) &&
           (set->counted != LOW || kind->torque == 0);
}

/* --- the rows of a deck --- */

struct row {
    char text[1024];
    char *cells[32];
    size_t count;
};

enum {
    SECTION,
    MEASURE,
    GROUPING,
    LEVEL,
    AT,
    N_IMPLANTS,
    N_PATIENTS,
    N_EVENTS,
    VALUE = 9,
    UNIT_OF_ANALYSIS = 17
};

static void split(struct row *row)
{
    row->count = 0;
    for (char *at = row->text; row->count < 32;) {
        row->cells[row->count++] = at;
        at += strcspn(at, ",\n");
        if (*at != ',') {
            *at = '\0';
            break;
        }
        *at++ = '\0';
    }
}

static int find(const char *text, const char *const *names, int count)
{
    for (int i = 0; i < count; i++)
        if (strcmp(text, names[i]) == 0)
            return i;
    return -1;
}

/* Which set the row's group is; false when the attacker does not look at such rows. */
static bool understand(const struct row *row, int deck, struct set *set)
{
    char *const *cells = row->cells;
    char level[128];
    size_t which;
    snprintf(level, sizeof level, "%s", cells[LEVEL]);
    char *bar = strchr(level, '|');
    const char *group = bar == NULL ? "" : bar + 1;
    if (bar != NULL)
        *bar = '\0';
    *set = (struct set){.deck = deck, .by = -1, .smoking = -1, .jaw = -1, .torque = -1};
    set->window = strcmp(level, "all") == 0 ? ALL : strcmp(level, "12 months") == 0 ? YEAR : PERIOD;
    const bool whole = strcmp(cells[GROUPING], "window") == 0;
    if (row->count < 18 || strcmp(cells[UNIT_OF_ANALYSIS], "implant") != 0)
        return false;
    if (strcmp(cells[SECTION], "depth") == 0 &&
        (strcmp(cells[MEASURE], "depth_bias") == 0 || strcmp(cells[MEASURE], "depth_within_half") == 0)) {
        set->family = DEPTH;
        set->counted = GROUP_DEPTH;
        set->by = find(group, operators, 3);
        return set->window == YEAR &&
               (whole || (strcmp(cells[GROUPING], "window|operator") == 0 && set->by >= 0));
    }
    if (strcmp(cells[MEASURE], "low_torque") == 0) {
        set->family = TORQUE;
        set->counted = GROUP_TORQUE;
        return whole && set->window != ALL;
    }
    set->family = FATE;
    if (!is_fate_end(&decks[deck], &which) || decks[deck].jaw >= 0)
        return false;
    if (strcmp(cells[MEASURE], "early_failure") == 0) {
        set->counted = EARLY_KNOWN;
        set->smoking = find(group, smokings, 3);
        set->torque = find(group, torques, 4);
        return set->window != PERIOD &&
               (whole || (set->window == ALL && (set->smoking >= 0 || set->torque >= 0)));
    }
    if (strcmp(cells[SECTION], "survival") == 0 && strcmp(cells[MEASURE], "survival") == 0) {
        set->counted = AT_RISK;
        set->years = atoi(cells[AT]);
        return strcmp(cells[GROUPING], "censoring") == 0 && strcmp(cells[LEVEL], "last sighting") == 0 &&
               set->years > 0 && atof(cells[AT]) == set->years;
    }
    set->counted = PLACED;
    set->years = atoi(cells[LEVEL]);
    return strcmp(cells[MEASURE], "completeness") == 0;
}

static bool outcome_of(struct set *set)
{
    static const enum counted outcome[] = {
        [GROUP_DEPTH] = WITHIN, [GROUP_TORQUE] = LOW, [EARLY_KNOWN] = EARLY_FAILED, [AT_RISK] = FAILED_BY};
    if (set->counted == PLACED)
        return false;
    set->counted = outcome[set->counted];
    return true;
}

struct practice {
    struct implant implants[MOST_IMPLANTS];
    size_t implant_count;
    struct set sets[MOST_SETS];
    size_t set_count;
    long faults, shown, understood;
};

static bool same_set(const struct set *a, const struct set *b)
{
    return a->family == b->family && a->counted == b->counted && a->window == b->window &&
           a->deck == b->deck && a->by == b->by && a->smoking == b->smoking && a->jaw == b->jaw &&
           a->torque == b->torque && a->years == b->years;
}

static void add_set(struct practice *practice, const struct set *set)
{
    for (size_t i = 0; i < practice->set_count; i++) {
        struct set *known = &practice->sets[i];
        if (!same_set(known, set))
            continue;
        if (known->count != set->count) {
            printf("deck %d tells two counts of one group: %ld and %ld\n", set->deck, known->count,
                   set->count);
            practice->faults++;
        }
        known->open = known->open || set->open;
        known->shown = known->shown || set->shown;
        return;
    }
    if (practice->set_count == MOST_SETS)
        exit(2);
    practice->sets[practice->set_count++] = *set;
}

static bool is_small(long count)
{
    return count > 0 && count < SMALL;
}

/* A row of the verb figures (all would know it without protection, but for small counts), or of a deck. */
static void read_row(struct practice *practice, struct row *row, int deck, bool of_deck)
{
    struct set set;
    split(row);
    if (!understand(row, deck, &set))
        return;
    bool events = row->cells[N_EVENTS][0] != '\0' &&
                  !(strcmp(row->cells[MEASURE], "depth_bias") == 0 || set.counted == PLACED);
    long count = atol(row->cells[N_IMPLANTS]), with = atol(row->cells[N_EVENTS]);
    bool small = is_small(atol(row->cells[N_PATIENTS])) ||
                 (events && (is_small(with) || (set.counted != AT_RISK && is_small(count - with))));
    practice->understood++;
    practice->shown += of_deck;
    set.count = count;
    set.open = !of_deck && !small;
    set.shown = of_deck;
    add_set(practice, &set);
    /* who sees a share and its number has the count, too */
    if (of_deck && row->cells[VALUE][0] != '\0' && events && set.counted != AT_RISK &&
        lround(100 * atof(row->cells[VALUE])) != lround(100.0 * (double)with / (double)count)) {
        printf("deck %d: a share of %s is not %ld of %ld\n", deck, row->cells[VALUE], with, count);
        practice->faults++;
    }
    if (!events || !outcome_of(&set))
        return;
    set.count = with;
    add_set(practice, &set);
}

static void read_rows(struct practice *practice, const char *path, int deck, bool of_deck)
{
    FILE *file = fopen(path, "r");
    struct row row;
    while (file != NULL && fgets(row.text, sizeof row.text, file) != NULL)
        read_row(practice, &row, deck, of_deck);
    if (file != NULL) /* else a deck that was not made, or not issued because it would give something away */
        fclose(file);
}

/* The numbers on the slides themselves: each <data> names its row (keys joined with /) and its part. */
static void read_number(struct practice *practice, char *element, int deck)
{
    char value[64] = "", key[512] = "", part[64] = "";
    struct row row = {.count = 0};
    char *at = strstr(element, "value=\""), *figure = strstr(element, "data-figure=\""),
         *of = strstr(element, "data-part=\"");
    if (at == NULL || figure == NULL || of == NULL || sscanf(at, "value=\"%63[^\"]", value) != 1 ||
        sscanf(figure, "data-figure=\"%511[^\"]", key) != 1 || sscanf(of, "data-part=\"%63[^\"]", part) != 1)
        return;
    bool events = strcmp(part, "n_events") == 0;
    if (!events && strcmp(part, "n_implants") != 0)
        return;
    char cells[8][128];
    size_t count = 0;
    for (char *from = key; count < 8; from++) {
        size_t length = strcspn(from, "/");
        snprintf(cells[count++], sizeof cells[0], "%.*s", (int)(length < 127 ? length : 127), from);
        from += length;
        if (*from == '\0')
            break;
    }
    for (char *less; count > LEVEL && (less = strstr(cells[LEVEL], "&lt;")) != NULL;) {
        *less = '<';
        memmove(less + 1, less + 4, strlen(less + 4) + 1);
    }
    for (char *more; count > LEVEL && (more = strstr(cells[LEVEL], "&gt;")) != NULL;) {
        *more = '>';
        memmove(more + 1, more + 4, strlen(more + 4) + 1);
    }
    for (size_t i = 0; i < 20; i++)
        row.cells[i] = "";
    for (size_t i = 0; i < count && i < N_IMPLANTS; i++)
        row.cells[i] = cells[i];
    row.cells[UNIT_OF_ANALYSIS] = "implant";
    row.count = 20;
    struct set set;
    if (count < 8 || strcmp(cells[7], "implant") != 0 || !understand(&row, deck, &set))
        return;
    set.count = atol(value);
    set.shown = true;
    if (!events || outcome_of(&set))
        add_set(practice, &set);
}

static void read_slides(struct practice *practice, const char *path, int deck)
{
    FILE *file = fopen(path, "r");
    char element[1024];
    size_t length = 0;
    for (int c; file != NULL && (c = fgetc(file)) != EOF;) {
        if (c == '<')
            length = 0;
        if (length + 1 < sizeof element)
            element[length++] = (char)c;
        element[length] = '\0';
        if (c == '>' && strncmp(element, "<data class=\"figure\"", 20) == 0)
            read_number(practice, element, deck);
    }
    if (file != NULL)
        fclose(file);
}

/* --- kinds --- */

struct kinds {
    struct kind *all;
    size_t count;
};

static int compare(const void *a, const void *b)
{
    return *(const int *)a - *(const int *)b;
}

/* Days at which any set begins or ends. */
static size_t find_days(int *days)
{
    size_t count = 0;
    days[count++] = day_of(2023, 1, 1);
    for (size_t i = 0; i < DECKS; i++) {
        days[count++] = start_of(&decks[i]);
        days[count++] = year_start(&decks[i]);
        days[count++] = year_start(&decks[i]) - 180;
        days[count++] = end_of(&decks[i]) + 1;
        days[count++] = end_of(&decks[i]) + 1 - 180;
    }
    for (int year = 2024; year <= 2026; year++)
        days[count++] = day_of(year, 1, 1);
    qsort(days, count, sizeof *days, compare);
    size_t kept = 0;
    for (size_t i = 0; i < count; i++)
        if (i == 0 || days[i] != days[kept - 1])
            days[kept++] = days[i];
    return kept;
}

/* Can an implant placed in the span be in the states? */
static bool can_be(const struct kind *kind)
{
    static const int ages[] = {0, 180, 366, 731};
    const int ends[] = {day_of(2025, 12, 31), day_of(2026, 6, 30)};
    for (size_t i = 0; i < 2; i++) {
        if ((kind->state[i] < 0) != (kind->from > ends[i]))
            return false;
        if (kind->state[i] >= 0 && kind->from + ages[kind->state[i] % 4] > ends[i])
            return false;
    }
    if (kind->state[0] >= 4)
        return kind->state[1] == kind->state[0];
    return kind->state[0] < 0 || kind->state[1] % 4 >= kind->state[0];
}

static void add_kind(struct kinds *kinds, const struct kind *kind)
{
    if (kinds->count == MOST_KINDS)
        exit(2);
    kinds->all[kinds->count++] = *kind;
}

static void add_fates(struct kinds *kinds, struct kind kind)
{
    for (int i = -1; i < 8; i++)
        for (int k = -1; k < 8; k++) {
            kind.state[0] = i;
            kind.state[1] = k;
            if (can_be(&kind))
                add_kind(kinds, &kind);
        }
}

/* Every kind that the sets of the family can tell apart. */
static void list_kinds(enum family family, struct kinds *kinds)
{
    int days[80];
    size_t count = find_days(days);
    kinds->count = 0;
    for (size_t i = 0; i + 1 < count; i++)
        for (int code = 0; code < 3 * 3 * 2 * 2 * 4; code++) {
            struct kind kind = {.from = days[i], .to = days[i + 1], .by = code % 3, .smoking = code / 3 % 3};
            kind.jaw = code / 9 % 2;
            kind.within = code / 18 % 2;
            kind.torque = code / 36;
            if ((family == DEPTH && kind.torque > 0) ||
                (family == TORQUE && (kind.within > 0 || kind.torque > 1 || kind.by > 1)) ||
                (family == FATE && (kind.within > 0 || kind.jaw > 0 || kind.by > 1)))
                continue;
            if (family == FATE)
                add_fates(kinds, kind);
            else
                add_kind(kinds, &kind);
        }
}

static struct kind kind_of(const struct implant *implant)
{
    int days[80];
    size_t count = find_days(days), at = 0;
    while (at + 2 < count && days[at + 1] <= implant->placed)
        at++;
    struct kind kind = {.from = days[at],
                        .to = days[at + 1],
                        .by = implant->by,
                        .smoking = implant->smoking,
                        .jaw = implant->jaw,
                        .within = implant->within,
                        .torque = implant->torque};
    const int ends[] = {day_of(2025, 12, 31), day_of(2026, 6, 30)};
    for (size_t i = 0; i < 2; i++) {
        int last = implant->placed;
        for (int k = 0; k < implant->seen_count; k++)
            last = implant->seen[k] <= ends[i] ? implant->seen[k] : last;
        bool failed = implant->removed <= ends[i];
        int age = (failed ? implant->removed : last) - implant->placed;
        int years = age >= 731 ? 3 : age >= 366 ? 2 : age > 180 || (age == 180 && !failed) ? 1 : 0;
        kind.state[i] = implant->placed > ends[i] ? -1 : years + (failed ? 4 : 0);
    }
    return kind;
}

/* --- the attack --- */

/* Mark the kinds of each set of the family, and keep one of those kinds that no set tells apart. */
static size_t mark_kinds(struct practice *practice, enum family family, struct kinds *kinds)
{
    static uint64_t first[MOST_KINDS], second[MOST_KINDS];
    list_kinds(family, kinds);
    size_t kept = 0;
    for (size_t i = 0; i < kinds->count; i++) {
        uint64_t one = 1, two = 1;
        for (size_t s = 0; s < practice->set_count; s++) {
            if (practice->sets[s].family != family)
                continue;
            bool in = in_set(&kinds->all[i], &practice->sets[s]);
            one = (one * 6364136223846793005u + (in ? 12345u : 1u)) ^ (one >> 29);
            two = (two * 2862933555777941757u + (in ? 3037000493u : 7u)) ^ (two >> 31);
        }
        bool known = false;
        for (size_t k = 0; k < kept && !known; k++)
            known = first[k] == one && second[k] == two;
        if (known)
            continue;
        first[kept] = one;
        second[kept] = two;
        kinds->all[kept++] = kinds->all[i];
    }
    kinds->count = kept;
    for (size_t s = 0; s < practice->set_count; s++) {
        struct set *set = &practice->sets[s];
        if (set->family != family)
            continue;
        set->kinds = calloc(kept + 1, sizeof *set->kinds);
        for (size_t i = 0; i < kept; i++)
            set->kinds[i] = in_set(&kinds->all[i], set);
    }
    return kept;
}

/* The true counts must be those that the program told. */
static void count_truth(struct practice *practice)
{
    for (size_t s = 0; s < practice->set_count; s++) {
        struct set *set = &practice->sets[s];
        for (size_t i = 0; i < practice->implant_count; i++) {
            struct kind kind = kind_of(&practice->implants[i]);
            if (set->family == FATE || set->family == TORQUE)
                kind.by = kind.by > 1 ? 1 : kind.by;
            set->truth += in_set(&kind, set);
        }
        if (set->truth == set->count)
            continue;
        printf("not understood: deck %d, counted %d, window %d, operator %d, smoking %d, torque %d, years "
               "%d: told %ld, "
               "true %ld\n",
               set->deck, set->counted, set->window, set->by, set->smoking, set->torque, set->years,
               set->count, set->truth);
        practice->faults++;
    }
}

static struct attacker *learn(const struct practice *practice, enum family family, size_t kinds, bool open)
{
    bool **sets = calloc(MOST_SETS, sizeof *sets);
    long *counts = calloc(MOST_SETS, sizeof *counts);
    size_t count = 0;
    for (size_t s = 0; s < practice->set_count; s++) {
        const struct set *set = &practice->sets[s];
        if (set->family != family || !(open ? set->open : set->shown))
            continue;
        sets[count] = set->kinds;
        counts[count++] = set->count;
    }
    struct attacker *attacker = new_attacker(kinds, count, sets, counts);
    free(sets);
    free(counts);
    return attacker;
}

struct found {
    long open, closed, looked_for;
};

static void look(struct attacker *open, struct attacker *closed, const bool *target, const struct set *one,
                 const struct set *other, struct found *found)
{
    found->looked_for++;
    found->open += attacker_most(open, target) < SMALL;
    if (attacker_most(closed, target) >= SMALL)
        return;
    found->closed++;
    printf("found: deck %d counted %d window %d operator %d smoking %d torque %d years %d", one->deck,
           one->counted, one->window, one->by, one->smoking, one->torque, one->years);
    if (other != NULL)
        printf(" less deck %d counted %d window %d operator %d smoking %d torque %d years %d", other->deck,
               other->counted, other->window, other->by, other->smoking, other->torque, other->years);
    printf("\n");
}

static bool subtract_kinds(const struct set *one, const struct set *other, size_t kinds, bool *target)
{
    for (size_t k = 0; k < kinds; k++) {
        if (other->kinds[k] && !one->kinds[k])
            return false;
        target[k] = one->kinds[k] && !other->kinds[k];
    }
    return true;
}

static void attack_family(struct practice *practice, enum family family, struct kinds *kinds,
                          struct found *found)
{
    size_t count = mark_kinds(practice, family, kinds);
    bool *target = calloc(count + 1, sizeof *target);
    struct attacker *open = learn(practice, family, count, true),
                    *closed = learn(practice, family, count, false);
    if (open == NULL || closed == NULL) {
        printf("family %d: the counts contradict each other\n", family);
        practice->faults++;
    }
    for (size_t i = 0; i < practice->set_count && open != NULL && closed != NULL; i++) {
        const struct set *one = &practice->sets[i];
        if (one->family != family)
            continue;
        if (is_small(one->truth))
            look(open, closed, one->kinds, one, NULL, found);
        for (size_t k = 0; k < practice->set_count; k++) {
            const struct set *other = &practice->sets[k];
            if (other->family == family && is_small(one->truth - other->truth) &&
                subtract_kinds(one, other, count, target))
                look(open, closed, target, one, other, found);
        }
    }
    release_attacker(open);
    release_attacker(closed);
    free(target);
}

static void attack_practice(const char *folder, struct kinds *kinds, struct found *found,
                            struct practice *practice)
{
    static int patient_of[MOST_IMPLANTS];
    char path[512];
    const char *seed = folder + strcspn(folder, "0123456789");
    *practice = (struct practice){.faults = practice->faults, .shown = practice->shown};
    practice->implant_count = make_practice((unsigned)atoi(seed), practice->implants, patient_of);
    for (int deck = 0; deck < DECKS; deck++) {
        snprintf(path, sizeof path, "%s/d%d.csv", folder, deck);
        read_rows(practice, path, deck, false);
        snprintf(path, sizeof path, "%s/d%d/figures.csv", folder, deck);
        read_rows(practice, path, deck, true);
        snprintf(path, sizeof path, "%s/d%d/deck.html", folder, deck);
        read_slides(practice, path, deck);
    }
    count_truth(practice);
    for (int family = 0; family < FAMILIES; family++)
        attack_family(practice, (enum family)family, kinds, found);
    for (size_t i = 0; i < practice->set_count; i++)
        free(practice->sets[i].kinds);
}

int main(int argc, char **argv)
{
    if (argc == 4 && strcmp(argv[1], "make") == 0)
        return write_practice((unsigned)atoi(argv[2]), argv[3]);
    if (argc < 3 || strcmp(argv[1], "attack") != 0) {
        fputs("usage: attack-deck make SEED FOLDER | attack-deck attack FOLDER...\n", stderr);
        return 2;
    }
    static struct practice practice;
    struct kinds kinds = {calloc(MOST_KINDS, sizeof(struct kind)), 0};
    struct found found = {0, 0, 0};
    for (int i = 2; i < argc && kinds.all != NULL; i++)
        attack_practice(argv[i], &kinds, &found, &practice);
    free(kinds.all);
    printf("rows shown %ld; small groups looked for %ld, found without protection %ld, with it %ld; faults "
           "%ld\n",
           practice.shown, found.looked_for, found.open, found.closed, practice.faults);
    return practice.faults > 0 || found.closed > 0 || found.open < found.looked_for / 10 ||
           found.looked_for < 20 || practice.shown < 20;
}
