/* SPDX-License-Identifier: MIT */
#include "store_internal.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "canonical.h"

/* What is committed: each public function here is one transaction. */

/* Adds the guide's state as the batch's next step. */
static int add_step(struct store *store, const char *doing, int64_t batch_id, int64_t t_us,
                    const struct guide *guide, const struct store_stamp *stamp)
{
	char *state = store_text_of(guide_write, guide);
	int r;

	if (!state)
		return store_refuse(store, doing, -ENOMEM);
	r = store_run(store, doing,
	              "INSERT INTO step (batch_id, seq, t_us, step, verdict, message, boot_id,"
	              " boottime_us, realtime_us, synchronised, state) VALUES (?1,"
	              " (SELECT coalesce(max(seq), 0) + 1 FROM step WHERE batch_id = ?1),"
	              " ?, ?, ?, ?, ?, ?, ?, ?, ?)",
	              "iittttiiit", batch_id, t_us, guide_step_name(guide->step),
	              verdict_name(guide->verdict), message_name(guide->message.id), stamp->boot_id,
	              stamp->boottime_us, stamp->realtime_us, (int64_t)stamp->synchronised, state);
	free(state);
	return r;
}

int64_t store_begin(struct store *store, const struct guide *guide, int64_t parent_id,
                    const struct store_stamp *stamp)
{
	static const char doing[] = "begin a batch in";
	char *record = store_text_of(canonical_write, guide);
	int64_t id = 0;
	int r;

	if (!record)
		return store_refuse(store, doing, -ENOMEM);
	r = store_transaction(store, doing);
	if (r == 0) {
		r = store_run(store, doing,
		              "INSERT INTO batch (parent_id, begun_realtime_us,"
		              " begun_synchronised, record) VALUES (nullif(?, 0), ?, ?, ?)",
		              "iiit", parent_id, stamp->realtime_us, (int64_t)stamp->synchronised,
		              record);
		id = sqlite3_last_insert_rowid(store->db);
		if (r == 0)
			r = add_step(store, doing, id, 0, guide, stamp);
		id = store_finish(store, doing, r < 0 ? r : id);
	}
	free(record);
	return r < 0 ? r : id;
}

/* 0 for an open batch. */
static int check_open(struct store *store, const char *doing, int64_t batch_id)
{
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement,
	                    "SELECT ended_realtime_us IS NULL FROM batch WHERE id = ?", "i",
	                    batch_id);

	if (r < 0)
		return r;
	r = store_next(store, doing, statement);
	if (r == 0)
		r = store_refuse(store, doing, -ENOENT);
	else if (r > 0)
		r = sqlite3_column_int(statement, 0) ? 0 : store_refuse(store, doing, -EALREADY);
	sqlite3_finalize(statement);
	return r;
}

static int end_batch(struct store *store, const char *doing, int64_t batch_id, const char *record,
                     const struct store_stamp *stamp)
{
	int r = store_run(store, doing,
	                  "UPDATE batch SET ended_realtime_us = ?, ended_synchronised = ?"
	                  " WHERE id = ?",
	                  "iii", stamp->realtime_us, (int64_t)stamp->synchronised, batch_id);

	return r < 0 ? r : store_link(store, batch_id, record);
}

/* Inside the caller's transaction. */
static int write_step(struct store *store, const char *doing, const struct store_step *step,
                      const struct store_stamp *stamp)
{
	char *record = store_text_of(canonical_write, step->guide);
	int r;

	if (!record)
		return store_refuse(store, doing, -ENOMEM);
	r = check_open(store, doing, step->batch_id);
	if (r == 0)
		r = add_step(store, doing, step->batch_id, step->t_us, step->guide, stamp);
	if (r == 0)
		r = store_run(store, doing, "UPDATE batch SET record = ? WHERE id = ?", "ti",
		              record, step->batch_id);
	if (r == 0 && guide_finished(step->guide))
		r = end_batch(store, doing, step->batch_id, record, stamp);
	free(record);
	return r;
}

int store_steps_at_once(struct store *store, const struct store_step *steps, size_t n_steps,
                        const struct store_stamp *stamp)
{
	static const char doing[] = "commit a step to";
	int r = store_transaction(store, doing);

	if (r < 0)
		return r;
	for (size_t i = 0; r == 0 && i < n_steps; i++)
		r = write_step(store, doing, &steps[i], stamp);
	return (int)store_finish(store, doing, r);
}

int store_step(struct store *store, int64_t batch_id, int64_t t_us, const struct guide *guide,
               const struct store_stamp *stamp)
{
	const struct store_step step = {batch_id, t_us, guide};

	return store_steps_at_once(store, &step, 1, stamp);
}

static void put_le64(unsigned char *to, uint64_t value)
{
	for (int i = 0; i < 8; i++)
		to[i] = (unsigned char)(value >> (8 * i));
}

int store_curve(struct store *store, int64_t batch_id, const struct store_curve_point *points,
                size_t n_points)
{
	static const char doing[] = "add to the curve in";
	unsigned char *bytes;
	int r;

	if (n_points == 0)
		return 0;
	bytes = malloc(n_points * 16);
	if (!bytes)
		return store_refuse(store, doing, -ENOMEM);
	for (size_t i = 0; i < n_points; i++) {
		uint64_t bits;

		if (!isfinite(points[i].gross_g)) {
			free(bytes);
			return store_refuse(store, doing, -EINVAL);
		}
		memcpy(&bits, &points[i].gross_g, sizeof bits);
		put_le64(bytes + i * 16, (uint64_t)points[i].t_us);
		put_le64(bytes + i * 16 + 8, bits);
	}
	r = store_run(store, doing, "INSERT INTO curve (batch_id, points) VALUES (?, ?)", "ib",
	              batch_id, (const void *)bytes, n_points * 16);
	free(bytes);
	return r;
}

int store_set_number(struct store *store, const char *key, double value)
{
	static const char doing[] = "keep a number in";

	if (!isfinite(value))
		return store_refuse(store, doing, -EINVAL);
	return store_run(store, doing,
	                 "INSERT INTO number (key, value) VALUES (?, ?)"
	                 " ON CONFLICT (key) DO UPDATE SET value = excluded.value",
	                 "td", key, value);
}

int store_set_shelf(struct store *store, const char *system_id, enum part part, const char *lot,
                    double gross_g, const struct store_stamp *stamp)
{
	static const char doing[] = "keep a bottle's mass in";

	if (!isfinite(gross_g))
		return store_refuse(store, doing, -EINVAL);
	return store_run(store, doing,
	                 "INSERT INTO shelf (system_id, part, lot, gross_g, realtime_us,"
	                 " synchronised) VALUES (?, ?, ?, ?, ?, ?)"
	                 " ON CONFLICT (system_id, part, lot) DO UPDATE SET"
	                 " gross_g = excluded.gross_g, realtime_us = excluded.realtime_us,"
	                 " synchronised = excluded.synchronised",
	                 "tttdii", system_id, store_part_name(part), lot, gross_g,
	                 stamp->realtime_us, (int64_t)stamp->synchronised);
}
