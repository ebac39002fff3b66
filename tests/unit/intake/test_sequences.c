/* Random sequences of load, corrected load, whole load, answers, undo and forget, held after every step against a model of
 * what the store should hold. The model below knows the rules of loading, not the program: it replays the rows of the
 * files that are in force, in order, on small arrays. */
#include "../support/records.h"

#include "ridgetally/base/text.h"
#include "ridgetally/intake/answer.h"
#include "ridgetally/intake/forget.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum {
    PATIENTS = 4,
    IMPLANTS = 3, /* labels a and b; 2 = the whole patient, of events */
    WHOLE_PATIENT = 2,
    DAYS = 3, /* 0 = the record of an implant */
    KINDS = 3,
    MOST_ROWS = 5,
    MOST_LOADS = 14,
    STEPS = 26,
    ODD = 3 /* a first value that is refused in implants */
};

struct row {
    int patient, implant, day, first, second; /* values 0 to 3, second 0 to 1; 0 = empty */
};

struct load {
    int kind;
    bool whole, in_force;
    struct row rows[MOST_ROWS];
    int count;
    char *before; /* the records before it; NULL once a step other than loads came between */
};

/* --- the model ------------------------------------------------------------------------------------------ */

struct record {
    bool known, gone;
    int first, second;
};

struct refused {
    int kind;
    struct row row;
    int load;
    bool waiting, again;
};

struct model {
    struct record records[KINDS][PATIENTS][IMPLANTS][DAYS];
    bool patients[PATIENTS];
    struct refused refused[MOST_LOADS * MOST_ROWS];
    int refused_count;
};

static struct record *record_of(struct model *model, int kind, const struct row *row)
{
    return &model->records[kind][row->patient][row->implant][kind == 0 ? 0 : row->day];
}

static bool same_key(int kind, const struct row *a, const struct row *b)
{
    return a->patient == b->patient && a->implant == b->implant && (kind == 0 || a->day == b->day);
}

static bool same_row(int kind, const struct row *a, const struct row *b)
{
    return same_key(kind, a, b) && a->first == b->first && a->second == b->second;
}

static int refuse(struct model *model, int kind, const struct row *row, int load, bool again)
{
    for (int i = 0; i < model->refused_count; i++) {
        if (model->refused[i].kind == kind && same_row(kind, &model->refused[i].row, row)) {
            model->refused[i].waiting = true;
            return i;
        }
    }
    model->refused[model->refused_count] = (struct refused){kind, *row, load, true, again};
    return model->refused_count++;
}

/* What waited for the implant, or (whole) for the patient, enters in order; the first of one key stays. */
static void let_in(struct model *model, int patient, int implant)
{
    for (int i = 0; i < model->refused_count; i++) {
        struct refused *refused = &model->refused[i];
        if (!refused->waiting || !refused->again || refused->row.patient != patient ||
            refused->row.implant != implant)
            continue;
        struct record *record = record_of(model, refused->kind, &refused->row);
        if (!record->known)
            *record = (struct record){true, false, refused->row.first, refused->row.second};
        refused->waiting = false;
    }
}

static bool owner_known(struct model *model, int kind, const struct row *row)
{
    if (kind == 0)
        return true;
    if (row->implant == WHOLE_PATIENT)
        return model->patients[row->patient];
    return model->records[0][row->patient][row->implant][0].known;
}

struct marks {
    bool seen[PATIENTS][IMPLANTS][DAYS], spared[PATIENTS][IMPLANTS];
    bool met[MOST_LOADS * MOST_ROWS];      /* refused rows this file brought */
    bool replaced[MOST_LOADS * MOST_ROWS]; /* refused rows whose key it brought anew */
};

static void take_row(struct model *model, const struct load *load, const struct row *row, int number,
                     struct marks *marks)
{
    struct record *record = record_of(model, load->kind, row);
    bool *seen = &marks->seen[row->patient][row->implant][load->kind == 0 ? 0 : row->day];
    bool cells_refused = load->kind == 0 && row->first == ODD;
    bool known = !cells_refused && owner_known(model, load->kind, row);
    bool repeated = known && *seen && (record->first != row->first || record->second != row->second);
    if (cells_refused || !known || repeated) {
        marks->spared[row->patient][row->implant] = true;
        marks->met[refuse(model, load->kind, row, number, !cells_refused && !known)] = true;
        return;
    }
    bool fresh = !record->known;
    bool new_patient = load->kind == 0 && !model->patients[row->patient];
    if (new_patient) {
        model->patients[row->patient] = true;
        let_in(model, row->patient, WHOLE_PATIENT);
    }
    *record = (struct record){true, record->gone, row->first, row->second};
    *seen = true;
    if (load->kind == 0 && fresh)
        let_in(model, row->patient, row->implant);
    for (int i = 0; i < model->refused_count; i++)
        if (model->refused[i].waiting && model->refused[i].kind == load->kind &&
            same_key(load->kind, &model->refused[i].row, row))
            marks->replaced[i] = true;
}

static void replay_one(struct model *model, const struct load *load, int number)
{
    struct marks marks;
    memset(&marks, 0, sizeof marks);
    for (int i = 0; i < load->count; i++)
        take_row(model, load, &load->rows[i], number, &marks);
    for (int i = 0; i < model->refused_count; i++)
        if (marks.replaced[i] && !marks.met[i] && model->refused[i].load != number)
            model->refused[i].waiting = false;
    for (int p = 0; p < PATIENTS; p++)
        for (int i = 0; i < IMPLANTS; i++)
            for (int d = 0; d < DAYS; d++) {
                struct record *record = &model->records[load->kind][p][i][d];
                if (marks.seen[p][i][d])
                    record->gone = false;
                else if (load->whole && record->known && !marks.spared[p][i])
                    record->gone = true;
            }
}

static void replay(struct model *model, const struct load *loads, int count)
{
    memset(model, 0, sizeof *model);
    for (int i = 0; i < count; i++)
        if (loads[i].in_force)
            replay_one(model, &loads[i], i);
}

/* --- files and what the store says ---------------------------------------------------------------------- */

static unsigned draw(unsigned long *seed, unsigned most)
{
    *seed = *seed * 6364136223846793005UL + 1442695040888963407UL;
    return (unsigned)(*seed >> 33) % most;
}

static const char *const isq[] = {"", "60", "61", "600"};
static const char *const lengths[] = {"", "40.5"}; /* the second raises a doubt */
static const char *const implants[] = {"a", "b", ""};

static void write_row(struct rt_text *text, int kind, const struct row *row)
{
    rt_text_format(text, "P%d,%s,", row->patient, implants[row->implant]);
    if (kind == 0)
        rt_text_format(text, "%s,%s\n", isq[row->first], lengths[row->second]);
    else if (kind == 1)
        rt_text_format(text, "2025-01-0%d,%.0d\n", row->day, row->first);
    else
        rt_text_format(text, "2025-01-0%d,removed,%s\n", row->day, row->first > 0 ? "loose" : "");
}

static void draw_row(struct row *row, int kind, unsigned long *seed)
{
    *row = (struct row){.patient = (int)draw(seed, PATIENTS),
                        .implant = (int)draw(seed, kind == 2 ? 3 : 2),
                        .day = kind == 0 ? 0 : 1 + (int)draw(seed, DAYS - 1),
                        .first = (int)draw(seed, kind == 0   ? 4
                                                 : kind == 1 ? 3
                                                             : 2),
                        .second = kind == 0 ? (int)draw(seed, 2) : 0};
}

/* New rows, or (corrected) those of an earlier file of the kind with some changed. */
static void draw_load(struct load *loads, int count, unsigned long *seed)
{
    struct load *load = &loads[count];
    *load = (struct load){.kind = (int)draw(seed, KINDS), .in_force = true, .whole = draw(seed, 4) == 0};
    if (count > 0 && draw(seed, 2) == 0) {
        const struct load *earlier = &loads[draw(seed, (unsigned)count)];
        load->kind = earlier->kind;
        load->count = earlier->count;
        memcpy(load->rows, earlier->rows, sizeof load->rows);
        if (load->count > 0)
            draw_row(&load->rows[draw(seed, (unsigned)load->count)], load->kind, seed);
    }
    if (load->count == 0) {
        load->count = 1 + (int)draw(seed, MOST_ROWS - 1);
        for (int i = 0; i < load->count; i++)
            draw_row(&load->rows[i], load->kind, seed);
    }
}

static void load_it(struct bench *bench, struct load *load, int number)
{
    static const char *const headers[] = {"patient,implant,isq,length_mm\n",
                                          "patient,implant,seen_on,level_mesial_mm\n",
                                          "patient,implant,happened_on,event,cause\n"};
    struct rt_load_options options = {
        .whole = load->whole, .kind_given = true, .kind = (enum rt_record_kind)load->kind};
    struct rt_text text = {0};
    char name[32];
    size_t done = 0;
    rt_text_add(&text, headers[load->kind]);
    for (int i = 0; i < load->count; i++)
        write_row(&text, load->kind, &load->rows[i]);
    snprintf(name, sizeof name, "%d.csv", number);
    const char *path = put_file(bench, name, text.bytes);
    rt_release_load_report(&bench->report);
    bench->report = (struct rt_load_report){.path = NULL};
    load->before = dump_records(bench);
    enum rt_status status =
        rt_load_files(bench->store, &path, 1, &options, &bench->report, &done, &bench->error);
    assert_true(status == RT_OK || status == RT_PARTIAL);
    assert_int_equal(bench->report.rows_read, load->count); /* every row has one fate */
    assert_int_equal(bench->report.rows_new + bench->report.rows_changed + bench->report.rows_unchanged +
                         bench->report.rows_refused,
                     load->count);
    rt_text_release(&text);
}

static void say_model(struct model *model, struct rt_text *text)
{
    for (int kind = 0; kind < KINDS; kind++)
        for (int p = 0; p < PATIENTS; p++)
            for (int i = 0; i < IMPLANTS; i++)
                for (int d = 0; d < DAYS; d++) {
                    const struct record *record = &model->records[kind][p][i][d];
                    if (record->known)
                        rt_text_format(text, "%d P%d %s %d: %d %d%s\n", kind, p, implants[i], d,
                                       record->first, record->second, record->gone ? " gone" : "");
                }
    for (int i = 0; i < model->refused_count; i++)
        if (model->refused[i].waiting)
            rt_text_format(text, "%d waits from %d\n", model->refused[i].kind, model->refused[i].load + 1);
}

static char *said(struct bench *bench)
{
    static const char records[] =
        "SELECT printf('%d %s %s %d: %d %d%s', kind, patient, implant, day, first, second, gone) FROM ("
        "SELECT 0 AS kind, p.label AS patient, i.label AS implant, 0 AS day, coalesce(isq - 59, 0) AS first, "
        "length_mm IS NOT NULL AS second, CASE WHEN gone_batch_id IS NULL THEN '' ELSE ' gone' END AS gone "
        "FROM implant i JOIN patient p ON p.id = i.patient_id "
        "UNION ALL SELECT 1, p.label, i.label, seen_on - 20088, coalesce(level_mesial_raw_mm, 0), 0, CASE "
        "WHEN "
        "r.gone_batch_id IS NULL THEN '' ELSE ' gone' END FROM reading r JOIN implant i ON i.id = "
        "r.implant_id JOIN patient p ON p.id = i.patient_id "
        "UNION ALL SELECT 2, p.label, coalesce(i.label, ''), happened_on - 20088, cause IS NOT NULL, 0, CASE "
        "WHEN e.gone_batch_id IS NULL THEN '' ELSE ' gone' END FROM event e JOIN patient p ON p.id = "
        "e.patient_id LEFT JOIN implant i ON i.id = e.implant_id) "
        "ORDER BY kind, patient, implant = '', implant, day";
    static const char waiting[] =
        "SELECT printf('%d waits from %d', CASE kind WHEN 'implants' THEN 0 WHEN 'followups' THEN 1 ELSE 2 "
        "END, batch_id) FROM refused_row WHERE mended_batch_id IS NULL ORDER BY id";
    struct rt_text text = {0};
    rt_text_add(&text, rows_of(bench, records));
    rt_text_add(&text, rows_of(bench, waiting));
    char *all = rt_text_detach(&text);
    assert_non_null(all);
    return all;
}

static void tell(const struct load *loads, int count)
{
    for (int i = 0; i < count; i++) {
        struct rt_text text = {0};
        rt_text_format(&text, "%d kind %d%s%s\n", i + 1, loads[i].kind, loads[i].whole ? " whole" : "",
                       loads[i].in_force ? "" : " undone");
        for (int j = 0; j < loads[i].count; j++)
            write_row(&text, loads[i].kind, &loads[i].rows[j]);
        print_message("%s", text.bytes);
        rt_text_release(&text);
    }
}

/* Lines in any order: refused rows are numbered as they came, and forgetting changes who came first. */
static int compare_lines(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static void sort_lines(char *text)
{
    char *lines[512];
    size_t count = 0;
    struct rt_text sorted = {0};
    size_t length = strlen(text);
    for (char *line = strtok(text, "\n"); line != NULL && count < 512; line = strtok(NULL, "\n"))
        lines[count++] = line;
    qsort(lines, count, sizeof lines[0], compare_lines);
    rt_text_add(&sorted, "");
    for (size_t i = 0; i < count; i++)
        rt_text_format(&sorted, "%s\n", lines[i]);
    assert_true(sorted.length <= length + 1);
    memcpy(text, sorted.bytes, sorted.length + 1);
    rt_text_release(&sorted);
}

static void hold_against_model(struct bench *bench, const struct load *loads, int count, const char *step,
                               unsigned long round)
{
    static struct model model;
    struct rt_text expected = {0};
    replay(&model, loads, count);
    rt_text_add(&expected, "");
    say_model(&model, &expected);
    char *now = said(bench);
    sort_lines(now);
    sort_lines(expected.bytes);
    if (strcmp(now, expected.bytes) != 0) {
        tell(loads, count);
        print_message("the store says\n%sthe model says\n%s", now, expected.bytes);
        fail_msg("round %lu, after %s", round, step);
    }
    if (rt_store_verify(bench->store, &bench->error) != RT_OK)
        fail_msg("round %lu, after %s: %s", round, step, bench->error.message);
    free(now);
    rt_text_release(&expected);
}

/* --- steps ---------------------------------------------------------------------------------------------- */

struct run {
    struct bench *bench;
    struct load loads[MOST_LOADS];
    int count;
    int answers; /* in force */
    long undone, refused, forgotten, answered, restored;
    unsigned long round, seed;
};

static void drop_befores(struct run *run)
{
    for (int i = 0; i < run->count; i++) {
        free(run->loads[i].before);
        run->loads[i].before = NULL;
    }
}

static bool share_patient(const struct load *a, const struct load *b)
{
    for (int i = 0; i < a->count; i++)
        for (int j = 0; j < b->count; j++)
            if (a->rows[i].patient == b->rows[j].patient)
                return true;
    return false;
}

/* Whether a later batch has anything to do with an earlier one. */
static bool related(const struct run *run, int earlier, int later)
{
    const struct load *a = &run->loads[earlier];
    const struct load *b = &run->loads[later];
    return b->in_force && later > earlier &&
           (share_patient(a, b) || ((a->whole || b->whole) && a->kind == b->kind));
}

/* A refusal names batches that do touch its rows, or answers that were given. */
static void check_refusal(struct run *run, int which)
{
    const char *message = run->bench->error.message;
    const char *list = strstr(message, "later batches touch rows of batch ");
    int named = 0;
    if (list == NULL) {
        assert_non_null(strstr(message, "doubts that were answered since"));
        assert_true(run->answers > 0);
        return;
    }
    list = strchr(list, ':');
    for (const char *at = strstr(list, "batch "); at != NULL; at = strstr(at + 1, "batch ")) {
        int batch = atoi(at + 6);
        if (!related(run, which, batch - 1)) {
            tell(run->loads, run->count);
            fail_msg("round %lu: %s", run->round, message);
        }
        named = batch;
    }
    assert_true(named > 0);
    char remedy[64];
    snprintf(remedy, sizeof remedy, "undo batch %d first", named);
    assert_string_equal(run->bench->error.remedy, remedy);
}

static void undo_one(struct run *run)
{
    int which = (int)draw(&run->seed, (unsigned)run->count);
    bool latest = true;
    bool touched = false;
    if (draw(&run->seed, 2) == 0) /* often the latest in force */
        for (int i = 0; i < run->count; i++)
            which = run->loads[i].in_force ? i : which;
    if (!run->loads[which].in_force)
        return;
    for (int i = which + 1; i < run->count; i++) {
        latest = latest && !run->loads[i].in_force;
        touched = touched || related(run, which, i);
    }
    char *before = dump_records(run->bench);
    rt_error_clear(&run->bench->error);
    enum rt_status status = rt_undo_batch(run->bench->store, which + 1, &run->bench->error);
    char *after = dump_records(run->bench);
    if (status == RT_OK) {
        run->undone++;
        if (latest && run->loads[which].before != NULL) {
            run->restored++;
            if (strcmp(after, run->loads[which].before) != 0) {
                tell(run->loads, run->count);
                for (size_t at = 0; at < strlen(after); at += 900)
                    print_message("%.900s", after + at);
                print_message("should be\n");
                for (size_t at = 0; at < strlen(run->loads[which].before); at += 900)
                    print_message("%.900s", run->loads[which].before + at);
                fail_msg("round %lu: undo of the latest batch did not restore", run->round);
            }
        }
        run->loads[which].in_force = false;
        if (!latest)
            drop_befores(run);
        free(run->loads[which].before);
        run->loads[which].before = NULL;
    } else {
        run->refused++;
        assert_int_equal(status, RT_USE);
        assert_string_equal(before, after);
        if (run->answers == 0 && !touched) {
            tell(run->loads, run->count);
            fail_msg("round %lu: nothing stands in the way of batch %d: %s", run->round, which + 1,
                     run->bench->error.message);
        }
        check_refusal(run, which);
    }
    free(before);
    free(after);
}

static void forget_one(struct run *run)
{
    static struct model model;
    struct rt_forget_report gone;
    char label[8];
    int patient = (int)draw(&run->seed, PATIENTS);
    bool known = false;
    replay(&model, run->loads, run->count);
    for (int i = 0; i < model.refused_count; i++)
        known = known || model.refused[i].row.patient == patient;
    snprintf(label, sizeof label, "P%d", patient);
    rt_error_clear(&run->bench->error);
    assert_int_equal(rt_forget_patient(run->bench->store, label, &gone, &run->bench->error),
                     known || model.patients[patient] ? RT_OK : RT_USE);
    run->forgotten++;
    for (int i = 0; i < run->count; i++) {
        int kept = 0;
        for (int j = 0; j < run->loads[i].count; j++)
            if (run->loads[i].rows[j].patient != patient)
                run->loads[i].rows[kept++] = run->loads[i].rows[j];
        run->loads[i].count = kept;
    }
    run->answers = atoi(rows_of(run->bench, "SELECT count(*) FROM doubt_answer"));
    drop_befores(run);
}

static void answer_one(struct run *run)
{
    static const char header[] = "number,patient,implant,field,value,answer,answered_by,reply\n";
    const char *row =
        rows_of(run->bench, "SELECT d.id || ',' || coalesce(p.label, '') || ',' || coalesce(i.label, '') "
                            "|| ',' || d.column_name || ',' || d.value FROM doubt d "
                            "LEFT JOIN patient p ON p.id = d.patient_id "
                            "LEFT JOIN implant i ON i.id = d.implant_id WHERE d.state = 'waiting' "
                            "ORDER BY d.id DESC LIMIT 1");
    struct rt_answer_report report = {0};
    struct rt_text list = {0};
    if (row[0] == '\0')
        return;
    rt_text_format(&list, "%s%.*s,left as is,AB,seen\n", header, (int)strcspn(row, "\n"), row);
    rt_error_clear(&run->bench->error);
    enum rt_status status = rt_answer_doubts(
        run->bench->store, put_file(run->bench, "answers.csv", list.bytes), &report, &run->bench->error);
    if (status != RT_OK)
        fail_msg("round %lu: %s %s", run->round, list.bytes, run->bench->error.message);
    run->answers++;
    run->answered++;
    drop_befores(run);
    rt_release_answer_report(&report);
    rt_text_release(&list);
}

static void one_step(struct run *run)
{
    unsigned choice = draw(&run->seed, 20);
    const char *step = "a load";
    if (run->count == 0 || (choice < 11 && run->count < MOST_LOADS)) {
        draw_load(run->loads, run->count, &run->seed);
        load_it(run->bench, &run->loads[run->count], run->count + 1);
        run->count++;
    } else if (choice < 18) {
        step = "an undo";
        undo_one(run);
    } else if (choice == 18) {
        step = "an answer";
        answer_one(run);
    } else {
        step = "a forget";
        forget_one(run);
    }
    rt_error_clear(&run->bench->error);
    hold_against_model(run->bench, run->loads, run->count, step, run->round);
}

static void any_sequence_is_what_the_model_says(void **state)
{
    (void)state;
    const char *wanted = getenv("SEQUENCES");
    unsigned long rounds = wanted == NULL ? 8 : strtoul(wanted, NULL, 10);
    const char *first = getenv("FIRST_SEQUENCE"); /* to see a failure again */
    struct run totals = {.count = 0};
    for (unsigned long round = first == NULL ? 1 : strtoul(first, NULL, 10); round <= rounds; round++) {
        static struct run run;
        void *bench = NULL;
        run = (struct run){.round = round, .seed = round * 7919};
        assert_int_equal(open_bench(&bench), 0);
        run.bench = bench;
        for (int i = 0; i < STEPS; i++)
            one_step(&run);
        drop_befores(&run);
        close_bench(&bench);
        totals.undone += run.undone;
        totals.refused += run.refused;
        totals.forgotten += run.forgotten;
        totals.answered += run.answered;
        totals.restored += run.restored;
    }
    print_message(
        "%lu sequences: %ld undone (%ld of the latest, to the byte), %ld undos refused, %ld forgotten, "
        "%ld answered\n",
        rounds, totals.undone, totals.restored, totals.refused, totals.forgotten, totals.answered);
    assert_true(first != NULL || (totals.undone > 20 && totals.restored > 10 && totals.refused > 5 &&
                                  totals.forgotten > 3 && totals.answered > 3));
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(any_sequence_is_what_the_model_says)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
