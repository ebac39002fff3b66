/*
 * Files written beside their target and renamed, so that a reader sees the old file or the whole new one.
 */
#ifndef RIDGETALLY_BASE_FILE_H
#define RIDGETALLY_BASE_FILE_H

#include "ridgetally/base/error.h"

#include <stddef.h>

/* Write length bytes to path: a temporary file in the same folder (mode 0600), flushed and fsync'ed, then
 * renamed over path. A path that exists and is not a regular file (a pipe, /dev/full) is written in place.
 * On failure nothing is left behind. RT_SYSTEM with the path and the reason. */
enum rt_status rt_write_file(const char *path, const char *bytes, size_t length, struct rt_error *error);

/* Read a whole file into *bytes (NUL-terminated, the caller frees it). limit is the largest size accepted.
 * RT_INPUT when it is missing, a directory, or too large; RT_SYSTEM when reading fails. */
enum rt_status rt_read_file(const char *path, size_t limit, char **bytes, size_t *length,
                            struct rt_error *error);

/* Make a rename or a new name in path's folder durable (fsync of the folder; refusal is ignored). */
void rt_sync_folder_of(const char *path);

/* Create the folder (mode 0700) and its missing parents. An existing folder is fine. */
enum rt_status rt_make_folder(const char *path, struct rt_error *error);

/* Write bytes to a stream (stdout) and flush it; RT_SYSTEM when the write fails (for example /dev/full). */
enum rt_status rt_write_stream(FILE *stream, const char *bytes, size_t length, struct rt_error *error);

#endif
