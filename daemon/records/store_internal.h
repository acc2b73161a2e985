/* SPDX-License-Identifier: MIT */
#ifndef AMBO_RECORDS_STORE_INTERNAL_H
#define AMBO_RECORDS_STORE_INTERNAL_H

#include <sqlite3.h>

#include "store.h"

/* What the files of the store share; nobody else includes this. */
struct store {
	sqlite3 *db;
	int lock_fd; /* -1: none */
	char *path;
	char message[STORE_MESSAGE_MAX];
};

/* -errno for SQLite's extended error code; system_errno as SQLite met it, or 0. */
int store_errno(int code, int system_errno);
/* One sentence: "cannot DOING PATH: REASON; WHAT TO DO". Returns error. */
int store_explain(char *message, const char *doing, const char *path, int error);
/* Explains SQLite's last error of this connection; returns -errno. */
int store_fail(struct store *store, const char *doing);
int store_refuse(struct store *store, const char *doing, int error);

/* A prepared statement with its parameters bound in order, by types: 'i' int64_t,
 * 'd' double, 't' const char * (copied by the step), 'b' const void *, size_t. The
 * caller finalises *ret. 0 or -errno with the message set. */
int store_query(struct store *store, const char *doing, sqlite3_stmt **ret, const char *sql,
                const char *types, ...);
/* The next row: 1, 0 at the end, -errno. */
int store_next(struct store *store, const char *doing, sqlite3_stmt *statement);
/* Runs one statement to its end. 0 or -errno. */
int store_run(struct store *store, const char *doing, const char *sql, const char *types, ...);

/* One transaction: begin; then finish with the result so far: commits for >= 0,
 * rolls back otherwise. Returns what is true then: result, or the commit's -errno. */
int store_transaction(struct store *store, const char *doing);
int64_t store_finish(struct store *store, const char *doing, int64_t result);

/* Copies a column's text, cut to size with its NUL. */
void store_copy_text(char *to, size_t size, sqlite3_stmt *statement, int column);
/* Four columns from there on: boot_id, boottime_us, realtime_us, synchronised. */
void store_copy_stamp(struct store_stamp *to, sqlite3_stmt *statement, int column);
/* "a" or "b". */
const char *store_part_name(enum part part);

/* Text of guide_write() or canonical_write(), whole; NULL without memory. */
char *store_text_of(size_t (*write)(const struct guide *, char *, size_t),
                    const struct guide *guide);

/* The chain's next link over record, inside the caller's transaction. */
int store_link(struct store *store, int64_t batch_id, const char *record);

/* The first row of a query, by take(). Ends the statement. 0, -ENOENT where there is none,
 * -errno. */
int store_read_one(struct store *store, const char *doing, sqlite3_stmt *statement,
                   void (*take)(sqlite3_stmt *statement, void *element), void *ret);
/* All rows of a query into an array that grows; take() fills one cleared element. Ends
 * the statement. The caller frees *ret. */
int store_read_all(struct store *store, const char *doing, sqlite3_stmt *statement, size_t size,
                   void (*take)(sqlite3_stmt *statement, void *element), void **ret, size_t *ret_n);

#endif
