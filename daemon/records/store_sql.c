/* SPDX-License-Identifier: MIT */
#include "store_internal.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Statements, transactions and SQLite's errors in our words: what the other files
 * of the store are written in. */

static const struct {
	int error;
	const char *reason, *remedy;
} words[] = {
        {ENOSPC, "the disk is full", "make room on it, then try again"},
        {EROFS, "it is on a read-only file system", "mount that for writing, or move the store"},
        {EACCES, "permission denied", "give the user of this program the file and its folder"},
        {EBADMSG, "it is damaged, or no store of Ambo's",
         "move it away and put the last backup in its place"},
        {EBUSY, "another program is using it", "close that program, then try again"},
        {EPROTO, "it was written by a newer Ambo", "install that version, or newer"},
        {ENOENT, "it is not there", "check its name"},
        {EALREADY, "it is finished and never changes", "begin a new batch"},
        {EINVAL, "a value in it is not allowed", "report this as a fault of Ambo's"},
        {ENOMEM, "there is no memory left", "close other programs, then try again"},
        {EIO, "the disk cannot be read or written", "check the disk, then restart"},
};

const char *store_reason(int error)
{
	for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
		if (words[i].error == abs(error))
			return words[i].reason;
	return "the store failed";
}

const char *store_remedy(int error)
{
	for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
		if (words[i].error == abs(error))
			return words[i].remedy;
	return "look at the system's log for the disk";
}

int store_explain(char *message, const char *doing, const char *path, int error)
{
	snprintf(message, STORE_MESSAGE_MAX, "cannot %s %s: %s; %s", doing, path,
	         store_reason(error), store_remedy(error));
	return error;
}

int store_errno(int code, int system_errno)
{
	switch (code & 0xff) {
	case SQLITE_OK:
		return 0;
	case SQLITE_FULL:
		return -ENOSPC;
	case SQLITE_READONLY:
		/* Also when folder or file may not be written by this user. */
		return system_errno == EROFS ? -EROFS : -EACCES;
	case SQLITE_PERM:
	case SQLITE_AUTH:
		return -EACCES;
	case SQLITE_BUSY:
	case SQLITE_LOCKED:
		return -EBUSY;
	case SQLITE_CORRUPT:
	case SQLITE_NOTADB:
		return -EBADMSG;
	case SQLITE_NOMEM:
		return -ENOMEM;
	case SQLITE_CONSTRAINT:
	case SQLITE_MISMATCH:
	case SQLITE_TOOBIG:
		return -EINVAL;
	case SQLITE_IOERR:
	case SQLITE_CANTOPEN:
		/* A file or quota at its limit is room that is missing, as far as a
		 * person can do something about it. */
		if (system_errno == EFBIG || system_errno == EDQUOT)
			return -ENOSPC;
		return system_errno > 0 ? -system_errno : -EIO;
	}
	return -EIO;
}

static int fail(struct store *store, const char *doing, int system_errno)
{
	int error = store_errno(sqlite3_extended_errcode(store->db), system_errno);

	/* SQLite's own words too: what a person can look up. */
	snprintf(store->message, sizeof store->message, "cannot %s %s: %s (%s); %s", doing,
	         store->path, store_reason(error), sqlite3_errmsg(store->db), store_remedy(error));
	return error ? error : -EIO;
}

int store_fail(struct store *store, const char *doing)
{
	return fail(store, doing, sqlite3_system_errno(store->db));
}

int store_refuse(struct store *store, const char *doing, int error)
{
	return store_explain(store->message, doing, store->path, error);
}

const char *store_message(const struct store *store)
{
	return store->message;
}

static int bind_all(sqlite3_stmt *statement, const char *types, va_list arguments)
{
	int code = SQLITE_OK;

	for (int i = 1; *types && code == SQLITE_OK; i++, types++) {
		const void *bytes;

		switch (*types) {
		case 'i':
			code = sqlite3_bind_int64(statement, i, va_arg(arguments, int64_t));
			break;
		case 'd':
			code = sqlite3_bind_double(statement, i, va_arg(arguments, double));
			break;
		case 't':
			code = sqlite3_bind_text(statement, i, va_arg(arguments, const char *), -1,
			                         SQLITE_TRANSIENT);
			break;
		case 'b':
			bytes = va_arg(arguments, const void *);
			code = sqlite3_bind_blob64(statement, i, bytes, va_arg(arguments, size_t),
			                           SQLITE_TRANSIENT);
			break;
		}
	}
	return code;
}

static int query(struct store *store, const char *doing, sqlite3_stmt **ret, const char *sql,
                 const char *types, va_list arguments)
{
	sqlite3_stmt *statement = NULL;
	int code = sqlite3_prepare_v2(store->db, sql, -1, &statement, NULL);

	if (code == SQLITE_OK)
		code = bind_all(statement, types, arguments);
	if (code != SQLITE_OK) {
		int error = store_fail(store, doing);

		sqlite3_finalize(statement);
		return error;
	}
	*ret = statement;
	return 0;
}

int store_query(struct store *store, const char *doing, sqlite3_stmt **ret, const char *sql,
                const char *types, ...)
{
	va_list arguments;
	int r;

	va_start(arguments, types);
	r = query(store, doing, ret, sql, types, arguments);
	va_end(arguments);
	return r;
}

int store_next(struct store *store, const char *doing, sqlite3_stmt *statement)
{
	/* A COMMIT that fails leaves sqlite3_system_errno() at 0 (3.40): errno has it. */
	errno = 0;
	switch (sqlite3_step(statement)) {
	case SQLITE_ROW:
		return 1;
	case SQLITE_DONE:
		return 0;
	default:
		return fail(store, doing, errno);
	}
}

int store_run(struct store *store, const char *doing, const char *sql, const char *types, ...)
{
	sqlite3_stmt *statement;
	va_list arguments;
	int r;

	va_start(arguments, types);
	r = query(store, doing, &statement, sql, types, arguments);
	va_end(arguments);
	if (r < 0)
		return r;
	while ((r = store_next(store, doing, statement)) > 0)
		;
	sqlite3_finalize(statement);
	return r;
}

int store_transaction(struct store *store, const char *doing)
{
	/* IMMEDIATE: a lock that cannot be had is met here, not in the middle. */
	return store_run(store, doing, "BEGIN IMMEDIATE", "");
}

int64_t store_finish(struct store *store, const char *doing, int64_t result)
{
	int r;

	if (result >= 0) {
		r = store_run(store, doing, "COMMIT", "");
		if (r == 0)
			return result;
		result = r;
	}
	/* Some errors have rolled back already; asking again would be an error. */
	if (!sqlite3_get_autocommit(store->db))
		sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
	return result;
}

void store_copy_text(char *to, size_t size, sqlite3_stmt *statement, int column)
{
	const char *text = (const char *)sqlite3_column_text(statement, column);

	snprintf(to, size, "%s", text ? text : "");
}

void store_copy_stamp(struct store_stamp *to, sqlite3_stmt *statement, int column)
{
	store_copy_text(to->boot_id, sizeof to->boot_id, statement, column);
	to->boottime_us = sqlite3_column_int64(statement, column + 1);
	to->realtime_us = sqlite3_column_int64(statement, column + 2);
	to->synchronised = sqlite3_column_int(statement, column + 3) != 0;
}

const char *store_part_name(enum part part)
{
	return part == PART_A ? "a" : "b";
}

char *store_text_of(size_t (*write)(const struct guide *, char *, size_t),
                    const struct guide *guide)
{
	size_t length = write(guide, NULL, 0);
	char *text = malloc(length + 1);

	if (text)
		write(guide, text, length + 1);
	return text;
}

int store_read_one(struct store *store, const char *doing, sqlite3_stmt *statement,
                   void (*take)(sqlite3_stmt *statement, void *element), void *ret)
{
	int r = store_next(store, doing, statement);

	if (r > 0)
		take(statement, ret);
	sqlite3_finalize(statement);
	return r > 0 ? 0 : r < 0 ? r : -ENOENT;
}

int store_read_all(struct store *store, const char *doing, sqlite3_stmt *statement, size_t size,
                   void (*take)(sqlite3_stmt *statement, void *element), void **ret, size_t *ret_n)
{
	size_t n = 0, room = 0;
	char *all = NULL;
	int r;

	while ((r = store_next(store, doing, statement)) > 0) {
		if (n == room) {
			char *more = realloc(all, (room = room ? 2 * room : 16) * size);

			if (!more) {
				r = store_refuse(store, doing, -ENOMEM);
				break;
			}
			all = more;
		}
		memset(all + n * size, 0, size);
		take(statement, all + n++ * size);
	}
	sqlite3_finalize(statement);
	if (r < 0) {
		free(all);
		return r;
	}
	*ret = all;
	*ret_n = n;
	return 0;
}
