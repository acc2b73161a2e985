/* SPDX-License-Identifier: MIT */
#ifndef AMBO_RECORDS_STORE_MIGRATE_H
#define AMBO_RECORDS_STORE_MIGRATE_H

#include <sqlite3.h>
#include <stddef.h>

/* From an older schema to the newest, forward only, one transaction for all: the
 * store is either what it was or wholly new. Records already chained are never
 * rewritten: a trigger of the schema forbids it to migrations too. */

#define STORE_APPLICATION_ID 0x416d626f /* "Ambo", in the file's header */

/* steps[v] is the SQL that leads from version v to v + 1; n_steps is therefore the
 * newest version. Version 0 is an empty file. A test passes a table of its own. */
extern const char *const store_migrations[];

/* Which version db is of: >= 0; -EBADMSG when it is no store of Ambo's; -EPROTO when
 * it is newer than newest, with *ret_version set. Reads only. */
int store_version(sqlite3 *db, int newest, int *ret_version);

/* 0, or SQLite's (extended) error code with everything rolled back. */
int store_migrate(sqlite3 *db, const char *const *steps, int n_steps);

#endif
