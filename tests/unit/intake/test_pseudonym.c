/* Keyed codes: stable, told apart, one key per store, back to the label only with the key. */
#include "../support/records.h"

#include "ridgetally/base/file.h"
#include "ridgetally/intake/forget.h"
#include "ridgetally/intake/pseudonym.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

static struct rt_pseudonym_key key_of(unsigned char byte)
{
    struct rt_pseudonym_key key;
    memset(key.bytes, byte, sizeof key.bytes);
    return key;
}

static enum rt_status load_with(struct bench *bench, const struct rt_pseudonym_key *key, const char *name,
                                const char *text)
{
    const char *path = put_file(bench, name, text);
    struct rt_load_options options = {.key = key};
    size_t done = 0;
    rt_release_load_report(&bench->report);
    bench->report = (struct rt_load_report){.path = NULL};
    rt_error_clear(&bench->error);
    return rt_load_files(bench->store, &path, 1, &options, &bench->report, &done, &bench->error);
}

static void codes_are_stable_and_told_apart(void **state)
{
    (void)state;
    struct rt_pseudonym_key key = key_of(1);
    struct rt_pseudonym_key other = key_of(2);
    char first[RT_PSEUDONYM_BYTES];
    char second[RT_PSEUDONYM_BYTES];
    static const char *const same_beginning[] = {"0017", "17", "17.0", "1-7", " 1 7"};
    rt_pseudonym(&key, "17", first);
    assert_int_equal(strlen(first), RT_PSEUDONYM_BYTES - 1);
    assert_int_equal(first[0], 'K');
    assert_int_equal(first[13], '-');
    for (size_t i = 0; i < sizeof same_beginning / sizeof same_beginning[0]; i++) {
        rt_pseudonym(&key, same_beginning[i], second);
        assert_memory_equal(first, second, 14);
        assert_int_equal(strcmp(first, second) == 0, strcmp(same_beginning[i], "17") == 0);
    }
    rt_pseudonym(&key, " 17\t", second);
    assert_string_equal(first, second);
    rt_pseudonym(&key, "18", second);
    assert_memory_not_equal(first, second, 14);
    rt_pseudonym(&other, "17", second);
    assert_memory_not_equal(first, second, 14);
    rt_pseudonym(&key, "  ", second);
    assert_string_equal(second, "");
}

static void no_label_reaches_the_store(void **state)
{
    struct bench *bench = *state;
    struct rt_pseudonym_key key = key_of(3);
    char code[RT_PSEUDONYM_BYTES];
    char *bytes = NULL;
    size_t length = 0;
    assert_int_equal(load_with(bench, &key, "implants.csv",
                               "patient,implant,tooth,placed_on\nZebra-771,a,36,2024-03-01\n"
                               "zebra 771,a,36,2024-03-01\nZebra-9,b,99,2024-03-01\n"),
                     RT_PARTIAL);
    assert_int_equal(load_with(bench, &key, "events.csv",
                               "patient,implant,happened_on,event,cause\n"
                               "Zebra-771,a,2025-01-01,removed,told by Quagga\n"),
                     RT_OK);
    assert_int_equal(bench->report.text_left_out, 1);
    rt_pseudonym(&key, "Zebra-771", code);
    char expected[64];
    snprintf(expected, sizeof expected, "%s|\n", code);
    assert_string_equal(
        rows_of(bench, "SELECT p.label, e.cause FROM event e JOIN patient p ON p.id = e.patient_id"),
        expected);
    assert_string_equal(rows_of(bench, "SELECT count(*) FROM patient"), "2\n");
    assert_string_equal(rows_of(bench, "SELECT count(*) FROM doubt WHERE check_name = 'near-equal-codes'"),
                        "2\n");
    assert_int_equal(rt_read_file(bench->store_path, 1 << 26, &bytes, &length, NULL), RT_OK);
    assert_null(memmem(bytes, length, "Zebra", 5));
    assert_null(memmem(bytes, length, "zebra", 5));
    assert_null(memmem(bytes, length, "Quagga", 6));
    free(bytes);
    assert_int_equal(rt_store_verify(bench->store, &bench->error), RT_OK);
}

static void a_store_keeps_to_one_key(void **state)
{
    struct bench *bench = *state;
    struct rt_pseudonym_key key = key_of(3);
    struct rt_pseudonym_key other = key_of(4);
    static const char sheet[] = "patient,implant,tooth,placed_on\nP1,a,36,2024-03-01\n";
    static const char more[] = "patient,implant,tooth,placed_on\nP1,a,36,2024-03-01\nP2,a,36,2024-03-01\n";
    assert_int_equal(load_with(bench, &key, "a.csv", sheet), RT_OK);
    char *before = dump_records(bench);
    assert_int_equal(load_with(bench, &other, "a.csv", more), RT_USE);
    assert_int_equal(load_with(bench, NULL, "a.csv", more), RT_USE);
    char *after = dump_records(bench);
    assert_string_equal(before, after);
    free(before);
    free(after);
    assert_int_equal(load_with(bench, &key, "a.csv", more), RT_OK);
    assert_int_equal(bench->report.rows_unchanged, 1);
    assert_int_equal(bench->report.rows_new, 1);
}

static void a_store_of_labels_takes_no_codes(void **state)
{
    struct bench *bench = *state;
    struct rt_pseudonym_key key = key_of(3);
    static const char sheet[] = "patient,implant,tooth,placed_on\nP1,a,36,2024-03-01\n";
    assert_int_equal(load_with(bench, NULL, "a.csv", sheet), RT_OK);
    assert_int_equal(load_with(bench, &key, "a.csv", sheet), RT_USE);
    rt_error_clear(&bench->error);
    assert_int_equal(rt_undo_batch(bench->store, 1, &bench->error), RT_OK);
    assert_int_equal(load_with(bench, &key, "a.csv", sheet), RT_OK);
}

static void a_key_is_made_once_and_kept_safe(void **state)
{
    struct bench *bench = *state;
    struct rt_pseudonym_key key;
    struct rt_pseudonym_key again;
    struct stat information;
    bool made = false;
    char path[128];
    snprintf(path, sizeof path, "%s/codes.key", bench->folder);
    assert_int_equal(rt_read_pseudonym_key(path, false, &key, &made, NULL), RT_USE);
    assert_int_equal(rt_read_pseudonym_key(path, true, &key, &made, NULL), RT_OK);
    assert_true(made);
    assert_int_equal(stat(path, &information), 0);
    assert_int_equal(information.st_mode & 0777, 0600);
    assert_int_equal(rt_read_pseudonym_key(path, true, &again, &made, NULL), RT_OK);
    assert_false(made);
    assert_memory_equal(key.bytes, again.bytes, sizeof key.bytes);
    static const mode_t weak[] = {0640, 0604, 0620, 0666};
    for (size_t i = 0; i < sizeof weak / sizeof weak[0]; i++) {
        assert_int_equal(chmod(path, weak[i]), 0);
        assert_int_equal(rt_read_pseudonym_key(path, true, &again, &made, NULL), RT_USE);
    }
    static const char *const broken[] = {"", "00", "no key\n", "0123456789ABCDEF\n"};
    for (size_t i = 0; i < sizeof broken / sizeof broken[0]; i++) {
        const char *file = put_file(bench, "broken.key", broken[i]);
        assert_int_equal(rt_read_pseudonym_key(file, true, &again, &made, NULL), RT_USE);
    }
    assert_int_equal(rt_read_pseudonym_key(bench->folder, true, &again, &made, NULL), RT_USE);
}

static void the_key_leads_back_to_the_label(void **state)
{
    struct bench *bench = *state;
    struct rt_pseudonym_key key = key_of(5);
    struct rt_pseudonym_key other = key_of(6);
    struct rt_forget_report gone;
    char code[RT_PSEUDONYM_BYTES];
    char *label = NULL;
    const char *sheet = put_file(
        bench, "s.csv", "Patient;implant;tooth;placed_on\nP1;a;36;2024-03-01\nP 2;a;36;2024-03-01\n");
    rt_pseudonym(&key, "P 2", code);
    assert_int_equal(rt_reveal(&key, sheet, code, &label, &bench->error), RT_OK);
    assert_string_equal(label, "P 2");
    free(label);
    assert_int_equal(rt_reveal(&other, sheet, code, &label, &bench->error), RT_OK);
    assert_null(label);
    assert_int_equal(rt_reveal(&key, "/nowhere.csv", code, &label, &bench->error), RT_INPUT);
    assert_null(label);
    assert_int_equal(
        load_with(bench, &key, "s.csv", "patient,implant,tooth,placed_on\nP 2,a,36,2024-03-01\n"), RT_OK);
    assert_int_equal(rt_forget_patient(bench->store, code, &gone, &bench->error), RT_OK);
    assert_int_equal(gone.implants, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(codes_are_stable_and_told_apart),
        cmocka_unit_test_setup_teardown(no_label_reaches_the_store, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(a_store_keeps_to_one_key, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(a_store_of_labels_takes_no_codes, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(a_key_is_made_once_and_kept_safe, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(the_key_leads_back_to_the_label, open_bench, close_bench),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
