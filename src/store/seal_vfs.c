/* The layer that seals pages on their way to the file and looks at the seals on their way back. Everything else is handed
 * on to the layer below. */
#include "seal.h"

#include <stdlib.h>
#include <string.h>

enum {
    /* file controls of our own; SQLite keeps numbers below 100 to itself */
    SEAL_ALWAYS = 0x52640001,
    REFUSE_BROKEN = 0x52640002,
    MET_BROKEN = 0x52640003
};

static const char vfs_name[] = "ridgetally-sealed";

struct sealed_file {
    sqlite3_file base;
    bool database; /* the store itself: not its journal, not a temporary file */
    bool sealed;   /* as its header says */
    bool always;   /* seal even when the header does not say so (yet) */
    bool refuse;   /* broken pages are not handed on */
    bool met;      /* one was refused */
};

static sqlite3_file *below(sqlite3_file *file)
{
    return (sqlite3_file *)((struct sealed_file *)file + 1);
}

/* --- the seal ----------------------------------------------------------------------------------------------- */

static uint64_t turned(uint64_t value, unsigned bits)
{
    return value << bits | value >> (64 - bits);
}

/* Every step is a bijection of the state, so a change of one word can never be lost again; the turn carries high bits
 * down, which multiplication alone would not. */
uint64_t rt_seal_of(const unsigned char *page, size_t length, uint32_t number)
{
    static const uint64_t odd = 0x9e3779b97f4a7c15u;
    uint64_t state = 0;
    for (size_t at = 0; at + RT_SEAL_BYTES < length; at += 8) {
        uint64_t word = 0;
        for (unsigned i = 0; i < 8; i++) /* the same on every machine; compilers make one load of it */
            word |= (uint64_t)page[at + i] << (8 * i);
        state = turned((state ^ word) * odd, 29);
    }
    return state == 0 ? 0 : turned((state ^ number) * odd, 29);
}

uint64_t rt_stored_seal(const unsigned char *page, size_t length)
{
    uint64_t seal = 0;
    for (unsigned i = 0; i < RT_SEAL_BYTES; i++)
        seal |= (uint64_t)page[length - RT_SEAL_BYTES + i] << (8 * i);
    return seal;
}

static bool is_page(int amount, sqlite3_int64 offset)
{
    return amount >= 512 && amount <= RT_LARGEST_PAGE && (amount & (amount - 1)) == 0 && offset % amount == 0;
}

/* --- a file ------------------------------------------------------------------------------------------------- */

static void note_header(struct sealed_file *file, const unsigned char *bytes, int amount,
                        sqlite3_int64 offset)
{
    if (file->database && offset == 0 && amount >= RT_HEADER_BYTES)
        file->sealed = bytes[RT_RESERVE_AT] == RT_SEAL_RESERVE;
}

static int close_file(sqlite3_file *file)
{
    return below(file)->pMethods->xClose(below(file));
}

static int read_file(sqlite3_file *file, void *bytes, int amount, sqlite3_int64 offset)
{
    struct sealed_file *sealed = (struct sealed_file *)file;
    int result = below(file)->pMethods->xRead(below(file), bytes, amount, offset);
    if (result != SQLITE_OK)
        return result;
    note_header(sealed, bytes, amount, offset);
    if (!sealed->database || !sealed->sealed || !sealed->refuse || offset == 0 || !is_page(amount, offset))
        return SQLITE_OK;
    uint32_t number = (uint32_t)(offset / amount) + 1;
    if (rt_seal_of(bytes, (size_t)amount, number) == rt_stored_seal(bytes, (size_t)amount))
        return SQLITE_OK;
    sealed->met = true;
    return SQLITE_IOERR_DATA;
}

/* The seal is written into SQLite's own buffer, declared constant yet its page in memory: a journal saves pages from there,
 * and a journal that any program plays back must hold good seals. */
static int write_file(sqlite3_file *file, const void *bytes, int amount, sqlite3_int64 offset)
{
    struct sealed_file *sealed = (struct sealed_file *)file;
    note_header(sealed, bytes, amount, offset);
    if (sealed->database && (sealed->sealed || sealed->always) && is_page(amount, offset)) {
        uint64_t seal = rt_seal_of(bytes, (size_t)amount, (uint32_t)(offset / amount) + 1);
        unsigned char *place = (unsigned char *)bytes + amount - RT_SEAL_BYTES;
        for (unsigned i = 0; i < RT_SEAL_BYTES; i++)
            place[i] = (unsigned char)(seal >> (8 * i));
    }
    return below(file)->pMethods->xWrite(below(file), bytes, amount, offset);
}

static int truncate_file(sqlite3_file *file, sqlite3_int64 size)
{
    return below(file)->pMethods->xTruncate(below(file), size);
}

static int sync_file(sqlite3_file *file, int flags)
{
    return below(file)->pMethods->xSync(below(file), flags);
}

static int size_of_file(sqlite3_file *file, sqlite3_int64 *size)
{
    return below(file)->pMethods->xFileSize(below(file), size);
}

static int lock_file(sqlite3_file *file, int level)
{
    return below(file)->pMethods->xLock(below(file), level);
}

static int unlock_file(sqlite3_file *file, int level)
{
    return below(file)->pMethods->xUnlock(below(file), level);
}

static int check_reserved_lock(sqlite3_file *file, int *held)
{
    return below(file)->pMethods->xCheckReservedLock(below(file), held);
}

static int control_file(sqlite3_file *file, int operation, void *argument)
{
    struct sealed_file *sealed = (struct sealed_file *)file;
    switch (operation) {
    case SEAL_ALWAYS:
        sealed->always = *(const bool *)argument;
        return SQLITE_OK;
    case REFUSE_BROKEN:
        sealed->refuse = *(const bool *)argument;
        return SQLITE_OK;
    case MET_BROKEN:
        *(bool *)argument = sealed->met;
        return SQLITE_OK;
    default:
        return below(file)->pMethods->xFileControl(below(file), operation, argument);
    }
}

static int sector_size(sqlite3_file *file)
{
    return below(file)->pMethods->xSectorSize(below(file));
}

static int device_characteristics(sqlite3_file *file)
{
    return below(file)->pMethods->xDeviceCharacteristics(below(file));
}

static int map_shared(sqlite3_file *file, int page, int size, int extend, void volatile **memory)
{
    return below(file)->pMethods->xShmMap(below(file), page, size, extend, memory);
}

static int lock_shared(sqlite3_file *file, int offset, int count, int flags)
{
    return below(file)->pMethods->xShmLock(below(file), offset, count, flags);
}

static void shared_barrier(sqlite3_file *file)
{
    below(file)->pMethods->xShmBarrier(below(file));
}

static int unmap_shared(sqlite3_file *file, int discard)
{
    return below(file)->pMethods->xShmUnmap(below(file), discard);
}

/* Version 2: no memory-mapped reads, which would pass the seals by. */
static const sqlite3_io_methods sealed_methods = {
    .iVersion = 2,
    .xClose = close_file,
    .xRead = read_file,
    .xWrite = write_file,
    .xTruncate = truncate_file,
    .xSync = sync_file,
    .xFileSize = size_of_file,
    .xLock = lock_file,
    .xUnlock = unlock_file,
    .xCheckReservedLock = check_reserved_lock,
    .xFileControl = control_file,
    .xSectorSize = sector_size,
    .xDeviceCharacteristics = device_characteristics,
    .xShmMap = map_shared,
    .xShmLock = lock_shared,
    .xShmBarrier = shared_barrier,
    .xShmUnmap = unmap_shared,
};

/* --- the file system ---------------------------------------------------------------------------------------- */

static sqlite3_vfs *system_below(sqlite3_vfs *vfs)
{
    return vfs->pAppData;
}

static int open_file(sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags, int *given)
{
    struct sealed_file *sealed = (struct sealed_file *)file;
    *sealed = (struct sealed_file){.database = (flags & SQLITE_OPEN_MAIN_DB) != 0, .refuse = true};
    memset(below(file), 0, (size_t)system_below(vfs)->szOsFile);
    int result = system_below(vfs)->xOpen(system_below(vfs), name, below(file), flags, given);
    /* a file that was opened half is closed by SQLite when it has methods */
    sealed->base.pMethods = below(file)->pMethods == NULL ? NULL : &sealed_methods;
    return result;
}

static int delete_file(sqlite3_vfs *vfs, const char *name, int sync_folder)
{
    return system_below(vfs)->xDelete(system_below(vfs), name, sync_folder);
}

static int access_file(sqlite3_vfs *vfs, const char *name, int flags, int *answer)
{
    return system_below(vfs)->xAccess(system_below(vfs), name, flags, answer);
}

static int full_name(sqlite3_vfs *vfs, const char *name, int size, char *full)
{
    return system_below(vfs)->xFullPathname(system_below(vfs), name, size, full);
}

static int random_bytes(sqlite3_vfs *vfs, int count, char *bytes)
{
    return system_below(vfs)->xRandomness(system_below(vfs), count, bytes);
}

static int sleep_for(sqlite3_vfs *vfs, int microseconds)
{
    return system_below(vfs)->xSleep(system_below(vfs), microseconds);
}

static int day_now(sqlite3_vfs *vfs, double *day)
{
    return system_below(vfs)->xCurrentTime(system_below(vfs), day);
}

static int last_error(sqlite3_vfs *vfs, int size, char *words)
{
    return system_below(vfs)->xGetLastError(system_below(vfs), size, words);
}

static int milliseconds_now(sqlite3_vfs *vfs, sqlite3_int64 *milliseconds)
{
    return system_below(vfs)->xCurrentTimeInt64(system_below(vfs), milliseconds);
}

/* No loading of extensions; SQLite asks for these functions only when they are there. */
const char *rt_seal_vfs(void)
{
    if (sqlite3_vfs_find(vfs_name) != NULL)
        return vfs_name;
    sqlite3_vfs *system = sqlite3_vfs_find(NULL);
    sqlite3_vfs *made = system == NULL ? NULL : calloc(1, sizeof *made);
    if (made == NULL)
        return NULL;
    *made = (sqlite3_vfs){
        .iVersion = 2,
        .szOsFile = (int)sizeof(struct sealed_file) + system->szOsFile,
        .mxPathname = system->mxPathname,
        .zName = vfs_name,
        .pAppData = system,
        .xOpen = open_file,
        .xDelete = delete_file,
        .xAccess = access_file,
        .xFullPathname = full_name,
        .xRandomness = random_bytes,
        .xSleep = sleep_for,
        .xCurrentTime = day_now,
        .xGetLastError = last_error,
        .xCurrentTimeInt64 = milliseconds_now,
    };
    if (sqlite3_vfs_register(made, 0) == SQLITE_OK)
        return vfs_name; /* kept by SQLite for as long as the program runs */
    free(made);
    return NULL;
}

void rt_seal_always(sqlite3 *db, bool always)
{
    sqlite3_file_control(db, "main", SEAL_ALWAYS, &always);
}

void rt_refuse_broken_pages(sqlite3 *db, bool refuse)
{
    sqlite3_file_control(db, "main", REFUSE_BROKEN, &refuse);
}

bool rt_met_broken_page(sqlite3 *db)
{
    bool met = false;
    return sqlite3_file_control(db, "main", MET_BROKEN, &met) == SQLITE_OK && met;
}
