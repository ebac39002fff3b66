/* What the text of a check says it reads, against what SQLite says when it prepares the check. */
#include "../../../src/intake/check_run.h"
#include "../support/records.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static void note_table(void *context, const char *table)
{
    static const char *const names[] = {"patient", "implant", "reading", "event"};
    unsigned *reads = context;
    for (unsigned i = 0; i < 4; i++)
        if (strcmp(table, names[i]) == 0) {
            *reads |= 1u << i;
            return;
        }
    if (strcmp(table, "spread") == 0) /* made of readings */
        *reads |= RT_TOUCHED_READINGS;
    else if (strcmp(table, "batch") != 0)
        *reads |= RT_TOUCHED_ALL;
}

static void texts_say_what_sqlite_says(void **state)
{
    struct bench *bench = *state;
    struct check_plan plan = {0};
    unsigned met = 0;
    assert_int_equal(run_checks(bench->store, 0, &bench->error), RT_OK); /* makes the temporary tables */
    assert_int_equal(plan_checks(RT_TOUCHED_ALL, &plan, &bench->error), RT_OK);
    assert_true(plan.part_count > 60);
    for (size_t i = 0; i < plan.part_count; i++) {
        const struct part *part = &plan.parts[i];
        struct rt_text sql = {0};
        unsigned reads = 0;
        rt_text_add_bytes(&sql, part->begin, part->length);
        if (rt_query_reads(bench->store, sql.bytes, note_table, &reads, &bench->error) != RT_OK)
            fail_msg("%s: %s", part->check->name, bench->error.message);
        if (check_reads(part->begin, part->length) != reads)
            fail_msg("%s, part %zu: the text says %u, SQLite %u", part->check->name, i,
                     check_reads(part->begin, part->length), reads);
        met |= 1u << reads;
        rt_text_release(&sql);
    }
    assert_true((met & (met - 1)) != 0); /* not all alike */
    release_check_plan(&plan);
}

static unsigned reads_of(const char *sql)
{
    return check_reads(sql, strlen(sql));
}

static void quotes_comments_and_made_tables(void **state)
{
    (void)state;
    assert_int_equal(reads_of("SELECT 'FROM event' FROM patient -- FROM reading\nWHERE 1"),
                     RT_TOUCHED_PATIENTS);
    assert_int_equal(reads_of("WITH a AS (SELECT 1 FROM event) SELECT * FROM a JOIN implant i ON 1"),
                     RT_TOUCHED_EVENTS | RT_TOUCHED_IMPLANTS);
    assert_int_equal(reads_of("WITH a AS MATERIALIZED (SELECT 1 FROM temp.spread s) SELECT * FROM a"),
                     RT_TOUCHED_READINGS);
    assert_int_equal(reads_of("SELECT a AS b FROM a"), RT_TOUCHED_ALL); /* a column named like a table */
    assert_int_equal(reads_of("SELECT * FROM house_rule"), RT_TOUCHED_ALL);
    assert_int_equal(reads_of("SELECT * FROM batch"), 0);
    assert_int_equal(reads_of("SELECT * FROM"), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(texts_say_what_sqlite_says, open_bench, close_bench),
        cmocka_unit_test(quotes_comments_and_made_tables),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
