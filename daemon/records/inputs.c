/* SPDX-License-Identifier: MIT */
#include "inputs.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "inputs_folder.h"

struct csv {
	int fd; /* -1: cannot be written */
	size_t used;
	char buffer[INPUTS_BUFFER];
};

struct open_batch {
	int64_t id; /* 0: free */
	int folder_fd;
	bool cut_short; /* no more room, or the disk failed: nothing more is written */
	struct csv trace, presses;
};

struct inputs {
	char *path;
	int folder_fd; /* -1: no folder, nothing is kept */
	unsigned batches_max;
	int64_t bytes_max, bytes; /* in all files of all batches */
	struct open_batch open[INPUTS_OPEN_MAX];
	char problem[512], told[512];
};

static void remember(struct inputs *inputs, int64_t batch_id, const char *reason)
{
	if (inputs->problem[0])
		return;
	snprintf(inputs->problem, sizeof inputs->problem,
	         "the inputs of batch %" PRId64 " are not kept whole in %s: %s; the batch itself "
	         "is not touched by this",
	         batch_id, inputs->path, reason);
}

static struct open_batch *find_open(struct inputs *inputs, int64_t batch_id)
{
	for (unsigned i = 0; batch_id > 0 && i < INPUTS_OPEN_MAX; i++)
		if (inputs->open[i].id == batch_id)
			return &inputs->open[i];
	return NULL;
}

int inputs_new(const char *folder, unsigned batches_max, int64_t bytes_max, struct inputs **ret)
{
	struct inputs *inputs;

	if (batches_max == 0 || bytes_max <= 0)
		return -EINVAL;
	inputs = calloc(1, sizeof *inputs);
	if (!inputs)
		return -ENOMEM;
	inputs->path = strdup(folder);
	if (!inputs->path) {
		free(inputs);
		return -ENOMEM;
	}
	inputs->batches_max = batches_max;
	inputs->bytes_max = bytes_max;
	inputs->folder_fd = -1;
	if (mkdir(folder, 0700) == 0 || errno == EEXIST)
		inputs->folder_fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	if (inputs->folder_fd < 0)
		remember(inputs, 0, strerror(errno));
	else
		inputs->bytes = folder_bytes_of_all(inputs->folder_fd);
	*ret = inputs;
	return 0;
}

static bool is_open(int64_t batch_id, void *context)
{
	return find_open(context, batch_id) != NULL;
}

/* Removes the oldest batch that is not being written to. */
static bool drop_oldest(struct inputs *inputs)
{
	int64_t freed, id = folder_oldest(inputs->folder_fd, is_open, inputs);

	if (id == 0)
		return false;
	freed = folder_remove(inputs->folder_fd, id);
	if (freed < 0) {
		remember(inputs, id, strerror((int)-freed));
		return false;
	}
	inputs->bytes -= freed;
	return true;
}

static bool make_room(struct inputs *inputs, size_t more)
{
	while (inputs->bytes + (int64_t)more > inputs->bytes_max)
		if (!drop_oldest(inputs))
			return false;
	return true;
}

static void cut_short(struct inputs *inputs, struct open_batch *batch, const char *reason)
{
	int fd;

	batch->cut_short = true;
	remember(inputs, batch->id, reason);
	/* So that nobody replays half a batch for a whole one. */
	fd = openat(batch->folder_fd, "cut-short", O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
	if (fd >= 0)
		close(fd);
}

static void flush_csv(struct inputs *inputs, struct open_batch *batch, struct csv *csv)
{
	size_t done = 0;

	if (csv->used == 0)
		return;
	if (!batch->cut_short && !make_room(inputs, csv->used))
		cut_short(inputs, batch, "the room for inputs is used up");
	while (!batch->cut_short && done < csv->used) {
		ssize_t n = write(csv->fd, csv->buffer + done, csv->used - done);

		if (n > 0) {
			done += (size_t)n;
			inputs->bytes += n;
		} else if (n == 0 || errno != EINTR) {
			cut_short(inputs, batch, strerror(n == 0 ? ENOSPC : errno));
		}
	}
	csv->used = 0;
}

static void add_line(struct inputs *inputs, struct open_batch *batch, struct csv *csv,
                     const char *line, size_t length)
{
	if (batch->cut_short)
		return;
	if (csv->used + length > sizeof csv->buffer)
		flush_csv(inputs, batch, csv);
	memcpy(csv->buffer + csv->used, line, length);
	csv->used += length;
}

static void close_batch(struct open_batch *batch)
{
	if (batch->trace.fd >= 0)
		close(batch->trace.fd);
	if (batch->presses.fd >= 0)
		close(batch->presses.fd);
	if (batch->folder_fd >= 0)
		close(batch->folder_fd);
	batch->id = 0;
}

static void open_csv(struct inputs *inputs, struct open_batch *batch, struct csv *csv,
                     const char *name, const char *header)
{
	csv->used = 0;
	csv->fd = openat(batch->folder_fd, name, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
	if (csv->fd < 0)
		cut_short(inputs, batch, strerror(errno));
	else
		add_line(inputs, batch, csv, header, strlen(header));
}

/* NAME.csv becomes NAME-part.csv, if it is there. */
static int set_aside(struct inputs *inputs, const struct open_batch *batch, const char *name,
                     int part)
{
	char from[INPUTS_NAME_MAX], to[INPUTS_NAME_MAX];
	int64_t size;
	int fd;

	snprintf(from, sizeof from, "%s.csv", name);
	snprintf(to, sizeof to, "%s-%d.csv", name, part);
	fd = openat(batch->folder_fd, from, O_RDWR | O_NOFOLLOW | O_CLOEXEC);
	if (fd < 0)
		return errno == ENOENT ? 0 : -errno;
	size = folder_trim_last_line(fd, &inputs->bytes);
	close(fd);
	if (size < 0)
		return (int)size;
	return renameat(batch->folder_fd, from, batch->folder_fd, to) < 0 ? -errno : 0;
}

/* How many parts came before this one, having set the newest of them aside. */
static int parts_before(struct inputs *inputs, struct open_batch *batch)
{
	char name[INPUTS_NAME_MAX];
	struct stat there;
	int r, part = 1;

	if (fstatat(batch->folder_fd, "presses.csv", &there, AT_SYMLINK_NOFOLLOW) < 0)
		return 0;
	for (; part < INPUTS_PARTS_MAX; part++) {
		snprintf(name, sizeof name, "presses-%d.csv", part);
		if (fstatat(batch->folder_fd, name, &there, AT_SYMLINK_NOFOLLOW) < 0)
			break;
	}
	r = part == INPUTS_PARTS_MAX ? -EMFILE : set_aside(inputs, batch, "trace", part);
	if (r >= 0)
		r = set_aside(inputs, batch, "presses", part);
	if (r < 0)
		cut_short(inputs, batch, strerror(-r));
	return part;
}

static bool open_folder(struct inputs *inputs, struct open_batch *batch)
{
	char name[24];

	snprintf(name, sizeof name, "%" PRId64, batch->id);
	if (mkdirat(inputs->folder_fd, name, 0700) < 0 && errno != EEXIST)
		return false;
	batch->folder_fd =
	        openat(inputs->folder_fd, name, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
	return batch->folder_fd >= 0;
}

int inputs_begin(struct inputs *inputs, int64_t batch_id)
{
	struct open_batch *batch = NULL;
	int parts;

	if (inputs->folder_fd < 0 || batch_id <= 0 || find_open(inputs, batch_id))
		return 0;
	for (unsigned i = 0; i < INPUTS_OPEN_MAX && !batch; i++)
		if (inputs->open[i].id == 0)
			batch = &inputs->open[i];
	if (!batch) {
		remember(inputs, batch_id, "too many batches are open at the same time");
		return 0;
	}
	batch->id = batch_id;
	batch->cut_short = false;
	batch->folder_fd = batch->trace.fd = batch->presses.fd = -1;
	if (!open_folder(inputs, batch)) {
		remember(inputs, batch_id, strerror(errno));
		close_batch(batch);
		return 0;
	}
	while (folder_count(inputs->folder_fd) > inputs->batches_max && drop_oldest(inputs))
		;
	parts = parts_before(inputs, batch);
	if (!batch->cut_short)
		open_csv(inputs, batch, &batch->trace, "trace.csv", "# t_us,raw24,driver_flags\n");
	if (!batch->cut_short)
		open_csv(inputs, batch, &batch->presses, "presses.csv", "# t_us,event\n");
	return parts;
}

static bool plain_name(const char *name)
{
	return name[0] && name[0] != '.' && !strchr(name, '/') && strlen(name) < INPUTS_NAME_MAX;
}

void inputs_keep(struct inputs *inputs, int64_t batch_id, const char *name, const void *bytes,
                 size_t length)
{
	struct open_batch *batch = find_open(inputs, batch_id);
	struct stat old;
	ssize_t n;
	int fd;

	if (!batch || batch->cut_short)
		return;
	if (!plain_name(name)) {
		remember(inputs, batch_id, "a file to keep has no plain name");
		return;
	}
	if (!make_room(inputs, length)) {
		cut_short(inputs, batch, "the room for inputs is used up");
		return;
	}
	if (fstatat(batch->folder_fd, name, &old, AT_SYMLINK_NOFOLLOW) == 0)
		inputs->bytes -= old.st_size;
	fd = openat(batch->folder_fd, name, O_WRONLY | O_CREAT | O_TRUNC | O_NOFOLLOW | O_CLOEXEC,
	            0600);
	n = fd >= 0 ? write(fd, bytes, length) : -1;
	if (n > 0)
		inputs->bytes += n;
	if (n != (ssize_t)length)
		cut_short(inputs, batch, strerror(n < 0 ? errno : ENOSPC));
	if (fd >= 0)
		close(fd);
}

void inputs_sample(struct inputs *inputs, int64_t batch_id, int64_t t_us, int32_t raw24,
                   uint32_t driver_flags)
{
	struct open_batch *batch = find_open(inputs, batch_id);
	char line[48];
	int length;

	if (!batch)
		return;
	length = snprintf(line, sizeof line, "%" PRId64 ",%" PRId32 ",%" PRIu32 "\n", t_us, raw24,
	                  driver_flags);
	add_line(inputs, batch, &batch->trace, line, (size_t)length);
}

void inputs_event(struct inputs *inputs, int64_t batch_id, int64_t t_us, const char *event)
{
	struct open_batch *batch = find_open(inputs, batch_id);
	char line[INPUTS_EVENT_MAX + 32u];
	int length;

	if (!batch)
		return;
	length =
	        snprintf(line, sizeof line, "%" PRId64 ",%.*s", t_us, (int)INPUTS_EVENT_MAX, event);
	/* One event is one line, whatever a code reader may have sent. */
	for (int i = 0; i < length; i++)
		if ((unsigned char)line[i] < 0x20)
			line[i] = ' ';
	line[length++] = '\n';
	add_line(inputs, batch, &batch->presses, line, (size_t)length);
}

static void flush_batch(struct inputs *inputs, struct open_batch *batch)
{
	flush_csv(inputs, batch, &batch->trace);
	flush_csv(inputs, batch, &batch->presses);
}

void inputs_flush(struct inputs *inputs)
{
	for (unsigned i = 0; i < INPUTS_OPEN_MAX; i++)
		if (inputs->open[i].id > 0)
			flush_batch(inputs, &inputs->open[i]);
}

void inputs_end(struct inputs *inputs, int64_t batch_id)
{
	struct open_batch *batch = find_open(inputs, batch_id);

	if (!batch)
		return;
	flush_batch(inputs, batch);
	close_batch(batch);
}

const char *inputs_problem(struct inputs *inputs)
{
	if (!inputs->problem[0])
		return NULL;
	memcpy(inputs->told, inputs->problem, sizeof inputs->told);
	inputs->problem[0] = '\0';
	return inputs->told;
}

void inputs_free(struct inputs *inputs)
{
	if (!inputs)
		return;
	inputs_flush(inputs);
	for (unsigned i = 0; i < INPUTS_OPEN_MAX; i++)
		if (inputs->open[i].id > 0)
			close_batch(&inputs->open[i]);
	if (inputs->folder_fd >= 0)
		close(inputs->folder_fd);
	free(inputs->path);
	free(inputs);
}
