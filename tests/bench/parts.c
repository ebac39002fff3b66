/*
 * bench-parts STORE FILE...
 *
 * What a load does beside putting rows into tables, each alone, in seconds of the processor: reading and hashing the files
 * (their rows go nowhere), and running all checks over the loaded STORE (taken back).
 */
#include "loader.h"

#include "ridgetally/intake/reader.h"
#include "ridgetally/store/store.h"

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
    if (status == RT_OK)
        printf("%.3f %.3f\n", read - start, processor_seconds() - read);
    else
        rt_error_print(&error, stderr);
    return rt_exit_code(status);
}
