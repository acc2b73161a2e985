/* SPDX-License-Identifier: MIT */
#include "store_internal.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/timex.h>
#include <time.h>
#include <unistd.h>

/* When and on which clock. */

static int64_t clock_us(clockid_t id)
{
	struct timespec now = {0};

	clock_gettime(id, &now);
	return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

static void read_boot_id(char ret[37])
{
	int fd = open("/proc/sys/kernel/random/boot_id", O_RDONLY | O_CLOEXEC);
	ssize_t n = -1;

	if (fd >= 0) {
		n = read(fd, ret, 36);
		close(fd);
	}
	/* Without one, no two stamps are of the same boot as far as anyone can tell. */
	ret[n == 36 ? 36 : 0] = '\0';
}

void store_stamp_now(struct store_stamp *ret)
{
	struct timex timex = {.modes = 0};
	int state;

	*ret = (struct store_stamp){0};
	read_boot_id(ret->boot_id);
	ret->boottime_us = clock_us(CLOCK_BOOTTIME);
	ret->realtime_us = clock_us(CLOCK_REALTIME);
	state = adjtimex(&timex);
	ret->synchronised = state >= 0 && state != TIME_ERROR && !(timex.status & STA_UNSYNC);
}

int store_keep_stamp(struct store *store, const struct store_stamp *stamp)
{
	static const char doing[] = "keep the time in";

	return store_run(store, doing,
	                 "INSERT INTO boot (boot_id, boottime_us, realtime_us, synchronised)"
	                 " VALUES (?, ?, ?, ?) ON CONFLICT (boot_id) DO UPDATE SET"
	                 " boottime_us = excluded.boottime_us, realtime_us = excluded.realtime_us,"
	                 " synchronised = excluded.synchronised",
	                 "tiii", stamp->boot_id, stamp->boottime_us, stamp->realtime_us,
	                 (int64_t)stamp->synchronised);
}

int store_last_stamp(struct store *store, struct store_stamp *ret)
{
	static const char doing[] = "read the last time from";
	sqlite3_stmt *statement;
	int r = store_query(store, doing, &statement,
	                    "SELECT boot_id, boottime_us, realtime_us, synchronised FROM boot"
	                    " ORDER BY seq DESC LIMIT 1",
	                    "");

	if (r < 0)
		return r;
	r = store_next(store, doing, statement);
	if (r > 0) {
		store_copy_text(ret->boot_id, sizeof ret->boot_id, statement, 0);
		ret->boottime_us = sqlite3_column_int64(statement, 1);
		ret->realtime_us = sqlite3_column_int64(statement, 2);
		ret->synchronised = sqlite3_column_int64(statement, 3) != 0;
	}
	sqlite3_finalize(statement);
	return r > 0 ? 0 : r < 0 ? r : -ENOENT;
}
