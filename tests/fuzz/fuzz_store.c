/* A damaged store: each five bytes of the input change one byte of a sound store (four say where, one to what). With an
 * even first byte its pages are sealed anew, so that the damage gets past the seals. It is opened, verified, loaded into, undone and rid of a patient: any refusal is fine, a crash is not. */
#include "../../src/store/seal.h"

#include "ridgetally/base/file.h"
#include "ridgetally/intake/forget.h"
#include "ridgetally/intake/load.h"
#include "ridgetally/store/store.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);
int LLVMFuzzerInitialize(int *argc, char ***argv);

static char folder[64];
static char *sound;
static size_t sound_size;

static const char implants[] =
    "patient,implant,tooth,placed_on,length_mm,birth_year\n"
    "P1,a,36,2024-03-01,10,1970\nP1,b,46,2024-03-01,10,1971\nP2,a,36,2024-03-02,12,\n";
static const char corrected[] =
    "patient,implant,tooth,placed_on,length_mm\nP1,a,36,2024-03-01,11\nP3,a,11,2024-04-01,8\n";
static const char followups[] = "patient,implant,seen_on,film,level_mesial_mm,imaged_length_mm\n"
                                "P1,a,2025-03-01,f,-0.5,11\nP9,a,2025-03-01,f,-0.4,11\n";

static const char *path_of(const char *name)
{
    static char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static enum rt_status load(struct rt_store *store, const char *name)
{
    const char *path = path_of(name);
    const struct rt_load_options options = {.kind_given = false};
    struct rt_load_report report = {.path = NULL};
    struct rt_error error = {.status = RT_OK};
    size_t done = 0;
    enum rt_status status = rt_load_files(store, &path, 1, &options, &report, &done, &error);
    rt_release_load_report(&report);
    return status;
}

static void remove_all(void)
{
    static const char *const names[] = {"a.csv", "b.csv", "c.csv", "practice.db", "practice.db-journal"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        unlink(path_of(names[i]));
    rmdir(folder);
    free(sound);
}

static void must(bool holds)
{
    if (!holds)
        abort();
}

int LLVMFuzzerInitialize(int *argc, char ***argv)
{
    (void)argc;
    (void)argv;
    struct rt_store *store = NULL;
    snprintf(folder, sizeof folder, "%s/ridgetally-fuzz-XXXXXX",
             access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp");
    must(mkdtemp(folder) != NULL);
    must(rt_write_file(path_of("a.csv"), implants, strlen(implants), NULL) == RT_OK);
    must(rt_write_file(path_of("b.csv"), followups, strlen(followups), NULL) == RT_OK);
    must(rt_write_file(path_of("c.csv"), corrected, strlen(corrected), NULL) == RT_OK);
    must(rt_store_create(path_of("practice.db"), NULL) == RT_OK);
    must(rt_store_open(path_of("practice.db"), RT_STORE_WRITE, &store, NULL) == RT_OK);
    must(load(store, "a.csv") == RT_OK);
    must(load(store, "b.csv") == RT_PARTIAL);
    must(rt_store_verify(store, NULL) == RT_OK);
    rt_store_close(store);
    must(rt_read_file(path_of("practice.db"), 1 << 26, &sound, &sound_size, NULL) == RT_OK);
    atexit(remove_all);
    return 0;
}

static void damage(char *bytes, const uint8_t *data, size_t size)
{
    for (size_t i = 0; i + 5 <= size; i += 5) {
        size_t at =
            (size_t)data[i] << 24 | (size_t)data[i + 1] << 16 | (size_t)data[i + 2] << 8 | data[i + 3];
        bytes[at % sound_size] = (char)data[i + 4];
    }
}

/* Pages of 4096 bytes, as the store has them. */
static void seal_anew(unsigned char *bytes)
{
    enum { PAGE = 4096 };
    for (size_t at = 0; at + PAGE <= sound_size; at += PAGE) {
        uint64_t seal = rt_seal_of(bytes + at, PAGE, (uint32_t)(at / PAGE) + 1);
        for (unsigned i = 0; i < RT_SEAL_BYTES; i++)
            bytes[at + PAGE - RT_SEAL_BYTES + i] = (unsigned char)(seal >> (8 * i));
    }
}

static void write_plain(const char *path, const char *bytes, size_t length)
{
    FILE *file = fopen(path, "wb"); /* without the care of rt_write_file: this is done thousands of times */
    must(file != NULL && fwrite(bytes, 1, length, file) == length && fclose(file) == 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct rt_store *store = NULL;
    struct rt_error error = {.status = RT_OK};
    struct rt_forget_report gone;
    char *bytes = malloc(sound_size);
    must(bytes != NULL);
    memcpy(bytes, sound, sound_size);
    damage(bytes, data, size);
    if (size > 0 && data[0] % 2 == 0)
        seal_anew((unsigned char *)bytes);
    write_plain(path_of("practice.db"), bytes, sound_size);
    free(bytes);
    if (rt_store_open(path_of("practice.db"), RT_STORE_READ, &store, &error) == RT_OK)
        rt_store_verify(store, &error);
    rt_store_close(store);
    rt_error_clear(&error);
    if (rt_store_open(path_of("practice.db"), RT_STORE_WRITE, &store, &error) == RT_OK) {
        load(store, "c.csv");
        rt_undo_batch(store, 3, &error);
        rt_error_clear(&error);
        rt_forget_patient(store, "P1", &gone, &error);
    }
    rt_store_close(store);
    unlink(path_of("practice.db-journal"));
    return 0;
}
