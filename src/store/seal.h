/* Seals of pages: a checksum at the end of every page of a store, so that a changed byte is seen even where SQLite's own
 * structures do not notice it (a digit in a cell). Shared by the files of the store only.
 *
 * A store is sealed when its header reserves RT_SEAL_RESERVE bytes at the end of each page (byte 20 of the file, "Database
 * File Format", sqlite.org); the last 8 of them hold the seal. SQLite itself never reads or writes reserved bytes, so any
 * program can read a sealed store; one that writes it breaks the seals. */
#ifndef RIDGETALLY_SRC_STORE_SEAL_H
#define RIDGETALLY_SRC_STORE_SEAL_H

#include "ridgetally/base/error.h"

#include <sqlite3.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    RT_HEADER_BYTES = 100, /* of the file */
    RT_RESERVE_AT = 20,
    RT_LARGEST_PAGE = 65536,
    RT_SEAL_BYTES = 8,
    RT_UNSEALED_RESERVE =
        8, /* on the way from a store without reserved bytes: room for a seal, none written */
    RT_SEAL_RESERVE = 16
};

/* The seal of a page: of its bytes without the last RT_SEAL_BYTES, and of its number (1-based). 0 for a page of zeros,
 * which a file system may hold as a hole. Any change within 8 bytes in line changes it; other changes do so but for one in
 * 2^64. */
uint64_t rt_seal_of(const unsigned char *page, size_t length, uint32_t number);

/* The seal a page bears. */
uint64_t rt_stored_seal(const unsigned char *page, size_t length);

/* The name of the layer between SQLite and the system (a "VFS") that seals pages as they are written, and refuses pages
 * read whose seal is broken (SQLITE_IOERR_DATA; not the first page, so that its header can still say what the file is).
 * Registered with SQLite when first asked for; NULL when there is no memory. It lies over the VFS that was SQLite's
 * default then. */
const char *rt_seal_vfs(void);

/* Seal every page that is written, also while the header does not reserve RT_SEAL_RESERVE bytes yet. */
void rt_seal_always(sqlite3 *db, bool always);

/* Refuse broken pages when they are read (so at first), or hand them on, as `verify` needs. */
void rt_refuse_broken_pages(sqlite3 *db, bool refuse);

/* Whether a page was refused on this connection: SQLite does not always keep why a read failed. */
bool rt_met_broken_page(sqlite3 *db);

/* Let a new file be sealed: before anything is written to it. */
enum rt_status rt_seal_new(sqlite3 *db, const char *path, struct rt_error *error);

/* Bring a store without seals to seals, outside any transaction; nothing when it is sealed. */
enum rt_status rt_seal_store(sqlite3 *db, const char *path, struct rt_error *error);

/* What the pages of a file look like. */
struct rt_seal_count {
    bool sealed;
    long pages;
    long broken;
    long first_broken; /* its number, 1-based */
};

/* Read every page and look at its seal, that of free pages that hold nothing excepted. To be called within a
 * transaction that has read something, so that nobody writes meanwhile, and while broken pages are not refused. */
enum rt_status rt_count_seals(sqlite3 *db, const char *path, struct rt_seal_count *count,
                              struct rt_error *error);

#endif
