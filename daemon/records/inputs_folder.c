/* SPDX-License-Identifier: MIT */
#include "inputs_folder.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* The batch id a folder's name says; 0 for any other name. */
static int64_t id_of(const char *name)
{
	char *end;
	long long id;

	if (name[0] < '1' || name[0] > '9' || strlen(name) > 18)
		return 0;
	id = strtoll(name, &end, 10);
	return *end ? 0 : (int64_t)id;
}

static int open_batch(int folder_fd, int64_t id)
{
	char name[24];

	snprintf(name, sizeof name, "%" PRId64, id);
	return openat(folder_fd, name, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
}

/* Lists an open folder from its start; the caller closes it. NULL with errno set. */
static DIR *list(int folder_fd)
{
	int fd = openat(folder_fd, ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	DIR *dir = fd >= 0 ? fdopendir(fd) : NULL;

	if (!dir && fd >= 0)
		close(fd);
	return dir;
}

/* Bytes of the plain files in a folder; unlinks them too when asked. */
static int64_t files_bytes(int folder_fd, bool remove)
{
	DIR *dir = list(folder_fd);
	struct dirent *entry;
	int64_t bytes = 0;

	if (!dir)
		return -errno;
	while ((entry = readdir(dir))) {
		struct stat info;

		if (fstatat(folder_fd, entry->d_name, &info, AT_SYMLINK_NOFOLLOW) < 0 ||
		    S_ISDIR(info.st_mode))
			continue;
		if (!remove || unlinkat(folder_fd, entry->d_name, 0) == 0)
			bytes += info.st_size;
	}
	closedir(dir);
	return bytes;
}

int64_t folder_bytes_of_all(int folder_fd)
{
	DIR *dir = list(folder_fd);
	struct dirent *entry;
	int64_t bytes = 0;

	while (dir && (entry = readdir(dir))) {
		int64_t id = id_of(entry->d_name);
		int fd = id > 0 ? open_batch(folder_fd, id) : -1;

		if (fd >= 0) {
			int64_t some = files_bytes(fd, false);

			bytes += some > 0 ? some : 0;
			close(fd);
		}
	}
	if (dir)
		closedir(dir);
	return bytes;
}

unsigned folder_count(int folder_fd)
{
	DIR *dir = list(folder_fd);
	struct dirent *entry;
	unsigned n = 0;

	while (dir && (entry = readdir(dir)))
		n += id_of(entry->d_name) > 0;
	if (dir)
		closedir(dir);
	return n;
}

int64_t folder_oldest(int folder_fd, bool (*skip)(int64_t id, void *context), void *context)
{
	DIR *dir = list(folder_fd);
	struct dirent *entry;
	int64_t oldest = 0;

	while (dir && (entry = readdir(dir))) {
		int64_t id = id_of(entry->d_name);

		if (id > 0 && (oldest == 0 || id < oldest) && !skip(id, context))
			oldest = id;
	}
	if (dir)
		closedir(dir);
	return oldest;
}

int64_t folder_remove(int folder_fd, int64_t id)
{
	int fd = open_batch(folder_fd, id);
	int64_t bytes;
	char name[24];

	if (fd < 0)
		return -errno;
	bytes = files_bytes(fd, true);
	close(fd);
	snprintf(name, sizeof name, "%" PRId64, id);
	if (bytes >= 0 && unlinkat(folder_fd, name, AT_REMOVEDIR) < 0)
		return -errno;
	return bytes;
}

int64_t folder_trim_last_line(int fd, int64_t *bytes)
{
	char tail[512]; /* longer than any line that is written */
	struct stat info;
	int64_t start;
	ssize_t n;

	if (fstat(fd, &info) < 0)
		return -errno;
	start = info.st_size > (off_t)sizeof tail ? info.st_size - (off_t)sizeof tail : 0;
	n = pread(fd, tail, sizeof tail, (off_t)start);
	if (n < 0)
		return -errno;
	while (n > 0 && tail[n - 1] != '\n')
		n--;
	if (start + n == info.st_size)
		return info.st_size;
	if (ftruncate(fd, (off_t)(start + n)) < 0)
		return -errno;
	*bytes -= info.st_size - (start + n);
	return start + n;
}
