#include "scenes.h"

#include "disk.h"

#include "ridgetally/audit/audit.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/file.h"
#include "ridgetally/base/resource.h"
#include "ridgetally/base/text.h"
#include "ridgetally/cli/figures.h"
#include "ridgetally/cli/verb.h"
#include "ridgetally/store/store.h"

#include <fcntl.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static char top[64];
static char said[4096];
void (*scene_watcher)(bool begins);

static int record_audit(const char *store);

const struct scene scenes[] = {
    {"new", NULL, "new --store @/store.db", NULL, false, false},
    {"load", "empty.db", "load %/implants.csv --store @/store.db", NULL, false, false},
    {"load, small cache", "empty.db", "load %/implants.csv --store @/store.db", NULL, false, true},
    {"corrections", "full.db", "load %/corrected.csv --store @/store.db", NULL, false, false},
    {"undo", "full.db", "undo 2 --store @/store.db", NULL, false, false},
    {"answers", "full.db", "doubts --answers %/answers.csv --store @/store.db", NULL, false, false},
    {"forget", "full.db", "forget P7 --store @/store.db", NULL, false, false},
    {"setting", "full.db", "setting practice_name Elsewhere --store @/store.db", NULL, false, false},
    {"yardstick", "full.db",
     "yardstick early-failure --at-most 5% --from 2025-04-01 --by AB --store @/store.db", NULL, false, false},
    {"rule", "full.db", "rule wait-twelve-weeks --set smallest-difference=0.06 --by AB --store @/store.db",
     NULL, false, false},
    {"note", "audited.db",
     "note --decision Look~again --by AB --about depth-within-half --due 2026-10-01 --store @/store.db", NULL,
     false, false},
    {"record an audit", "full.db", NULL, record_audit, false, false},
    {"backup", "full.db", "backup @/copy.db --store @/store.db", NULL, true, false},
    {"update", "old.db", "verify --store @/store.db", NULL, false, false},
};
const size_t scene_count = sizeof scenes / sizeof scenes[0];

static void die(const char *what)
{
    fprintf(stderr, "scenes: %s: %s\n", what, said);
    exit(1);
}

/* --- paths and files ---------------------------------------------------------------------------------------- */

const char *scene_path(const char *folder, const char *name)
{
    static char paths[4][256];
    static int next;
    next = (next + 1) % 4;
    snprintf(paths[next], sizeof paths[next], "%s/%s", folder, name);
    return paths[next];
}

const char *disk_folder(void)
{
    static char path[80];
    snprintf(path, sizeof path, "%s/disk", top);
    return path;
}

const char *cut_folder(void)
{
    static char path[80];
    snprintf(path, sizeof path, "%s/cut", top);
    return path;
}

static void copy(const char *from, const char *to)
{
    char *bytes = NULL;
    size_t length = 0;
    FILE *stream = NULL;
    if (rt_read_file(from, 1 << 28, &bytes, &length, NULL) != RT_OK || (stream = fopen(to, "wb")) == NULL ||
        fwrite(bytes, 1, length, stream) != length || fclose(stream) != 0)
        die("cannot copy a file");
    free(bytes);
}

static void write_text(const char *name, const struct rt_text *text)
{
    FILE *stream = fopen(scene_path(top, name), "wb");
    if (stream == NULL || text->failed || fwrite(text->bytes, 1, text->length, stream) != text->length ||
        fclose(stream) != 0)
        die("cannot write a sheet");
}

/* Commands are run in the top folder. */
static void run_shell(const char *commands)
{
    char line[512];
    snprintf(line, sizeof line, "cd %s && %s", top, commands);
    if (system(line) != 0)
        die(commands);
}

/* --- running ------------------------------------------------------------------------------------------------ */

/* Words are parted by spaces, ~ stands for one; %/ is the top folder, @/ the disk's. */
static int run_words(const char *arguments, const char *output)
{
    char *words[16] = {NULL};
    char program[] = "ridgetally";
    int count = 0;
    words[count++] = program;
    for (const char *at = arguments; *at != '\0';) {
        size_t length = strcspn(at, " ");
        struct rt_text word = {0};
        if (at[0] == '%' || at[0] == '@')
            rt_text_add(&word, at[0] == '%' ? top : disk_folder());
        size_t skip = at[0] == '%' || at[0] == '@';
        rt_text_add_bytes(&word, at + skip, length - skip);
        for (size_t i = 0; i < word.length; i++)
            word.bytes[i] = word.bytes[i] == '~' ? ' ' : word.bytes[i];
        words[count++] = rt_text_detach(&word);
        at += length + (at[length] == ' ');
    }
    fflush(stdout);
    fflush(stderr);
    int kept[2] = {dup(1), dup(2)};
    int errors = open(scene_path(top, "errors"), O_RDWR | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    int out = open(output, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    dup2(out, 1);
    dup2(errors, 2);
    if (scene_watcher != NULL)
        scene_watcher(true);
    int code = rt_main(count, words);
    if (scene_watcher != NULL)
        scene_watcher(false);
    fflush(stdout);
    fflush(stderr);
    dup2(kept[0], 1);
    dup2(kept[1], 2);
    ssize_t got = pread(errors, said, sizeof said - 1, 0);
    said[got < 0 ? 0 : got] = '\0';
    for (size_t i = 0; i < 2; i++)
        close(kept[i]);
    close(out);
    close(errors);
    for (int i = 1; i < count; i++)
        free(words[i]);
    return code;
}

/* What `audit` does after its files are written, without gnuplot's seconds. */
static int record_audit(const char *path)
{
    struct rt_store *store = NULL;
    struct rt_error error = {.status = RT_OK};
    struct rt_figure_list figures = {0};
    struct rt_case_series_list cases = {0};
    struct rt_audit_info info = {0};
    struct rt_period period;
    if (scene_watcher != NULL)
        scene_watcher(true);
    enum rt_status status = rt_store_open(path, RT_STORE_WRITE, &store, &error);
    if (status == RT_OK)
        status = rt_choose_period(store, "2025Q2", RT_NO_DATE, RT_NO_DATE, &period, &error);
    if (status == RT_OK)
        status = rt_audit_run(store, &period, NULL, &figures, &cases, &info, &error);
    if (status == RT_OK)
        status = rt_record_audit(store, &info, &figures, "2026-01-01T00:00:00Z", &error);
    rt_release_figures(&figures);
    rt_release_case_series(&cases);
    rt_store_close(store);
    if (scene_watcher != NULL)
        scene_watcher(false);
    snprintf(said, sizeof said, "%s%.400s", status == RT_OK ? "" : "ridgetally: ", error.message);
    return rt_exit_code(status);
}

int scene_run(const struct scene *scene, const char **words)
{
    said[0] = '\0';
    int code = scene->run != NULL ? scene->run(scene_path(disk_folder(), "store.db"))
                                  : run_words(scene->arguments, "/dev/null");
    *words = said;
    return code;
}

void scene_set_up(const struct scene *scene)
{
    disk_empty(disk_folder());
    if (scene->start != NULL)
        copy(scene_path(top, scene->start), scene_path(disk_folder(), "store.db"));
    if (scene->has_old_copy)
        copy(scene_path(top, "empty.db"), scene_path(disk_folder(), "copy.db"));
}

/* --- preparing ---------------------------------------------------------------------------------------------- */

static void prepare_sheets(void)
{
    struct rt_text implants = {0}, corrected = {0}, followups = {0}, events = {0};
    rt_text_add(&implants, "patient,implant,tooth,placed_on,operator,length_mm,diameter_mm,final_torque_ncm,"
                           "planned_depth_mm,achieved_depth_mm\n");
    rt_text_add(&corrected, "patient,implant,length_mm,isq\n");
    rt_text_add(&followups, "patient,implant,seen_on,visit,film,reader,level_mesial_mm,level_distal_mm\n");
    rt_text_add(&events, "patient,implant,happened_on,event,cause\n");
    for (int i = 1; i <= 90; i++) {
        rt_text_format(&implants, "P%d,a,%d,2024-%02d-%02d,%c,%d,4.1,%d,1.%d,1.%d\n", i,
                       10 * (i % 4 + 1) + i % 7 + 1, i % 12 + 1, i % 28 + 1, 'A' + i % 3, 8 + i % 3 * 2,
                       20 + i % 40, i % 7, i % 5);
        if (i % 3 == 0)
            rt_text_format(&corrected, "P%d,a,11,%d\n", i, 60 + i % 30);
        rt_text_format(&followups, "P%d,a,2025-%02d-01,review,F%d,R1,-0.%d,0.%d\n", i, i % 12 + 1, i, i % 9,
                       i % 8);
        if (i % 10 == 0)
            rt_text_format(&events, "P%d,a,2025-12-20,removed,\n", i);
    }
    rt_text_add(&implants, "P1,b,99,2024-01-01,A,9,4,10,1,1\n"); /* refused */
    write_text("implants.csv", &implants);
    write_text("corrected.csv", &corrected);
    write_text("followups.csv", &followups);
    write_text("events.csv", &events);
    rt_text_release(&implants);
    rt_text_release(&corrected);
    rt_text_release(&followups);
    rt_text_release(&events);
}

/* A store as programs before the seals made it: five steps, no reserved bytes, rows in it. */
static void prepare_old(void)
{
    static const char rows[] =
        "INSERT INTO batch (file_name, kind, sha256, loaded_at, program, rows_read, rows_new) VALUES "
        "('i.csv', 'implants',"
        "'1111111111111111111111111111111111111111111111111111111111111111', '2024-01-01T00:00:00Z', '1', "
        "900, 900);"
        "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 200) "
        "INSERT INTO patient (label, batch_id) SELECT 'Q' || i, 1 FROM n;"
        "INSERT INTO implant (patient_id, label, tooth, batch_id, source_batch_id, source_line) "
        "SELECT id, 'a', 11, 1, 1, id + 1 FROM patient;"
        "PRAGMA application_id = 1382306937; PRAGMA user_version = 5";
    sqlite3 *db = NULL;
    size_t count = 0;
    const struct rt_resource *all = rt_resources(&count);
    bool good = sqlite3_open_v2(scene_path(top, "old.db"), &db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE,
                                "unix") == SQLITE_OK;
    for (size_t i = 0; good && i < count; i++)
        if (strncmp(all[i].name, "sql/00", 6) == 0 && all[i].name[6] >= '1' && all[i].name[6] <= '5')
            good = sqlite3_exec(db, all[i].bytes, NULL, NULL, NULL) == SQLITE_OK;
    if (!good || sqlite3_exec(db, rows, NULL, NULL, NULL) != SQLITE_OK)
        die("cannot make the older store");
    sqlite3_close(db);
}

static void must_run(const char *arguments, int code)
{
    if (run_words(arguments, "/dev/null") != code)
        die(arguments);
}

void scenes_prepare(void)
{
    setenv("SOURCE_DATE_EPOCH", "1767225600", 1); /* equal runs give equal stores */
    snprintf(top, sizeof top, "%s/ridgetally-fault-XXXXXX",
             access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp");
    if (mkdtemp(top) == NULL)
        die("no folder");
    run_shell("mkdir disk cut");
    prepare_sheets();
    must_run("new --store %/empty.db", 0);
    copy(scene_path(top, "empty.db"), scene_path(top, "full.db"));
    must_run("load %/implants.csv --store %/full.db", 1);
    must_run("load %/followups.csv --store %/full.db", 0);
    must_run("load %/events.csv --store %/full.db", 0);
    copy(scene_path(top, "full.db"), scene_path(top, "audited.db"));
    if (record_audit(scene_path(top, "audited.db")) != 0)
        die("record an audit");
    if (run_words("doubts --as csv --store %/full.db", scene_path(top, "doubts.csv")) != 0)
        die("doubts");
    run_shell("sed '2,$s/,,,$/,replied,A,looked up/' doubts.csv > answers.csv");
    run_shell("grep -q 'looked up' answers.csv");
    prepare_old();
}

void scenes_prepare_foreign(void)
{
    struct rt_text sheet = {0};
    rt_text_add(&sheet,
                "\xef\xbb\xbfInvented practice\r\n\r\nPatient ID;Implant ID;Tooth;Placement date;Operator;"
                "Length (mm);Final torque (Ncm)\r\n");
    for (int i = 1; i <= 40; i++)
        rt_text_format(&sheet, "X%d;a;%d;2024-%02d-%02d;%c;%d,5;%d\r\n", i, 10 * (i % 4 + 1) + i % 7 + 1,
                       i % 12 + 1, i % 28 + 1, 'A' + i % 3, 8 + i % 3, 20 + i % 40);
    write_text("foreign.csv", &sheet);
    rt_text_release(&sheet);
    copy("tests/cli/foreign/invented.xlsx", scene_path(top, "foreign.xlsx"));
    copy(scene_path(top, "empty.db"), scene_path(top, "keyed.db"));
    must_run("load %/implants.csv --pseudonym --key %/key --store %/keyed.db", 1);
    must_run("match %/foreign.csv --out %/foreign.map", 0);
    must_run("match %/foreign.xlsx --sheet Cases~&~more --out %/book.map", 0);
    run_shell("sed -i 's/teeth ask/teeth iso/' foreign.map book.map");
}

void scenes_remove(void)
{
    run_shell("rm -rf disk cut pages *.csv *.db *.map *.xlsx key errors");
    rmdir(top);
}

/* --- looking ------------------------------------------------------------------------------------------------ */

static uint64_t add_bytes(uint64_t hash, const void *bytes, size_t length)
{
    for (size_t i = 0; i < length; i++)
        hash = (hash ^ ((const unsigned char *)bytes)[i]) * 1099511628211u;
    return hash;
}

/* All cells of a query with their types. false when it cannot be read to its end. */
static bool add_rows(sqlite3 *db, const char *sql, uint64_t *hash)
{
    sqlite3_stmt *statement = NULL;
    int result = sqlite3_prepare_v2(db, sql, -1, &statement, NULL);
    while (result == SQLITE_OK || result == SQLITE_ROW) {
        result = sqlite3_step(statement);
        for (int i = 0; result == SQLITE_ROW && i < sqlite3_column_count(statement); i++) {
            int type = sqlite3_column_type(statement, i);
            *hash = add_bytes(*hash, &type, sizeof type);
            if (type != SQLITE_NULL) /* numbers as SQLite prints them, with 15 digits */
                *hash = add_bytes(*hash, sqlite3_column_blob(statement, i),
                                  (size_t)sqlite3_column_bytes(statement, i));
        }
        if (result == SQLITE_DONE)
            break;
    }
    sqlite3_finalize(statement);
    return result == SQLITE_DONE;
}

static bool hash_tables(sqlite3 *db, uint64_t *hash)
{
    sqlite3_stmt *statement = NULL;
    bool good = add_rows(db, "PRAGMA user_version", hash) &&
                add_rows(db, "SELECT type, name, sql FROM sqlite_schema ORDER BY type, name", hash) &&
                sqlite3_prepare_v2(db, "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name",
                                   -1, &statement, NULL) == SQLITE_OK;
    while (good && sqlite3_step(statement) == SQLITE_ROW) {
        char sql[128];
        snprintf(sql, sizeof sql, "SELECT * FROM \"%s\"", (const char *)sqlite3_column_text(statement, 0));
        good = add_rows(db, sql, hash);
    }
    sqlite3_finalize(statement);
    return good;
}

static int keep_word(void *context, int count, char **values, char **names)
{
    (void)names;
    snprintf(context, 256, "%s", count > 0 && values[0] != NULL ? values[0] : "?");
    return 0;
}

bool content_of(const char *path, uint64_t *content, const char **words)
{
    static char word[256];
    sqlite3 *db = NULL;
    *content = CONTENT_ABSENT;
    *words = word;
    word[0] = '\0';
    if (access(path, F_OK) != 0)
        return true;
    uint64_t hash = 1469598103934665603u;
    int result = sqlite3_open_v2(path, &db, SQLITE_OPEN_READWRITE, "unix");
    if (result == SQLITE_OK)
        result = sqlite3_exec(db, "PRAGMA integrity_check", keep_word, word, NULL);
    bool sound = result == SQLITE_OK && strcmp(word, "ok") == 0;
    if (sound) {
        word[0] = '\0';
        sound = sqlite3_exec(db, "PRAGMA foreign_key_check", keep_word, word, NULL) == SQLITE_OK &&
                word[0] == '\0';
    }
    if (!sound && word[0] == '\0')
        snprintf(word, sizeof word, "%s", sqlite3_errmsg(db));
    sound = sound && hash_tables(db, &hash);
    sqlite3_close(db);
    *content = hash;
    return sound;
}

bool verifies(const char *path, const char **words)
{
    static char word[600];
    struct rt_store *store = NULL;
    struct rt_error error = {.status = RT_OK};
    enum rt_status status = rt_store_open(path, RT_STORE_READ, &store, &error);
    if (status == RT_OK)
        status = rt_store_verify(store, &error);
    rt_store_close(store);
    snprintf(word, sizeof word, "%s", error.message);
    *words = word;
    return status == RT_OK;
}
