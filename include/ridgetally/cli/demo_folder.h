/*
 * The folder a demo writes into. A list in it (`.made-by-demo`, one name a line) says what the demo put there, so
 * that the next demo removes that and nothing else.
 */
#ifndef RIDGETALLY_CLI_DEMO_FOLDER_H
#define RIDGETALLY_CLI_DEMO_FOLDER_H

#include "ridgetally/base/error.h"
#include "ridgetally/base/text.h"

struct rt_demo_folder {
    const char *path;    /* borrowed */
    struct rt_text kept; /* names that were there before and are not ours: "\nNAME\nNAME\n" */
};

/* Make the folder, or clear an earlier demo out of it. RT_USE when it holds files and no list of ours, or when one
 * of the count names to be written is there and not ours. Release it also after a failure. */
enum rt_status rt_open_demo_folder(struct rt_demo_folder *folder, const char *path, const char *const *names,
                                   size_t count, struct rt_error *error);

/* List everything that has come into the folder since it was opened. */
enum rt_status rt_list_demo_folder(const struct rt_demo_folder *folder, struct rt_error *error);

void rt_release_demo_folder(struct rt_demo_folder *folder);

#endif
