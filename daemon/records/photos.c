/* SPDX-License-Identifier: MIT */
#include "photos.h"

#include <sys/types.h>

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <sha2.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

_Static_assert(PHOTO_HASH_BYTES == SHA256_DIGEST_LENGTH, "files are named by it");

#define UNFINISHED "unfinished" /* what a copy is called until it is whole */
#define NAME_MAX_  (2u * PHOTO_HASH_BYTES + 8u)
#define CHUNK      65536u

const char *photo_kind_name(enum photo_kind kind)
{
	return kind == PHOTO_JPEG ? "jpeg" : "png";
}

static void name_of(const struct photo_file *photo, char ret[NAME_MAX_])
{
	for (size_t i = 0; i < PHOTO_HASH_BYTES; i++)
		snprintf(ret + 2 * i, 3, "%02x", photo->sha256[i]);
	snprintf(ret + 2 * PHOTO_HASH_BYTES, 8, ".%s", photo_kind_name(photo->kind));
}

/* By the signature that each format begins with (ISO/IEC 10918-1: SOI and a marker;
 * ISO/IEC 15948, 5.2). */
static int find_kind(const uint8_t *begin, size_t length, enum photo_kind *ret)
{
	static const uint8_t jpeg[] = {0xff, 0xd8, 0xff};
	static const uint8_t png[] = {0x89, 'P', 'N', 'G', '\r', '\n', 0x1a, '\n'};

	if (length >= sizeof(jpeg) && memcmp(begin, jpeg, sizeof(jpeg)) == 0)
		*ret = PHOTO_JPEG;
	else if (length >= sizeof(png) && memcmp(begin, png, sizeof(png)) == 0)
		*ret = PHOTO_PNG;
	else
		return -EINVAL;
	return 0;
}

static int write_all(int fd, const uint8_t *bytes, size_t length)
{
	while (length > 0) {
		const ssize_t n = write(fd, bytes, length);

		if (n < 0 && errno != EINTR)
			return -errno;
		if (n > 0) {
			bytes += n;
			length -= (size_t)n;
		}
	}
	return 0;
}

/* Reads fd to its end; to < 0: only its hash. */
static int pass(int fd, int to, struct photo_file *ret)
{
	uint8_t chunk[CHUNK];
	SHA2_CTX context;
	ssize_t n;
	int r = 0;

	SHA256Init(&context);
	ret->bytes = 0;
	while ((n = pread(fd, chunk, sizeof(chunk), ret->bytes)) != 0) {
		if (n < 0 && errno == EINTR)
			continue;
		if (n < 0)
			return -errno;
		if (ret->bytes == 0)
			r = find_kind(chunk, (size_t)n, &ret->kind);
		ret->bytes += n;
		if (r == 0 && ret->bytes > PHOTO_BYTES_MAX)
			r = -EFBIG;
		if (r == 0 && to >= 0)
			r = write_all(to, chunk, (size_t)n);
		if (r < 0)
			return r;
		SHA256Update(&context, chunk, (size_t)n);
	}
	SHA256Final(ret->sha256, &context);
	return ret->bytes > 0 ? 0 : -EINVAL;
}

static int open_folder(const char *folder, bool make)
{
	int fd;

	if (make && mkdir(folder, 0700) < 0 && errno != EEXIST)
		return -errno;
	fd = open(folder, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
	return fd < 0 ? -errno : fd;
}

static int put_in_place(int folder_fd, int copy_fd, const struct photo_file *photo)
{
	char name[NAME_MAX_];

	name_of(photo, name);
	if (fsync(copy_fd) < 0 || renameat(folder_fd, UNFINISHED, folder_fd, name) < 0 ||
	    fsync(folder_fd) < 0)
		return -errno;
	return 0;
}

int photos_add(const char *folder, int fd, struct photo_file *ret)
{
	struct photo_file photo;
	struct stat info;
	int folder_fd, copy_fd, r;

	if (fstat(fd, &info) < 0)
		return -errno;
	/* A pipe would be waited for as long as its writer likes. */
	if (!S_ISREG(info.st_mode))
		return -EINVAL;
	folder_fd = open_folder(folder, true);
	if (folder_fd < 0)
		return folder_fd;
	copy_fd = openat(folder_fd, UNFINISHED,
	                 O_WRONLY | O_CREAT | O_TRUNC | O_NOFOLLOW | O_CLOEXEC, 0600);
	r = copy_fd < 0 ? -errno : pass(fd, copy_fd, &photo);
	if (r == 0)
		r = put_in_place(folder_fd, copy_fd, &photo);
	if (r < 0 && copy_fd >= 0)
		unlinkat(folder_fd, UNFINISHED, 0);
	if (copy_fd >= 0)
		close(copy_fd);
	close(folder_fd);
	if (r == 0)
		*ret = photo;
	return r;
}

int photos_open(const char *folder, const struct photo_file *photo)
{
	struct photo_file found;
	char name[NAME_MAX_];
	int folder_fd = open_folder(folder, false), fd, r;

	if (folder_fd < 0)
		return folder_fd;
	name_of(photo, name);
	fd = openat(folder_fd, name, O_RDONLY | O_NOFOLLOW | O_CLOEXEC);
	r = fd < 0 ? -errno : pass(fd, -1, &found);
	close(folder_fd);
	if (fd < 0)
		return r;
	if (r == 0 && memcmp(found.sha256, photo->sha256, PHOTO_HASH_BYTES) == 0)
		return fd;
	close(fd);
	return r < 0 && r != -EINVAL && r != -EFBIG ? r : -EBADMSG;
}

bool photos_there(const char *folder, const struct photo_file *photo)
{
	char name[NAME_MAX_];
	int folder_fd = open_folder(folder, false);
	bool there;

	if (folder_fd < 0)
		return false;
	name_of(photo, name);
	there = faccessat(folder_fd, name, R_OK, 0) == 0;
	close(folder_fd);
	return there;
}

static bool is_of(const char *name, const struct photo_file *photos, size_t n)
{
	char one[NAME_MAX_];

	for (size_t i = 0; i < n; i++) {
		name_of(&photos[i], one);
		if (strcmp(name, one) == 0)
			return true;
	}
	return false;
}

int photos_sweep(const char *folder, const struct photo_file *photos, size_t n)
{
	int folder_fd = open_folder(folder, false), removed = 0;
	struct dirent *entry;
	DIR *dir;

	if (folder_fd < 0)
		return folder_fd == -ENOENT ? 0 : folder_fd;
	dir = fdopendir(folder_fd);
	if (dir == NULL) {
		close(folder_fd);
		return -errno;
	}
	while ((entry = readdir(dir)) != NULL)
		if (entry->d_name[0] != '.' && !is_of(entry->d_name, photos, n) &&
		    unlinkat(folder_fd, entry->d_name, 0) == 0)
			removed++;
	closedir(dir);
	return removed;
}
