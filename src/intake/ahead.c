/* Reading a file ahead of the store: one thread splits, hashes and types rows, the other writes those before them. */
#include "loader.h"

#include "ridgetally/base/memory.h"

#include <pthread.h>
#include <stdlib.h>
#include <unistd.h>

enum {
    LEAST_BYTES = 128 * 1024, /* a smaller file is read before a second thread has begun */
    ROWS_IN_PART = 64,
    PARTS = 4 /* of which one is being filled and one being written */
};

/* Rows on their way from one thread to the other. */
struct part {
    struct typed_row rows[ROWS_IN_PART];
    size_t count;
};

struct ahead {
    struct loader *loader;
    settle_function settle; /* NULL: rows go to the other thread */
    char *sha256;
    long rows; /* of the file, header aside */
    struct typed_row *one;

    /* the queue; with one thread none of it is used */
    struct part *parts;
    struct part *filling; /* NULL: none; of the thread that reads */
    pthread_mutex_t lock; /* of what follows */
    pthread_cond_t turned;
    size_t filled, emptied; /* parts so far; part n lies at n % PARTS */
    bool ended;             /* no more is filled */
    bool stopped;           /* no more is wanted */
    enum rt_status status;  /* of the reading */
    struct rt_error error;
};

/* --- reading ------------------------------------------------------------------------------------------------ */

/* Wait for an empty part to fill; NULL when no more rows are wanted. */
static struct part *next_empty(struct ahead *ahead)
{
    pthread_mutex_lock(&ahead->lock);
    while (!ahead->stopped && ahead->filled - ahead->emptied == PARTS)
        pthread_cond_wait(&ahead->turned, &ahead->lock);
    struct part *part = ahead->stopped ? NULL : &ahead->parts[ahead->filled % PARTS];
    pthread_mutex_unlock(&ahead->lock);
    return part;
}

static void hand_over(struct ahead *ahead, bool ended)
{
    pthread_mutex_lock(&ahead->lock);
    ahead->filled += ahead->filling != NULL;
    ahead->ended = ended;
    pthread_mutex_unlock(&ahead->lock);
    pthread_cond_signal(&ahead->turned); /* now, or whoever wakes waits again for the lock */
    ahead->filling = NULL;
}

static enum rt_status queue_row(struct ahead *ahead, const struct rt_row *row, struct rt_error *error)
{
    if (ahead->filling == NULL)
        ahead->filling = next_empty(ahead);
    struct part *part = ahead->filling;
    if (part == NULL)
        return RT_PARTIAL; /* why is known to the other thread */
    enum rt_status status = type_row(ahead->loader, row, &part->rows[part->count], error);
    part->count += status == RT_OK;
    if (part->count == ROWS_IN_PART)
        hand_over(ahead, false);
    return status;
}

/* A row of the loader's kind; the header first. */
static enum rt_status take_row(void *context, const struct rt_row *row, struct rt_error *error)
{
    struct ahead *ahead = context;
    struct loader *loader = ahead->loader;
    if (!loader->header_read)
        return read_header(loader, loader->report->path, row, error);
    if (loader->mapping == NULL)
        ahead->rows++;
    if (ahead->settle == NULL)
        return queue_row(ahead, row, error);
    enum rt_status status = type_row(loader, row, ahead->one, error);
    return status == RT_OK ? ahead->settle(loader, ahead->one, error) : status;
}

/* A row of the file as it is. */
static enum rt_status watch_and_take(void *context, const struct rt_row *row, struct rt_error *error)
{
    struct ahead *ahead = context;
    struct loader *loader = ahead->loader;
    enum rt_status status = watch_row(loader, row, error);
    if (status != RT_OK)
        return status;
    return loader->mapping == NULL ? take_row(ahead, row, error) : map_row(loader->mapping, row, error);
}

static enum rt_status read_rows(struct ahead *ahead, struct rt_error *error)
{
    struct rt_load_report *report = ahead->loader->report;
    return rt_read_dialect_rows(report->bytes_path, &report->dialect, watch_and_take, ahead, ahead->sha256,
                                error);
}

/* A foreign sheet is read as rows of the loader's kind. */
static enum rt_status read_all(struct ahead *ahead, struct rt_error *error)
{
    struct loader *loader = ahead->loader;
    struct rt_load_report *report = loader->report;
    if (report->map == NULL)
        return read_rows(ahead, error);
    struct mapping *mapping = rt_new_array(1, sizeof *mapping);
    if (mapping == NULL)
        return rt_fail_memory(error);
    mapping->map = report->map;
    mapping->kind = loader->kind;
    mapping->dialect = &report->dialect;
    mapping->function = take_row;
    mapping->context = ahead;
    loader->mapping = mapping;
    enum rt_status status = read_rows(ahead, error);
    if (status == RT_OK)
        rt_text_add(&report->unknown_columns, mapping->unknown.bytes == NULL ? "" : mapping->unknown.bytes);
    ahead->rows = mapping->rows;
    loader->mapping = NULL;
    release_mapping(mapping);
    free(mapping);
    return status == RT_OK ? rt_text_status(&report->unknown_columns, error) : status;
}

static void *read_in_thread(void *context)
{
    struct ahead *ahead = context;
    ahead->status = read_all(ahead, &ahead->error);
    hand_over(ahead, true); /* what the last part holds, or nothing */
    return NULL;
}

/* --- writing ------------------------------------------------------------------------------------------------ */

/* The next part that is filled; NULL after the last. */
static struct part *next_part(struct ahead *ahead)
{
    pthread_mutex_lock(&ahead->lock);
    while (!ahead->ended && ahead->filled == ahead->emptied)
        pthread_cond_wait(&ahead->turned, &ahead->lock);
    struct part *part = ahead->filled == ahead->emptied ? NULL : &ahead->parts[ahead->emptied % PARTS];
    pthread_mutex_unlock(&ahead->lock);
    return part;
}

static void give_back(struct ahead *ahead, struct part *part, bool stopped)
{
    part->count = 0;
    pthread_mutex_lock(&ahead->lock);
    ahead->emptied++;
    ahead->stopped = stopped;
    pthread_mutex_unlock(&ahead->lock);
    pthread_cond_signal(&ahead->turned); /* now, or whoever wakes waits again for the lock */
}

static enum rt_status settle_parts(struct ahead *ahead, settle_function settle, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (struct part *part = next_part(ahead); part != NULL; part = next_part(ahead)) {
        for (size_t i = 0; status == RT_OK && i < part->count; i++)
            status = settle(ahead->loader, &part->rows[i], error);
        give_back(ahead, part, status != RT_OK);
    }
    return status;
}

/* --- both --------------------------------------------------------------------------------------------------- */

static enum rt_status read_alone(struct ahead *ahead, settle_function settle, struct rt_error *error)
{
    struct typed_row *one = rt_new_array(1, sizeof *one);
    if (one == NULL)
        return rt_fail_memory(error);
    ahead->settle = settle;
    ahead->one = one;
    enum rt_status status = read_all(ahead, error);
    release_typed_row(one);
    free(one);
    return status;
}

/* The rows before a fault of the file are settled first, so that the error told is the one that one thread alone meets. */
static enum rt_status read_on_two(struct ahead *ahead, settle_function settle, struct rt_error *error)
{
    pthread_t reader;
    ahead->parts = rt_new_array(PARTS, sizeof *ahead->parts);
    if (ahead->parts == NULL)
        return rt_fail_memory(error);
    pthread_mutex_init(&ahead->lock, NULL); /* on Linux neither can fail */
    pthread_cond_init(&ahead->turned, NULL);
    bool two = pthread_create(&reader, NULL, read_in_thread, ahead) == 0;
    enum rt_status status = two ? settle_parts(ahead, settle, error) : read_alone(ahead, settle, error);
    if (two)
        pthread_join(reader, NULL);
    if (two && status == RT_OK && ahead->status != RT_OK) {
        status = ahead->status;
        if (error != NULL && error->status == RT_OK)
            *error = ahead->error;
    }
    pthread_cond_destroy(&ahead->turned);
    pthread_mutex_destroy(&ahead->lock);
    for (size_t i = 0; i < PARTS; i++)
        for (size_t j = 0; j < ROWS_IN_PART; j++)
            release_typed_row(&ahead->parts[i].rows[j]);
    free(ahead->parts);
    return status;
}

enum rt_status read_ahead(struct loader *loader, settle_function settle, char sha256[RT_SHA256_HEX],
                          long *rows, struct rt_error *error)
{
    struct ahead ahead = {.loader = loader, .sha256 = sha256};
    bool two = loader->bytes >= LEAST_BYTES && sysconf(_SC_NPROCESSORS_ONLN) > 1;
    enum rt_status status = two ? read_on_two(&ahead, settle, error) : read_alone(&ahead, settle, error);
    *rows = ahead.rows;
    return status;
}
