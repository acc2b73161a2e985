/* SPDX-License-Identifier: MIT */
#include "store_internal.h"

#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "store_migrate.h"

/* Opening and closing: lock, look, and only then touch. */

static const char doing_open[] = "open the store";

#define BUSY_TIMEOUT_MS 2000 /* a reader may hold up a checkpoint for a moment */

/* flock() and not SQLite's own lock: readers stay welcome beside the daemon. The
 * kernel drops it with the process, however that ends. */
static int lock_store(struct store *store)
{
	char path[4096], holder[16] = "";
	int fd, error;
	ssize_t n;

	if (snprintf(path, sizeof path, "%s.lock", store->path) >= (int)sizeof path)
		return store_refuse(store, doing_open, -ENAMETOOLONG);
	fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
	if (fd < 0)
		return store_refuse(store, doing_open, -errno);
	if (flock(fd, LOCK_EX | LOCK_NB) == 0) {
		/* Who holds it is told to the next one; that it is held does not rest on it. */
		int length = snprintf(holder, sizeof holder, "%ld\n", (long)getpid());

		if (ftruncate(fd, 0) == 0 && pwrite(fd, holder, (size_t)length, 0) < 0)
			errno = 0;
		store->lock_fd = fd;
		return 0;
	}
	error = errno == EWOULDBLOCK ? -EBUSY : -errno;
	n = pread(fd, holder, sizeof holder - 1, 0);
	holder[n > 0 ? n : 0] = '\0';
	holder[strspn(holder, "0123456789")] = '\0';
	close(fd);
	if (error != -EBUSY)
		return store_refuse(store, doing_open, error);
	snprintf(store->message, sizeof store->message,
	         "cannot open the store %s: another ambod (process %s) is using it; stop that one, "
	         "or give this one a store of its own",
	         store->path, holder[0] ? holder : "unknown");
	return -EBUSY;
}

/* Creates an empty file that only its owner may read, so that SQLite gives the files
 * beside it the same mode. 1 when it was created, 0 when it was there. */
static int create_file(struct store *store)
{
	int fd = open(store->path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);

	if (fd >= 0) {
		close(fd);
		return 1;
	}
	return errno == EEXIST ? 0 : store_refuse(store, doing_open, -errno);
}

/* Its name must survive a power cut as surely as its pages. */
static void sync_folder(const char *path)
{
	char copy[4096];
	int fd;

	snprintf(copy, sizeof copy, "%s", path);
	fd = open(dirname(copy), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	if (fd < 0)
		return;
	fsync(fd);
	close(fd);
}

static int connect_file(struct store *store, int flags)
{
	if (sqlite3_open_v2(store->path, &store->db, flags, NULL) != SQLITE_OK) {
		if (!store->db)
			return store_refuse(store, doing_open, -ENOMEM);
		return store_fail(store, doing_open);
	}
	sqlite3_extended_result_codes(store->db, 1);
	sqlite3_busy_timeout(store->db, BUSY_TIMEOUT_MS);
	/* Until the store is known to be ours and whole, closing must leave its file
	 * alone too: no checkpoint. */
	sqlite3_db_config(store->db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, NULL);
	sqlite3_db_config(store->db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
	return 0;
}

/* SQLite falls back to reading where it may not write: say so at once. */
static int check_writable(struct store *store)
{
	if (sqlite3_db_readonly(store->db, "main") != 1)
		return 0;
	return store_refuse(store, doing_open, access(store->path, W_OK) < 0 ? -errno : -EACCES);
}

static int check_version(struct store *store, int *ret_version)
{
	int version = 0;
	int r = store_version(store->db, STORE_VERSION, &version);

	if (r == -EIO)
		return store_fail(store, doing_open);
	if (r == -EPROTO) {
		snprintf(store->message, sizeof store->message,
		         "cannot open the store %s: it is of version %d and this program knows up "
		         "to %d; install the Ambo that wrote it, or newer",
		         store->path, version, STORE_VERSION);
		return r;
	}
	if (r < 0)
		return store_refuse(store, doing_open, r);
	*ret_version = version;
	return 0;
}

static int check_whole(struct store *store)
{
	sqlite3_stmt *statement;
	int r = store_query(store, doing_open, &statement, "PRAGMA quick_check(1)", "");
	const char *finding;

	if (r < 0)
		return r;
	r = store_next(store, doing_open, statement);
	if (r > 0) {
		finding = (const char *)sqlite3_column_text(statement, 0);
		r = finding && strcmp(finding, "ok") == 0
		            ? 0
		            : store_refuse(store, doing_open, -EBADMSG);
	}
	sqlite3_finalize(statement);
	return r;
}

static int migrate(struct store *store)
{
	int code;

	if (store_run(store, doing_open, "PRAGMA journal_mode = WAL", "") < 0 ||
	    store_run(store, doing_open, "PRAGMA synchronous = FULL", "") < 0 ||
	    store_run(store, doing_open, "PRAGMA foreign_keys = ON", "") < 0)
		return store_fail(store, doing_open);
	code = store_migrate(store->db, store_migrations, STORE_VERSION);
	if (code == SQLITE_OK)
		return 0;
	return store_refuse(store, doing_open, store_errno(code, sqlite3_system_errno(store->db)));
}

static int open_writer(struct store *store, bool *ret_created)
{
	int version, r = lock_store(store);

	if (r == 0)
		r = create_file(store);
	if (r < 0)
		return r;
	*ret_created = r > 0;
	r = connect_file(store, SQLITE_OPEN_READWRITE);
	if (r == 0)
		r = check_writable(store);
	if (r == 0)
		r = check_version(store, &version);
	if (r == 0)
		r = check_whole(store);
	if (r == 0)
		r = migrate(store);
	if (r < 0)
		return r;
	chmod(store->path, 0600);
	sync_folder(store->path);
	sqlite3_db_config(store->db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 0, NULL);
	return 0;
}

static int open_reader(struct store *store)
{
	int version = 0, r = connect_file(store, SQLITE_OPEN_READONLY);

	if (r == 0)
		r = check_version(store, &version);
	if (r == 0 && version < STORE_VERSION) {
		snprintf(
		        store->message, sizeof store->message,
		        "cannot open the store %s: it is of the older version %d; start ambod once "
		        "to bring it up to version %d",
		        store->path, version, STORE_VERSION);
		r = -EPROTO;
	}
	return r;
}

static void remove_new_file(const char *path)
{
	char beside[4096];

	unlink(path);
	snprintf(beside, sizeof beside, "%s-wal", path);
	unlink(beside);
	snprintf(beside, sizeof beside, "%s-shm", path);
	unlink(beside);
}

int store_open(const char *path, bool read_only, char *message, struct store **ret)
{
	struct store *store = calloc(1, sizeof *store);
	bool created = false;
	int r;

	if (store)
		store->path = strdup(path);
	if (!store || !store->path) {
		free(store);
		return store_explain(message, doing_open, path, -ENOMEM);
	}
	store->lock_fd = -1;
	r = read_only ? open_reader(store) : open_writer(store, &created);
	if (r == 0) {
		*ret = store;
		return 0;
	}
	snprintf(message, STORE_MESSAGE_MAX, "%s", store->message);
	sqlite3_close_v2(store->db);
	store->db = NULL;
	if (created)
		remove_new_file(path);
	store_close(store);
	return r;
}

void store_close(struct store *store)
{
	if (!store)
		return;
	sqlite3_close_v2(store->db);
	if (store->lock_fd >= 0)
		close(store->lock_fd);
	free(store->path);
	free(store);
}
