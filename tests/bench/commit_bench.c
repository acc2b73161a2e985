/* SPDX-License-Identifier: MIT */
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "../support/batch_guide.h"
#include "../support/temp_folder.h"
#include "daemon/records/canonical.h"
#include "daemon/records/store.h"

/* How long a step's commit takes on this disk ($TMPDIR, or /tmp), against the least
 * that could keep it: the same bytes appended to a file and synced, the two taking
 * turns in one run. */

#define STEPS 500

static double now_ms(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (double)now.tv_sec * 1e3 + (double)now.tv_nsec * 1e-6;
}

static int by_size(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;

	return (x > y) - (x < y);
}

static double append_ms(int fd, const char *bytes, size_t length)
{
	double start = now_ms();

	if (write(fd, bytes, length) != (ssize_t)length || fdatasync(fd) < 0) {
		perror("append");
		exit(1);
	}
	return now_ms() - start;
}

static double commit_ms(struct store *store, int64_t id, int64_t t, const struct guide *guide,
                        const struct store_stamp *stamp)
{
	double start = now_ms();

	if (store_step(store, id, t, guide, stamp) < 0) {
		fprintf(stderr, "%s\n", store_message(store));
		exit(1);
	}
	return now_ms() - start;
}

static void report(const char *what, double *ms)
{
	qsort(ms, STEPS, sizeof *ms, by_size);
	printf("%-30s median %7.3f ms  p99 %7.3f ms\n", what, ms[STEPS / 2], ms[STEPS * 99 / 100]);
}

int main(void)
{
	static double commit[STEPS], append[STEPS];
	char path[TEMP_PATH_MAX], message[STORE_MESSAGE_MAX];
	struct store_stamp stamp;
	struct store *store;
	struct guide guide;
	size_t length;
	char *bytes;
	void *folder;
	int64_t id;
	int fd;

	if (temp_folder_make(&folder) < 0)
		return 1;
	temp_path(&folder, "ambo.db", path);
	if (store_open(path, false, message, &store) < 0) {
		fprintf(stderr, "%s\n", message);
		return 1;
	}
	temp_path(&folder, "append", path);
	fd = open(path, O_WRONLY | O_CREAT | O_APPEND, 0600);
	batch_guide(GUIDE_CHARGE, 2, &guide);
	length = guide_write(&guide, NULL, 0) + canonical_write(&guide, NULL, 0);
	bytes = calloc(1, length);
	batch_stamp(0, &stamp);
	id = store_begin(store, &guide, 0, &stamp);
	for (int i = 0; i < STEPS; i++) {
		append[i] = append_ms(fd, bytes, length);
		commit[i] = commit_ms(store, id, i, &guide, &stamp);
	}
	printf("%d steps of %zu bytes (state and record)\n", STEPS, length);
	report("commit of a step", commit);
	report("append and fdatasync", append);
	printf("ratio                          median %7.2f     p99 %7.2f\n",
	       commit[STEPS / 2] / append[STEPS / 2],
	       commit[STEPS * 99 / 100] / append[STEPS * 99 / 100]);
	free(bytes);
	close(fd);
	store_close(store);
	return temp_folder_remove(&folder) < 0;
}
