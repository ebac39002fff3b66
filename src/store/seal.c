#include "ridgetally/base/memory.h"

#include "seal.h"

#include "handle.h"

/* What the file reserves at the end of each page, as it stands in its header. */
static int read_header(sqlite3 *db, unsigned char header[RT_HEADER_BYTES])
{
    sqlite3_file *file = NULL;
    int result = sqlite3_file_control(db, "main", SQLITE_FCNTL_FILE_POINTER, &file);
    if (result == SQLITE_OK && (file == NULL || file->pMethods == NULL))
        result = SQLITE_CANTOPEN;
    return result == SQLITE_OK ? file->pMethods->xRead(file, header, RT_HEADER_BYTES, 0) : result;
}

/* Of a new file, or for the next VACUUM; what is reserved can only grow. */
static int ask_reserve(sqlite3 *db, int bytes)
{
    return sqlite3_file_control(db, "main", SQLITE_FCNTL_RESERVE_BYTES, &bytes);
}

enum rt_status rt_seal_new(sqlite3 *db, const char *path, struct rt_error *error)
{
    return rt_fail_sqlite(db, path, ask_reserve(db, RT_SEAL_RESERVE), "make the store", error);
}

static enum rt_status rewrite(sqlite3 *db, const char *path, int reserve, struct rt_error *error)
{
    static const char doing[] = "seal the pages of the store";
    enum rt_status status = rt_fail_sqlite(db, path, ask_reserve(db, reserve), doing, error);
    return status == RT_OK ? rt_run_sql(db, path, "VACUUM", doing, error) : status;
}

/* Twice over, because a rewriting that is cut short is taken back page by page: the first makes room and writes no seal,
 * so that pages without room are never given one; the second finds room in the old pages as well as in the new. */
enum rt_status rt_seal_store(sqlite3 *db, const char *path, struct rt_error *error)
{
    unsigned char header[RT_HEADER_BYTES] = {0};
    enum rt_status status = rt_fail_sqlite(db, path, read_header(db, header), "read the store", error);
    int reserved = header[RT_RESERVE_AT];
    if (status == RT_OK && reserved < RT_UNSEALED_RESERVE)
        status = rewrite(db, path, RT_UNSEALED_RESERVE, error);
    if (status == RT_OK && reserved < RT_SEAL_RESERVE) {
        rt_seal_always(db, true);
        status = rewrite(db, path, RT_SEAL_RESERVE, error);
        rt_seal_always(db, false);
    }
    return status;
}

static size_t page_size_of(const unsigned char header[RT_HEADER_BYTES])
{
    size_t size = (size_t)header[16] << 8 | header[17];
    return size == 1 ? RT_LARGEST_PAGE : size;
}

static uint32_t number_at(const unsigned char *bytes)
{
    return (uint32_t)bytes[0] << 24 | (uint32_t)bytes[1] << 16 | (uint32_t)bytes[2] << 8 | bytes[3];
}

/* Mark the free pages that hold nothing (the leaves of the free list, "Database File Format", sqlite.org). SQLite does not put
 * back what they held when a transaction is taken back, so that a cut of the power may leave them torn; it never reads them. */
static int mark_free_leaves(sqlite3_file *file, unsigned char *page, size_t length, uint32_t pages,
                            char *free_leaf)
{
    int result = file->pMethods->xRead(file, page, RT_HEADER_BYTES, 0);
    uint32_t trunk = result == SQLITE_OK ? number_at(page + 32) : 0;
    for (uint32_t seen = 0; result == SQLITE_OK && trunk > 1 && trunk <= pages && seen < pages; seen++) {
        result = file->pMethods->xRead(file, page, (int)length, (trunk - 1) * (sqlite3_int64)length);
        uint32_t leaves = result == SQLITE_OK ? number_at(page + 4) : 0;
        for (uint32_t i = 0; i < leaves && 8 + 4 * (size_t)i + 4 <= length - RT_SEAL_RESERVE; i++) {
            uint32_t leaf = number_at(page + 8 + 4 * (size_t)i);
            if (leaf > 1 && leaf <= pages)
                free_leaf[leaf - 1] = 1;
        }
        trunk = result == SQLITE_OK ? number_at(page) : 0;
    }
    return result;
}

enum rt_status rt_count_seals(sqlite3 *db, const char *path, struct rt_seal_count *count,
                              struct rt_error *error)
{
    unsigned char page[RT_LARGEST_PAGE];
    sqlite3_file *file = NULL;
    sqlite3_int64 size = 0;
    char *free_leaf = NULL;
    *count = (struct rt_seal_count){.sealed = false};
    int result = read_header(db, page);
    if (result == SQLITE_OK)
        result = sqlite3_file_control(db, "main", SQLITE_FCNTL_FILE_POINTER, &file);
    if (result == SQLITE_OK)
        result = file->pMethods->xFileSize(file, &size);
    size_t length = result == SQLITE_OK ? page_size_of(page) : 0;
    count->sealed = result == SQLITE_OK && page[RT_RESERVE_AT] == RT_SEAL_RESERVE && length >= 512;
    sqlite3_int64 pages = count->sealed ? size / (sqlite3_int64)length : 0;
    if (pages > 0) {
        free_leaf = rt_new_array((size_t)pages, 1);
        result = free_leaf == NULL ? SQLITE_NOMEM
                                   : mark_free_leaves(file, page, length, (uint32_t)pages, free_leaf);
    }
    while (result == SQLITE_OK && count->pages < pages) {
        result = file->pMethods->xRead(file, page, (int)length, count->pages * (sqlite3_int64)length);
        count->pages++;
        if (result == SQLITE_OK && free_leaf[count->pages - 1] == 0 &&
            rt_seal_of(page, length, (uint32_t)count->pages) != rt_stored_seal(page, length) &&
            count->broken++ == 0)
            count->first_broken = count->pages;
    }
    free(free_leaf);
    return rt_fail_sqlite(NULL, path, result, "read the store", error);
}
