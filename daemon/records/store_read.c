/* SPDX-License-Identifier: MIT */
#include "store_internal.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* What is read back. Lists read the canonical record by SQLite's JSON functions. */

static int read_open_batch(struct store *store, sqlite3_stmt *statement,
                           struct store_open_batch *ret)
{
	const char *state = (const char *)sqlite3_column_text(statement, 7);
	int line = 0;

	*ret = (struct store_open_batch){0};
	ret->id = sqlite3_column_int64(statement, 0);
	ret->parent_id = sqlite3_column_int64(statement, 1);
	ret->t_us = sqlite3_column_int64(statement, 2);
	store_copy_stamp(&ret->stamp, statement, 3);
	if (state && guide_read(state, &ret->guide, &line) == 0)
		return 0;
	snprintf(store->message, sizeof store->message,
	         "cannot go on with batch %lld of %s: line %d of its state is not understood; run "
	         "the Ambo that wrote it, or a newer one",
	         (long long)ret->id, store->path, line);
	return -EBADMSG;
}

int store_open_batches(struct store *store, struct store_open_batch *ret, int max)
{
	static const char doing[] = "read the open batches of";
	sqlite3_stmt *statement;
	int n = 0, r;

	r = store_query(store, doing, &statement,
	                "SELECT batch.id, parent_id, t_us, boot_id, boottime_us, realtime_us,"
	                " synchronised, state FROM batch JOIN step ON batch_id = batch.id"
	                " WHERE ended_realtime_us IS NULL AND seq ="
	                " (SELECT max(seq) FROM step WHERE batch_id = batch.id)"
	                " ORDER BY batch.id LIMIT ?",
	                "i", (int64_t)max);
	if (r < 0)
		return r;
	while (n < max && (r = store_next(store, doing, statement)) > 0) {
		r = read_open_batch(store, statement, &ret[n]);
		if (r < 0)
			break;
		n++;
	}
	sqlite3_finalize(statement);
	return r < 0 ? r : n;
}

int store_guide(struct store *store, int64_t id, struct guide *ret)
{
	static const char doing[] = "read a batch's state from";
	sqlite3_stmt *statement;
	int line, r;

	r = store_query(store, doing, &statement,
	                "SELECT state FROM step WHERE batch_id = ? ORDER BY seq DESC LIMIT 1", "i",
	                id);
	if (r < 0)
		return r;
	r = store_next(store, doing, statement);
	if (r > 0)
		r = guide_read((const char *)sqlite3_column_text(statement, 0), ret, &line) < 0
		            ? store_refuse(store, doing, -EBADMSG)
		            : 1;
	sqlite3_finalize(statement);
	return r > 0 ? 0 : r < 0 ? r : -ENOENT;
}

/* The one value of a bound statement, as a double: 0, -ENOENT, -errno. */
static int read_double(struct store *store, const char *doing, sqlite3_stmt *statement, double *ret)
{
	int r = store_next(store, doing, statement);

	if (r > 0)
		*ret = sqlite3_column_double(statement, 0);
	sqlite3_finalize(statement);
	return r > 0 ? 0 : r < 0 ? r : store_refuse(store, doing, -ENOENT);
}

int store_get_number(struct store *store, const char *key, double *ret)
{
	static const char doing[] = "read a number from";
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement, "SELECT value FROM number WHERE key = ?", "t",
	                    key);

	return r < 0 ? r : read_double(store, doing, statement, ret);
}

int store_get_shelf(struct store *store, const char *system_id, enum part part, const char *lot,
                    double *ret_gross_g)
{
	static const char doing[] = "read a bottle's mass from";
	sqlite3_stmt *statement;
	int r = store_query(
	        store, doing, &statement,
	        "SELECT gross_g FROM shelf WHERE system_id = ? AND part = ? AND lot = ?", "ttt",
	        system_id, store_part_name(part), lot);

	return r < 0 ? r : read_double(store, doing, statement, ret_gross_g);
}

int store_last_lot(struct store *store, const char *system_id, enum part part, char *ret_lot)
{
	static const char doing[] = "read the last lot from";
	sqlite3_stmt *statement;
	/* Used means dispensed: a batch given up before that part tells nothing. */
	int r = store_query(store, doing, &statement,
	                    "SELECT json_extract(record, '$.system.parts[' || ?2 || '].lot') AS lot"
	                    " FROM batch WHERE system_id = ?1 AND lot IS NOT NULL AND EXISTS"
	                    " (SELECT 1 FROM json_each(record, '$.dispenses')"
	                    "  WHERE json_extract(value, '$.component') = ?3)"
	                    " ORDER BY id DESC LIMIT 1",
	                    "tit", system_id, (int64_t)part, store_part_name(part));

	if (r < 0)
		return r;
	r = store_next(store, doing, statement);
	if (r > 0)
		store_copy_text(ret_lot, SYSTEM_LABEL_MAX, statement, 0);
	sqlite3_finalize(statement);
	return r > 0 ? 0 : r < 0 ? r : store_refuse(store, doing, -ENOENT);
}

/* One place that knows which column is which: take_row() follows it. */
#define ROW_COLUMNS                                                                                \
	"id, parent_id, begun_realtime_us, ended_realtime_us,"                                     \
	" begun_synchronised AND coalesce(ended_synchronised, 1), system_id,"                      \
	" record ->> '$.system.name', record ->> '$.request.piece', record ->> '$.request.layer'," \
	" record ->> '$.step', record ->> '$.verdict', record ->> '$.weighed.resin_ug',"           \
	" record ->> '$.weighed.hardener_ug', record ->> '$.weighed.tint_ug',"                     \
	" record ->> '$.request.total_ug', record ->> '$.request.ratio_e6',"                       \
	" record ->> '$.request.tolerance_pct_e6', record ->> '$.weighed.ratio_e6',"               \
	" record ->> '$.weighed.deviation_pct_e6', record ->> '$.weighed.u_deviation_pct_e6',"     \
	" record ->> '$.weighed.mixed_ug', record ->> '$.provisional'"

static double column_e6(sqlite3_stmt *statement, int column)
{
	return (double)sqlite3_column_int64(statement, column) / 1e6;
}

static void take_row(sqlite3_stmt *statement, void *element)
{
	struct store_row *ret = element;

	*ret = (struct store_row){0};
	ret->id = sqlite3_column_int64(statement, 0);
	ret->parent_id = sqlite3_column_int64(statement, 1);
	ret->begun_realtime_us = sqlite3_column_int64(statement, 2);
	ret->ended_realtime_us = sqlite3_column_int64(statement, 3);
	ret->synchronised = sqlite3_column_int(statement, 4) != 0;
	store_copy_text(ret->system_id, sizeof ret->system_id, statement, 5);
	store_copy_text(ret->system_name, sizeof ret->system_name, statement, 6);
	store_copy_text(ret->piece, sizeof ret->piece, statement, 7);
	store_copy_text(ret->layer, sizeof ret->layer, statement, 8);
	store_copy_text(ret->step, sizeof ret->step, statement, 9);
	store_copy_text(ret->verdict, sizeof ret->verdict, statement, 10);
	ret->resin_g = column_e6(statement, 11);
	ret->hardener_g = column_e6(statement, 12);
	ret->tint_g = column_e6(statement, 13);
	/* A divided batch has no parts of its own: null, and 0 here. */
	ret->total_g =
	        (double)(sqlite3_column_int64(statement, 11) + sqlite3_column_int64(statement, 12) +
	                 sqlite3_column_int64(statement, 20)) /
	        1e6;
	ret->target_total_g = column_e6(statement, 14);
	ret->target_ratio = column_e6(statement, 15);
	ret->tolerance_pct = column_e6(statement, 16);
	ret->has_ratio = sqlite3_column_type(statement, 17) != SQLITE_NULL;
	ret->ratio = column_e6(statement, 17);
	ret->deviation_pct = column_e6(statement, 18);
	ret->u_deviation_pct = column_e6(statement, 19);
	ret->provisional = sqlite3_column_int(statement, 21) != 0;
}

int store_list(struct store *store, int64_t cursor, struct store_row *ret, int limit,
               int64_t *ret_next)
{
	static const char doing[] = "list the records of";
	sqlite3_stmt *statement;
	int n = 0, r;

	r = store_query(store, doing, &statement,
	                "SELECT " ROW_COLUMNS " FROM batch WHERE ?1 <= 0 OR id < ?1"
	                " ORDER BY id DESC LIMIT ?2",
	                "ii", cursor, (int64_t)limit + 1);
	if (r < 0)
		return r;
	/* One row more than asked for tells whether there is a next page. */
	while ((r = store_next(store, doing, statement)) > 0 && n < limit)
		take_row(statement, &ret[n++]);
	sqlite3_finalize(statement);
	if (r < 0)
		return r;
	*ret_next = r > 0 && n > 0 ? ret[n - 1].id : 0;
	return n;
}

int store_get(struct store *store, int64_t id, struct store_row *ret)
{
	static const char doing[] = "read a record from";
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement,
	                    "SELECT " ROW_COLUMNS " FROM batch WHERE id = ?", "i", id);

	if (r < 0)
		return r;
	r = store_read_one(store, doing, statement, take_row, ret);
	return r == -ENOENT ? store_refuse(store, doing, r) : r;
}

int store_canonical(struct store *store, int64_t id, char **ret_text)
{
	static const char doing[] = "read a record from";
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement, "SELECT record FROM batch WHERE id = ?", "i",
	                    id);

	if (r < 0)
		return r;
	r = store_next(store, doing, statement);
	if (r == 0) {
		r = store_refuse(store, doing, -ENOENT);
	} else if (r > 0) {
		char *text = strdup((const char *)sqlite3_column_text(statement, 0));

		r = text ? 0 : store_refuse(store, doing, -ENOMEM);
		if (text)
			*ret_text = text;
	}
	sqlite3_finalize(statement);
	return r;
}

/* Room for n items of size in *items, doubling: -ENOMEM leaves it as it was. */
static int grow(void **items, size_t *room, size_t n, size_t size)
{
	size_t wanted = *room ? *room : 16;
	void *bigger;

	if (n <= *room)
		return 0;
	while (wanted < n)
		wanted *= 2;
	bigger = realloc(*items, wanted * size);
	if (!bigger)
		return -ENOMEM;
	*items = bigger;
	*room = wanted;
	return 0;
}

int store_steps(struct store *store, int64_t id, struct store_step_row **ret, size_t *ret_n)
{
	static const char doing[] = "read the steps of a batch from";
	struct store_step_row *rows = NULL;
	sqlite3_stmt *statement;
	size_t n = 0, room = 0;
	int r = store_query(store, doing, &statement,
	                    "SELECT seq, t_us, boot_id, boottime_us, realtime_us, synchronised,"
	                    " step, verdict, message FROM step WHERE batch_id = ? ORDER BY seq",
	                    "i", id);

	if (r < 0)
		return r;
	while ((r = store_next(store, doing, statement)) > 0) {
		void *items = rows;
		struct store_step_row *row;

		if (grow(&items, &room, n + 1, sizeof *rows) < 0) {
			r = store_refuse(store, doing, -ENOMEM);
			break;
		}
		rows = items;
		row = &rows[n++];
		*row = (struct store_step_row){0};
		row->seq = sqlite3_column_int64(statement, 0);
		row->t_us = sqlite3_column_int64(statement, 1);
		store_copy_stamp(&row->stamp, statement, 2);
		store_copy_text(row->step, sizeof row->step, statement, 6);
		store_copy_text(row->verdict, sizeof row->verdict, statement, 7);
		store_copy_text(row->message, sizeof row->message, statement, 8);
	}
	sqlite3_finalize(statement);
	if (r == 0 && n == 0)
		r = store_refuse(store, doing, -ENOENT);
	if (r < 0) {
		free(rows);
		return r;
	}
	*ret = rows;
	*ret_n = n;
	return 0;
}

static uint64_t get_le64(const unsigned char *from)
{
	uint64_t value = 0;

	for (int i = 7; i >= 0; i--)
		value = value << 8 | from[i];
	return value;
}

int store_curve_read(struct store *store, int64_t id, struct store_curve_point **ret, size_t *ret_n)
{
	static const char doing[] = "read a curve from";
	struct store_curve_point *points = NULL;
	sqlite3_stmt *statement;
	size_t n = 0, room = 0;
	int r = store_query(store, doing, &statement,
	                    "SELECT points FROM curve WHERE batch_id = ? ORDER BY id", "i", id);

	if (r < 0)
		return r;
	while ((r = store_next(store, doing, statement)) > 0) {
		const unsigned char *bytes = sqlite3_column_blob(statement, 0);
		size_t more = (size_t)sqlite3_column_bytes(statement, 0) / 16;
		void *items = points;

		if (grow(&items, &room, n + more, sizeof *points) < 0) {
			r = store_refuse(store, doing, -ENOMEM);
			break;
		}
		points = items;
		for (size_t i = 0; i < more; i++, n++) {
			uint64_t bits = get_le64(bytes + i * 16 + 8);

			points[n].t_us = (int64_t)get_le64(bytes + i * 16);
			memcpy(&points[n].gross_g, &bits, sizeof bits);
		}
	}
	sqlite3_finalize(statement);
	if (r < 0) {
		free(points);
		return r;
	}
	*ret = points;
	*ret_n = n;
	return 0;
}
