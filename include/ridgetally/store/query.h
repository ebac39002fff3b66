/*
 * Queries: prepared statements with named parameters and typed columns. Values never become part of SQL text.
 *
 *     struct rt_query *query = NULL;
 *     enum rt_status status = rt_query_open(store, "sql/queries/placed.sql", &query, error);
 *     rt_bind_integer(query, ":first_day", first_day);
 *     bool row = false;
 *     while ((status = rt_query_next(query, &row, error)) == RT_OK && row)
 *         use(rt_column_real(query, 0));
 *     rt_query_close(query);
 *
 * Binding reports nothing itself: a wrong name or no memory is reported by the next rt_query_next. All
 * functions accept a NULL query (after a failed open): binding does nothing, rt_query_next returns RT_USE.
 */
#ifndef RIDGETALLY_STORE_QUERY_H
#define RIDGETALLY_STORE_QUERY_H

#include "ridgetally/base/error.h"
#include "ridgetally/store/store.h"

#include <stdbool.h>
#include <stdint.h>

struct rt_query;

/* Prepare the embedded file of that name (one statement), for example "sql/queries/placed.sql". RT_STORE with
 * SQLite's words when it cannot be prepared, RT_USE when there is no such file. */
enum rt_status rt_query_open(struct rt_store *store, const char *resource_name, struct rt_query **query,
                             struct rt_error *error);

/* Prepare a constant statement. sql must be a literal of the program, never built from data. */
enum rt_status rt_query_open_text(struct rt_store *store, const char *sql, struct rt_query **query,
                                  struct rt_error *error);

/* Which tables a constant statement reads, temporary ones and those behind views included: take is called once with the name
 * of each. The statement is prepared and not run. */
enum rt_status rt_query_reads(struct rt_store *store, const char *sql,
                              void (*take)(void *context, const char *table), void *context,
                              struct rt_error *error);

/* Run a constant script of statements without results and parameters. */
enum rt_status rt_run_script(struct rt_store *store, const char *sql, struct rt_error *error);

/* Bind by parameter name with its colon, ":name". Text is copied; NULL text and NaN bind NULL; a date of
 * RT_NO_DATE binds NULL. Bindings stay until changed or cleared. */
void rt_bind_text(struct rt_query *query, const char *name, const char *value);
void rt_bind_integer(struct rt_query *query, const char *name, int64_t value);
void rt_bind_real(struct rt_query *query, const char *name, double value);
void rt_bind_date(struct rt_query *query, const char *name, int day_number);
void rt_bind_null(struct rt_query *query, const char *name);

/* The same by position (1-based), for loops over many rows: rt_parameter gives the position of a name, 0 when
 * there is none. rt_bind_text_at does not copy: value must stay until the next rt_query_next has returned. */
int rt_parameter(const struct rt_query *query, const char *name);
void rt_bind_text_at(struct rt_query *query, int position, const char *value);
void rt_bind_integer_at(struct rt_query *query, int position, int64_t value);
void rt_bind_real_at(struct rt_query *query, int position, double value);
void rt_bind_null_at(struct rt_query *query, int position);

/* Step. *row tells whether a row is there. After the last row the query is ready to be bound and run again.
 */
enum rt_status rt_query_next(struct rt_query *query, bool *row, struct rt_error *error);

/* Run a statement to its end, whatever rows it gives (an INSERT, an UPDATE). */
enum rt_status rt_query_run(struct rt_query *query, struct rt_error *error);

/* Stop before the last row and make the query ready to run again. */
void rt_query_reset(struct rt_query *query);

void rt_query_close(struct rt_query *query);

/* Columns of the current row, by position (0-based). rt_column gives the position of a column name, -1 when
 * there is none. NULL gives: text NULL, real NaN, date RT_NO_DATE, integer `otherwise`. Text lives until the
 * next step, reset or close. */
int rt_column_count(const struct rt_query *query);
const char *rt_column_name(const struct rt_query *query, int column);
int rt_column(const struct rt_query *query, const char *name);
bool rt_column_is_null(const struct rt_query *query, int column);
const char *rt_column_text(const struct rt_query *query, int column);
int64_t rt_column_integer(const struct rt_query *query, int column, int64_t otherwise);
double rt_column_real(const struct rt_query *query, int column);
int rt_column_date(const struct rt_query *query, int column);

/* Rows changed by the last statement, and the rowid of the last insert of this store. */
int64_t rt_rows_changed(const struct rt_store *store);
int64_t rt_last_row_id(const struct rt_store *store);

#endif
