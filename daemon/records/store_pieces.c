/* SPDX-License-Identifier: MIT */
#include "store_pieces.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "store_internal.h"

#define STAMP_COLUMNS "boot_id, boottime_us, realtime_us, synchronised"

static void take_stamp(sqlite3_stmt *statement, int column, struct store_stamp *ret)
{
	store_copy_text(ret->boot_id, sizeof ret->boot_id, statement, column);
	ret->boottime_us = sqlite3_column_int64(statement, column + 1);
	ret->realtime_us = sqlite3_column_int64(statement, column + 2);
	ret->synchronised = sqlite3_column_int64(statement, column + 3) != 0;
}

static double or_nan(sqlite3_stmt *statement, int column)
{
	return sqlite3_column_type(statement, column) == SQLITE_NULL
	               ? (double)NAN
	               : sqlite3_column_double(statement, column);
}

int64_t store_piece_keep(struct store *store, const char *name, const char *file,
                         const struct store_stamp *stamp)
{
	static const char doing[] = "keep a piece in";
	sqlite3_stmt *statement;
	int64_t id = 0;
	int r = store_query(store, doing, &statement,
	                    "INSERT INTO piece (name, file, realtime_us, synchronised)"
	                    " VALUES (?, ?, ?, ?) ON CONFLICT (name) DO UPDATE SET"
	                    " file = excluded.file, finished = 0 RETURNING id",
	                    "ttii", name, file, stamp->realtime_us, (int64_t)stamp->synchronised);

	if (r < 0)
		return r;
	while ((r = store_next(store, doing, statement)) > 0)
		id = sqlite3_column_int64(statement, 0);
	sqlite3_finalize(statement);
	return r < 0 ? r : id;
}

int store_piece_finish(struct store *store, int64_t id)
{
	static const char doing[] = "finish a piece in";
	int r = store_run(store, doing, "UPDATE piece SET finished = 1 WHERE id = ?", "i", id);

	if (r == 0 && sqlite3_changes(store->db) == 0)
		return store_refuse(store, doing, -ENOENT);
	return r;
}

static int delete_piece(struct store *store, const char *doing, int64_t id)
{
	int r = store_run(store, doing, "DELETE FROM photo WHERE piece_id = ?", "i", id);

	/* Its name is free again. */
	if (r == 0)
		r = store_run(store, doing,
		              "UPDATE piece SET deleted = 1, finished = 1, file = '',"
		              " name = 'deleted/' || hex(randomblob(16))"
		              " WHERE id = ? AND NOT deleted",
		              "i", id);
	if (r == 0 && sqlite3_changes(store->db) == 0)
		r = store_refuse(store, doing, -ENOENT);
	return r;
}

int store_piece_delete(struct store *store, int64_t id)
{
	static const char doing[] = "delete a piece from";
	int r = store_transaction(store, doing);

	return r < 0 ? r : (int)store_finish(store, doing, delete_piece(store, doing, id));
}

static void take_piece(sqlite3_stmt *statement, void *element)
{
	struct store_piece *piece = element;
	const char *file = (const char *)sqlite3_column_text(statement, 2);

	piece->id = sqlite3_column_int64(statement, 0);
	store_copy_text(piece->name, sizeof piece->name, statement, 1);
	piece->file = strdup(file ? file : "");
	piece->finished = sqlite3_column_int64(statement, 3) != 0;
	piece->kept_realtime_us = sqlite3_column_int64(statement, 4);
}

int store_pieces(struct store *store, struct store_piece **ret, size_t *ret_n)
{
	static const char doing[] = "read the pieces from";
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement,
	                    "SELECT id, name, file, finished, realtime_us FROM piece"
	                    " WHERE NOT deleted ORDER BY id",
	                    "");

	return r < 0 ? r
	             : store_read_all(store, doing, statement, sizeof **ret, take_piece,
	                              (void **)ret, ret_n);
}

int64_t store_pour_add(struct store *store, const struct store_pour *pour)
{
	static const char doing[] = "keep a pour in";
	int r;

	/* NaN is NULL to SQLite, which is what unknown means here. */
	r = store_run(store, doing,
	              "INSERT INTO pour (piece_id, layer, batch_id, system_id, a_g, b_g, tint_g,"
	              " stayed_g, resin_degc, cup_s, kept_back_g, told, " STAMP_COLUMNS ")"
	              " VALUES (?, ?, nullif(?, 0), ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
	              "iiitdddddddi"
	              "tiii",
	              pour->piece_id, pour->layer, pour->batch_id, pour->system_id, pour->a_g,
	              pour->b_g, pour->tint_g, pour->stayed_g, pour->resin_degc, pour->cup_s,
	              pour->kept_back_g, (int64_t)pour->told, pour->stamp.boot_id,
	              pour->stamp.boottime_us, pour->stamp.realtime_us,
	              (int64_t)pour->stamp.synchronised);
	if (r < 0)
		return sqlite3_extended_errcode(store->db) == SQLITE_CONSTRAINT_UNIQUE ? -EEXIST
		                                                                       : r;
	return sqlite3_last_insert_rowid(store->db);
}

int store_pour_told(struct store *store, int64_t id, uint32_t told)
{
	return store_run(store, "keep what was told in",
	                 "UPDATE pour SET told = told | ? WHERE id = ?", "ii", (int64_t)told, id);
}

static void take_pour(sqlite3_stmt *statement, void *element)
{
	struct store_pour *pour = element;

	pour->id = sqlite3_column_int64(statement, 0);
	pour->piece_id = sqlite3_column_int64(statement, 1);
	pour->layer = sqlite3_column_int64(statement, 2);
	pour->batch_id = sqlite3_column_int64(statement, 3);
	store_copy_text(pour->system_id, sizeof pour->system_id, statement, 4);
	pour->a_g = sqlite3_column_double(statement, 5);
	pour->b_g = sqlite3_column_double(statement, 6);
	pour->tint_g = sqlite3_column_double(statement, 7);
	pour->stayed_g = or_nan(statement, 8);
	pour->resin_degc = or_nan(statement, 9);
	pour->cup_s = sqlite3_column_double(statement, 10);
	pour->told = (uint32_t)sqlite3_column_int64(statement, 11);
	take_stamp(statement, 12, &pour->stamp);
	pour->kept_back_g = sqlite3_column_double(statement, 16);
}

int store_pours(struct store *store, struct store_pour **ret, size_t *ret_n)
{
	static const char doing[] = "read the pours from";
	sqlite3_stmt *statement;
	int r = store_query(
	        store, doing, &statement,
	        "SELECT id, piece_id, layer, coalesce(batch_id, 0), system_id, a_g, b_g,"
	        " tint_g, stayed_g, resin_degc, cup_s, told, " STAMP_COLUMNS
	        ", kept_back_g FROM pour ORDER BY id",
	        "");

	return r < 0 ? r
	             : store_read_all(store, doing, statement, sizeof **ret, take_pour,
	                              (void **)ret, ret_n);
}

int store_room_add(struct store *store, double degc, const struct store_stamp *stamp)
{
	return store_run(store, "keep the room's temperature in",
	                 "INSERT INTO room (degc, " STAMP_COLUMNS ") VALUES (?, ?, ?, ?, ?)",
	                 "dtiii", degc, stamp->boot_id, stamp->boottime_us, stamp->realtime_us,
	                 (int64_t)stamp->synchronised);
}

static void take_room(sqlite3_stmt *statement, void *element)
{
	struct store_room *room = element;

	room->degc = sqlite3_column_double(statement, 0);
	take_stamp(statement, 1, &room->stamp);
}

int store_rooms(struct store *store, struct store_room **ret, size_t *ret_n)
{
	static const char doing[] = "read the room's temperature from";
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement,
	                    "SELECT degc, " STAMP_COLUMNS " FROM (SELECT * FROM room ORDER BY id"
	                    " DESC LIMIT ?) ORDER BY id",
	                    "i", (int64_t)STORE_ROOMS_MAX);

	return r < 0 ? r
	             : store_read_all(store, doing, statement, sizeof **ret, take_room,
	                              (void **)ret, ret_n);
}

int store_report_add(struct store *store, int64_t pour_id, const char *system_id,
                     double equivalent_s, const struct store_stamp *stamp)
{
	return store_run(store, "keep a report in",
	                 "INSERT INTO report (pour_id, system_id, equivalent_s, realtime_us,"
	                 " synchronised) VALUES (?, ?, ?, ?, ?)",
	                 "itdii", pour_id, system_id, equivalent_s, stamp->realtime_us,
	                 (int64_t)stamp->synchronised);
}

/* The first column of the first row, a number that may be NULL. */
static int one_number(struct store *store, const char *doing, sqlite3_stmt *statement, double *ret)
{
	int r = store_next(store, doing, statement);

	if (r > 0 && sqlite3_column_type(statement, 0) != SQLITE_NULL)
		*ret = sqlite3_column_double(statement, 0);
	else if (r >= 0)
		r = -ENOENT;
	sqlite3_finalize(statement);
	return r > 0 ? 0 : r;
}

int store_report_last(struct store *store, const char *system_id, double *ret_s)
{
	static const char doing[] = "read a report from";
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement,
	                    "SELECT equivalent_s FROM report WHERE system_id = ? ORDER BY id DESC"
	                    " LIMIT 1",
	                    "t", system_id);

	return r < 0 ? r : one_number(store, doing, statement, ret_s);
}

int store_cup_loss(struct store *store, const char *system_id, double *ret_g)
{
	static const char doing[] = "read what stays in cups from";
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement,
	                    "SELECT avg(stayed_g) FROM pour WHERE system_id = ?"
	                    " AND kept_back_g = 0",
	                    "t", system_id);

	return r < 0 ? r : one_number(store, doing, statement, ret_g);
}

int store_drying_add(struct store *store, const char *name, double mass_g,
                     const struct store_stamp *stamp)
{
	return store_run(store, "keep a weighing in",
	                 "INSERT INTO drying (name, mass_g, " STAMP_COLUMNS ")"
	                 " VALUES (?, ?, ?, ?, ?, ?)",
	                 "tdtiii", name, mass_g, stamp->boot_id, stamp->boottime_us,
	                 stamp->realtime_us, (int64_t)stamp->synchronised);
}

static void take_drying(sqlite3_stmt *statement, void *element)
{
	struct store_drying *drying = element;

	drying->mass_g = sqlite3_column_double(statement, 0);
	take_stamp(statement, 1, &drying->stamp);
}

int store_drying(struct store *store, const char *name, struct store_drying **ret, size_t *ret_n)
{
	static const char doing[] = "read the weighings from";
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement,
	                    "SELECT mass_g, " STAMP_COLUMNS
	                    " FROM drying WHERE name = ? ORDER BY id",
	                    "t", name);

	return r < 0 ? r
	             : store_read_all(store, doing, statement, sizeof **ret, take_drying,
	                              (void **)ret, ret_n);
}
