/* A disk that can be cut from its power, or refuse: what the program asks of files in one folder is recorded on its way to
 * the real files, through a VFS under SQLite's and through wrapped calls of the C library (mkstemp, write, fsync, link,
 * rename, unlink: see .ci/make/fault.mk).
 *
 * The model. What was written since a file's last sync may be lost or kept, sector by sector, in any mixture, and a sector
 * may hold noise where it was being written. Names made, changed and removed since the last sync of the folder may be lost
 * or kept, each for itself. Bytes and names are as they were when both were synced. A folder is synced where SQLite's own
 * system layer does so: with the first sync of a new journal, and with a deletion that asks for it. */
#ifndef RIDGETALLY_TESTS_FAULT_DISK_H
#define RIDGETALLY_TESTS_FAULT_DISK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Put the recording VFS under all later connections. Once, before the first store is opened. */
void disk_install(void);

/* --- recording ---------------------------------------------------------------------------------------------- */

/* From now on record what happens to files in the folder (an absolute path). What is there now counts as synced. */
void disk_watch(const char *folder);
void disk_stop(void);

/* How many operations were recorded since disk_watch. */
size_t disk_recorded(void);

/* How pending operations fare. */
enum disk_fate {
    DISK_LOST,  /* none reached the disk */
    DISK_KEPT,  /* all did, as after a kill */
    DISK_MIXED, /* some did, sector by sector */
    DISK_NOISY  /* the same, and some sectors hold noise */
};

/* Walk through the recording: at first nothing has happened; disk_step lets one more operation happen and is false after
 * the last. */
void disk_rewind(void);
bool disk_step(void);

/* Make up what the disk holds when the power goes now. seed decides the
 * mixture; sectors are of 512 or 4096 bytes by its lowest bit. Returns a hash of all that it holds, so that equal disks
 * can be known. */
uint64_t disk_cut(enum disk_fate fate, uint32_t seed);

/* Write the disk of the last disk_cut into a folder, which is emptied first. */
void disk_write_cut(const char *to);

/* Remove the files of a folder. */
void disk_empty(const char *folder);

/* --- refusing ----------------------------------------------------------------------------------------------- */

enum disk_refusal {
    DISK_REFUSE_NOTHING,
    DISK_REFUSE_ONCE, /* an error of input or output */
    DISK_REFUSE_ALWAYS,
    DISK_FULL_ONCE, /* no space: writes only; half of the bytes are written */
    DISK_FULL_ALWAYS
};

/* Let calls pass until `at` of them were made on files of the folder, then refuse as said. Recording is off. */
void disk_refuse(const char *folder, enum disk_refusal refusal, long at);

/* Calls made since disk_refuse, and those refused. */
long disk_calls(void);
long disk_refused(void);

/* --- pragmas ------------------------------------------------------------------------------------------------ */

/* Run this on every connection of the program after its own settings; NULL = nothing. */
void disk_pragma(const char *sql);

#endif
