/*
 * bench-parts STORE FILE...
 *
 * What a load does beside putting rows into tables, each alone, in seconds of the processor: reading and hashing the files
 * (their rows go nowhere), running all checks over the loaded STORE (taken back), and the seals of its pages.
 */
#include "loader.h"
#include "seal.h"

#include "ridgetally/intake/reader.h"
#include "ridgetally/store/store.h"

#include <stdint.h>
#include <stdio.h>
#include <time.h>

static double processor_seconds(void)
{
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

static enum rt_status count_row(void *context, const struct rt_row *row, struct rt_error *error)
{
    (void)error;
    *(size_t *)context += row->count;
    return RT_OK;
}

static enum rt_status read_all(char **paths, int count, struct rt_error *error)
{
    size_t cells = 0;
    char sha256[RT_SHA256_HEX];
    enum rt_status status = RT_OK;
    for (int i = 0; status == RT_OK && i < count; i++)
        status = rt_read_rows(paths[i], count_row, &cells, sha256, error);
    return status;
}

static enum rt_status check_all(const char *path, struct rt_error *error)
{
    struct rt_store *store = NULL;
    long raised = 0;
    long mended = 0;
    enum rt_status status = rt_store_open(path, RT_STORE_WRITE, &store, error);
    if (status == RT_OK)
        status = rt_transaction_begin(store, error);
    if (status == RT_OK) {
        status = refresh_doubts(store, 1, RT_TOUCHED_ALL, &raised, &mended, error);
        rt_transaction_rollback(store);
    }
    rt_store_close(store);
    return status;
}

/* Seals are a few words of arithmetic for each page: over the store, read beforehand so that only they are counted. */
static enum rt_status seal_all(const char *path, double *seconds, struct rt_error *error)
{
    enum { PAGE = 4096 };
    static unsigned char page[PAGE];
    volatile uint64_t kept = 0; /* or the compiler leaves the work out */
    FILE *file = fopen(path, "rbe");
    *seconds = 0;
    if (file == NULL)
        return rt_fail(error, RT_SYSTEM, "cannot read %s", path);
    for (uint32_t number = 1; fread(page, 1, PAGE, file) == PAGE; number++) {
        double start = processor_seconds();
        kept = kept ^ rt_seal_of(page, PAGE, number);
        *seconds += processor_seconds() - start;
    }
    fclose(file);
    return RT_OK;
}

int main(int argc, char **argv)
{
    struct rt_error error = {0};
    if (argc < 3) {
        fprintf(stderr, "usage: bench-parts STORE FILE...\n");
        return 2;
    }
    double start = processor_seconds();
    enum rt_status status = read_all(argv + 2, argc - 2, &error);
    double read = processor_seconds();
    if (status == RT_OK)
        status = check_all(argv[1], &error);
    double checked = processor_seconds();
    double sealed = 0;
    if (status == RT_OK)
        status = seal_all(argv[1], &sealed, &error);
    if (status == RT_OK)
        printf("%.3f %.3f %.3f\n", read - start, checked - read, sealed);
    else
        rt_error_print(&error, stderr);
    return rt_exit_code(status);
}
