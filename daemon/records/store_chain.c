/* SPDX-License-Identifier: MIT */
#include "store_internal.h"

#include <sys/types.h>

#include <sha2.h>
#include <string.h>

/* The chain over finished batches: hash = SHA-256(previous || canonical bytes). */

#define HASH_LENGTH SHA256_DIGEST_LENGTH
_Static_assert(HASH_LENGTH == 32, "the schema checks for 32 bytes");

static void chain_hash(const uint8_t previous[HASH_LENGTH], const void *bytes, size_t length,
                       uint8_t ret[HASH_LENGTH])
{
	SHA2_CTX context;

	SHA256Init(&context);
	SHA256Update(&context, previous, HASH_LENGTH);
	SHA256Update(&context, bytes, length);
	SHA256Final(ret, &context);
}

/* The newest link's hash; zeros for an empty chain. */
static int last_hash(struct store *store, const char *doing, uint8_t ret[HASH_LENGTH])
{
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement,
	                    "SELECT hash FROM link ORDER BY seq DESC LIMIT 1", "");

	memset(ret, 0, HASH_LENGTH);
	if (r < 0)
		return r;
	r = store_next(store, doing, statement);
	if (r > 0 && sqlite3_column_bytes(statement, 0) == HASH_LENGTH)
		memcpy(ret, sqlite3_column_blob(statement, 0), HASH_LENGTH);
	sqlite3_finalize(statement);
	return r < 0 ? r : 0;
}

int store_link(struct store *store, int64_t batch_id, const char *record)
{
	static const char doing[] = "chain a finished batch in";
	uint8_t previous[HASH_LENGTH], hash[HASH_LENGTH];
	int r = last_hash(store, doing, previous);

	if (r < 0)
		return r;
	chain_hash(previous, record, strlen(record), hash);
	return store_run(store, doing, "INSERT INTO link (batch_id, hash) VALUES (?, ?)", "ib",
	                 batch_id, (const void *)hash, (size_t)HASH_LENGTH);
}

/* A finished batch without a link, an open one with one: 1 with its id. */
static int find_unlinked(struct store *store, const char *doing, int64_t *ret_bad_id)
{
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement,
	                    "SELECT batch.id FROM batch LEFT JOIN link ON batch_id = batch.id"
	                    " WHERE (batch_id IS NULL) <> (ended_realtime_us IS NULL)"
	                    " ORDER BY batch.id LIMIT 1",
	                    "");

	if (r < 0)
		return r;
	r = store_next(store, doing, statement);
	if (r > 0)
		*ret_bad_id = sqlite3_column_int64(statement, 0);
	sqlite3_finalize(statement);
	return r;
}

int store_verify(struct store *store, int64_t *ret_n, int64_t *ret_bad_id)
{
	static const char doing[] = "verify the chain of";
	uint8_t previous[HASH_LENGTH] = {0}, hash[HASH_LENGTH];
	int64_t n = 0, bad_id = 0;
	sqlite3_stmt *statement;
	/* LEFT JOIN: a link whose batch is gone must not be passed over. */
	int r = store_query(store, doing, &statement,
	                    "SELECT link.seq, link.batch_id, hash, CAST(record AS BLOB)"
	                    " FROM link LEFT JOIN batch ON batch.id = batch_id ORDER BY link.seq",
	                    "");

	if (r < 0)
		return r;
	while ((r = store_next(store, doing, statement)) > 0) {
		const void *record = sqlite3_column_blob(statement, 3);

		bad_id = sqlite3_column_int64(statement, 1);
		chain_hash(previous, record ? record : "",
		           record ? (size_t)sqlite3_column_bytes(statement, 3) : 0, hash);
		if (sqlite3_column_int64(statement, 0) != n + 1 || !record ||
		    sqlite3_column_bytes(statement, 2) != HASH_LENGTH ||
		    memcmp(hash, sqlite3_column_blob(statement, 2), HASH_LENGTH) != 0)
			break;
		memcpy(previous, hash, HASH_LENGTH);
		n++;
	}
	sqlite3_finalize(statement);
	if (r == 0)
		r = find_unlinked(store, doing, &bad_id);
	if (r < 0)
		return r;
	*ret_n = n;
	if (r > 0)
		*ret_bad_id = bad_id;
	return r;
}
