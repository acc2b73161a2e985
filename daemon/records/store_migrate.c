/* SPDX-License-Identifier: MIT */
#include "store_migrate.h"

#include <errno.h>
#include <stdint.h>
#include <stdio.h>

#include "daemon/records/store.h"
#include "schema_1.h" /* made from schema_1.sql by CMake */
#include "schema_2.h"
#include "schema_3.h"
#include "schema_4.h"

const char *const store_migrations[] = {
        [0] = SCHEMA_1,
        [1] = SCHEMA_2,
        [2] = SCHEMA_3,
        [3] = SCHEMA_4,
};
_Static_assert(sizeof store_migrations / sizeof store_migrations[0] == STORE_VERSION,
               "each version has the step that leads to it");

static int read_integer(sqlite3 *db, const char *sql, int64_t *ret)
{
	sqlite3_stmt *statement = NULL;
	int code = sqlite3_prepare_v2(db, sql, -1, &statement, NULL);

	if (code == SQLITE_OK)
		code = sqlite3_step(statement);
	if (code == SQLITE_ROW)
		*ret = sqlite3_column_int64(statement, 0);
	sqlite3_finalize(statement);
	return code == SQLITE_ROW ? SQLITE_OK : code;
}

int store_version(sqlite3 *db, int newest, int *ret_version)
{
	int64_t application = 0, version = 0, objects = 0;

	if (read_integer(db, "PRAGMA application_id", &application) != SQLITE_OK ||
	    read_integer(db, "PRAGMA user_version", &version) != SQLITE_OK ||
	    read_integer(db, "SELECT count(*) FROM sqlite_schema", &objects) != SQLITE_OK)
		return -EIO; /* the caller reads SQLite's own code */
	if (application == 0 && version == 0 && objects == 0) {
		*ret_version = 0;
		return 0;
	}
	if (application != STORE_APPLICATION_ID || version < 1)
		return -EBADMSG;
	*ret_version = (int)version;
	return version > newest ? -EPROTO : (int)version;
}

int store_migrate(sqlite3 *db, const char *const *steps, int n_steps)
{
	int64_t version = 0;
	char pragmas[96];
	int code = sqlite3_exec(db, "BEGIN IMMEDIATE", NULL, NULL, NULL);

	if (code != SQLITE_OK)
		return code;
	code = read_integer(db, "PRAGMA user_version", &version);
	/* Nothing to do writes nothing: a full disk can still be opened. */
	if (code == SQLITE_OK && version == n_steps)
		return sqlite3_exec(db, "ROLLBACK", NULL, NULL, NULL);
	while (code == SQLITE_OK && version < n_steps)
		code = sqlite3_exec(db, steps[version++], NULL, NULL, NULL);
	snprintf(pragmas, sizeof pragmas, "PRAGMA application_id=%d; PRAGMA user_version=%d",
	         STORE_APPLICATION_ID, n_steps);
	if (code == SQLITE_OK)
		code = sqlite3_exec(db, pragmas, NULL, NULL, NULL);
	if (code == SQLITE_OK)
		code = sqlite3_exec(db, "COMMIT", NULL, NULL, NULL);
	if (code != SQLITE_OK && !sqlite3_get_autocommit(db)) {
		sqlite3_exec(db, "ROLLBACK", NULL, NULL, NULL);
	}
	return code;
}
