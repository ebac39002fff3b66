/*
 * The present, for stamps in the store (loaded_at, recorded_at). Figures never depend on it.
 */
#ifndef RIDGETALLY_STORE_CLOCK_H
#define RIDGETALLY_STORE_CLOCK_H

enum { RT_CLOCK_BYTES = 21 };

/* The present UTC instant as YYYY-MM-DDTHH:MM:SSZ; SOURCE_DATE_EPOCH (seconds), when set, stands in for the
 * clock so that a store can be made again byte for byte. Returns text. */
char *rt_clock(char text[RT_CLOCK_BYTES]);

#endif
