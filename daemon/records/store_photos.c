/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <string.h>

#include "store_internal.h"
#include "store_pieces.h"

/* Which photo belongs to which layer; the files themselves are photos.h's. */

static int photo_room(struct store *store, const char *doing, int64_t piece_id, int64_t bytes)
{
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement,
	                    "SELECT (SELECT count(*) FROM photo WHERE piece_id = ?),"
	                    " (SELECT coalesce(sum(bytes), 0) FROM photo)",
	                    "i", piece_id);

	if (r < 0)
		return r;
	r = store_next(store, doing, statement);
	if (r > 0 && (sqlite3_column_int64(statement, 0) >= STORE_PHOTOS_MAX ||
	              sqlite3_column_int64(statement, 1) + bytes > STORE_PHOTOS_BYTES_MAX))
		r = -ENOSPC;
	sqlite3_finalize(statement);
	return r < 0 ? r : 0;
}

static int64_t add_photo(struct store *store, const char *doing, int64_t piece_id, int64_t layer,
                         const struct photo_file *file, const struct store_stamp *stamp)
{
	sqlite3_stmt *statement;
	int64_t id;
	int r = store_query(store, doing, &statement,
	                    "SELECT id FROM photo WHERE piece_id = ? AND layer = ? AND sha256 = ?",
	                    "iib", piece_id, layer, (const void *)file->sha256,
	                    (size_t)PHOTO_HASH_BYTES);

	if (r < 0)
		return r;
	r = store_next(store, doing, statement);
	id = r > 0 ? sqlite3_column_int64(statement, 0) : 0;
	sqlite3_finalize(statement);
	if (r != 0)
		return r < 0 ? r : id;
	r = photo_room(store, doing, piece_id, file->bytes);
	if (r == 0)
		r = store_run(store, doing,
		              "INSERT INTO photo (piece_id, layer, kind, sha256, bytes,"
		              " realtime_us, synchronised) VALUES (?, ?, ?, ?, ?, ?, ?)",
		              "iitbiii", piece_id, layer, photo_kind_name(file->kind),
		              (const void *)file->sha256, (size_t)PHOTO_HASH_BYTES, file->bytes,
		              stamp->realtime_us, (int64_t)stamp->synchronised);
	return r < 0 ? r : sqlite3_last_insert_rowid(store->db);
}

int64_t store_photo_add(struct store *store, int64_t piece_id, int64_t layer,
                        const struct photo_file *file, const struct store_stamp *stamp)
{
	static const char doing[] = "keep a photo in";
	int r = store_transaction(store, doing);

	return r < 0 ? r
	             : store_finish(store, doing,
	                            add_photo(store, doing, piece_id, layer, file, stamp));
}

#define PHOTO_COLUMNS "kind, sha256, bytes, id, piece_id, layer, realtime_us"

static void take_photo_file(sqlite3_stmt *statement, void *element)
{
	struct photo_file *file = element;
	const char *kind = (const char *)sqlite3_column_text(statement, 0);

	file->kind = kind && strcmp(kind, photo_kind_name(PHOTO_PNG)) == 0 ? PHOTO_PNG : PHOTO_JPEG;
	if (sqlite3_column_bytes(statement, 1) == PHOTO_HASH_BYTES)
		memcpy(file->sha256, sqlite3_column_blob(statement, 1), PHOTO_HASH_BYTES);
	file->bytes = sqlite3_column_int64(statement, 2);
}

static void take_photo(sqlite3_stmt *statement, void *element)
{
	struct store_photo *photo = element;

	take_photo_file(statement, &photo->file);
	photo->id = sqlite3_column_int64(statement, 3);
	photo->piece_id = sqlite3_column_int64(statement, 4);
	photo->layer = sqlite3_column_int64(statement, 5);
	photo->realtime_us = sqlite3_column_int64(statement, 6);
}

int store_photos(struct store *store, int64_t piece_id, struct store_photo **ret, size_t *ret_n)
{
	static const char doing[] = "read the photos from";
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement,
	                    "SELECT " PHOTO_COLUMNS " FROM photo WHERE piece_id = ? ORDER BY id",
	                    "i", piece_id);

	return r < 0 ? r
	             : store_read_all(store, doing, statement, sizeof **ret, take_photo,
	                              (void **)ret, ret_n);
}

int store_photo(struct store *store, int64_t id, struct store_photo *ret)
{
	static const char doing[] = "read a photo from";
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement,
	                    "SELECT " PHOTO_COLUMNS " FROM photo WHERE id = ?", "i", id);

	return r < 0 ? r : store_read_one(store, doing, statement, take_photo, ret);
}

int store_photo_delete(struct store *store, int64_t id)
{
	static const char doing[] = "delete a photo from";
	int r = store_run(store, doing, "DELETE FROM photo WHERE id = ?", "i", id);

	return r == 0 && sqlite3_changes(store->db) == 0 ? store_refuse(store, doing, -ENOENT) : r;
}

int store_photo_files(struct store *store, struct photo_file **ret, size_t *ret_n)
{
	static const char doing[] = "read the photos from";
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement,
	                    "SELECT DISTINCT kind, sha256, bytes FROM photo", "");

	return r < 0 ? r
	             : store_read_all(store, doing, statement, sizeof **ret, take_photo_file,
	                              (void **)ret, ret_n);
}
