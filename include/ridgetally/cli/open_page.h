/*
 * `--open`: show a written page in the user's browser.
 */
#ifndef RIDGETALLY_CLI_OPEN_PAGE_H
#define RIDGETALLY_CLI_OPEN_PAGE_H

#include "ridgetally/base/error.h"

/* Its line of --help. */
#define RT_OPEN_HELP "  --open         show the page in the browser named by BROWSER, else by xdg-open\n"

/* Start the browser on the file at path and come back without waiting for it to close. The programs tried are those in
 * BROWSER (names separated by colons, without arguments), else xdg-open; no shell is asked. RT_SYSTEM, with the path to open by hand,
 * when none can be started or it gives up within a second. */
enum rt_status rt_open_page(const char *path, struct rt_error *error);

#endif
