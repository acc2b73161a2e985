/* SPDX-License-Identifier: MIT */
#include "power_cut_vfs.h"

#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "assert_close.h"

#define SECTOR    512
#define FILES_MAX 8

/* What the platter holds and what the program believes it does. */
struct image {
	char path[512]; /* "" free */
	unsigned char *synced, *current;
	size_t synced_size, current_size;
};

struct cut_file {
	sqlite3_file base;
	struct image *image; /* NULL: not followed (temporary files) */
	sqlite3_file *real;  /* follows this struct in memory */
};

static sqlite3_vfs *real_vfs;
static sqlite3_vfs cut_vfs;
static struct image images[FILES_MAX];
static uint64_t operations, cut_at = UINT64_MAX;
static uint32_t coin_state = 1;
static int torn; /* the write that met the cut has been dealt with */

/* xorshift32, Marsaglia 2003: enough for a coin. */
static uint32_t coin(void)
{
	coin_state ^= coin_state << 13;
	coin_state ^= coin_state >> 17;
	coin_state ^= coin_state << 5;
	return coin_state;
}

static void resize(unsigned char **bytes, size_t *size, size_t wanted)
{
	if (wanted > *size) {
		*bytes = realloc(*bytes, wanted);
		assert_non_null(*bytes);
		memset(*bytes + *size, 0, wanted - *size);
	}
	*size = wanted;
}

static void forget(struct image *image)
{
	free(image->synced);
	free(image->current);
	*image = (struct image){0};
}

static struct image *find_image(const char *path)
{
	for (int i = 0; i < FILES_MAX; i++)
		if (images[i].path[0] && strcmp(images[i].path, path) == 0)
			return &images[i];
	return NULL;
}

/* Starts to follow a file: what is on the disk counts as synced. */
static struct image *follow(const char *path)
{
	struct image *image = find_image(path);
	FILE *file;
	int c;

	if (image)
		return image;
	for (int i = 0; i < FILES_MAX && !image; i++)
		if (!images[i].path[0])
			image = &images[i];
	assert_non_null(image);
	snprintf(image->path, sizeof image->path, "%s", path);
	file = fopen(path, "rb");
	while (file && (c = getc(file)) != EOF) {
		size_t at = image->synced_size;

		if (at % 65536 == 0)
			image->synced = realloc(image->synced, at + 65536);
		image->synced[image->synced_size++] = (unsigned char)c;
	}
	if (file)
		fclose(file);
	resize(&image->current, &image->current_size, image->synced_size);
	if (image->synced_size)
		memcpy(image->current, image->synced, image->synced_size);
	return image;
}

/* Counts an operation; true from the cut on. */
static int dark(void)
{
	return operations >= cut_at;
}

static int operate(void)
{
	if (dark())
		return SQLITE_IOERR;
	operations++;
	return SQLITE_OK;
}

static struct cut_file *of(sqlite3_file *file)
{
	return (struct cut_file *)file;
}

static int cut_close(sqlite3_file *file)
{
	return of(file)->real->pMethods->xClose(of(file)->real);
}

static int cut_read(sqlite3_file *file, void *to, int n, sqlite3_int64 at)
{
	return of(file)->real->pMethods->xRead(of(file)->real, to, n, at);
}

static int cut_write(sqlite3_file *file, const void *from, int n, sqlite3_int64 at)
{
	struct image *image = of(file)->image;
	size_t end = (size_t)at + (size_t)n;
	int code = image ? operate() : SQLITE_OK;

	/* The write under way at the cut may reach the disk in part, none after it. */
	if (image && (code == SQLITE_OK || !torn)) {
		torn = code != SQLITE_OK;
		if (end > image->current_size)
			resize(&image->current, &image->current_size, end);
		memcpy(image->current + at, from, (size_t)n);
	}
	if (code != SQLITE_OK)
		return SQLITE_IOERR_WRITE;
	return of(file)->real->pMethods->xWrite(of(file)->real, from, n, at);
}

static int cut_truncate(sqlite3_file *file, sqlite3_int64 size)
{
	struct image *image = of(file)->image;

	if (image && operate() != SQLITE_OK)
		return SQLITE_IOERR_TRUNCATE;
	if (image)
		resize(&image->current, &image->current_size, (size_t)size);
	return of(file)->real->pMethods->xTruncate(of(file)->real, size);
}

/* The real sync is left out: nobody cuts the power of the machine under test. */
static int cut_sync(sqlite3_file *file, int flags)
{
	struct image *image = of(file)->image;

	(void)flags;
	if (!image)
		return SQLITE_OK;
	if (operate() != SQLITE_OK)
		return SQLITE_IOERR_FSYNC;
	resize(&image->synced, &image->synced_size, image->current_size);
	memcpy(image->synced, image->current, image->current_size);
	return SQLITE_OK;
}

static int cut_file_size(sqlite3_file *file, sqlite3_int64 *ret)
{
	return of(file)->real->pMethods->xFileSize(of(file)->real, ret);
}

static int cut_lock(sqlite3_file *file, int lock)
{
	return of(file)->real->pMethods->xLock(of(file)->real, lock);
}

static int cut_unlock(sqlite3_file *file, int lock)
{
	return of(file)->real->pMethods->xUnlock(of(file)->real, lock);
}

static int cut_check_lock(sqlite3_file *file, int *ret)
{
	return of(file)->real->pMethods->xCheckReservedLock(of(file)->real, ret);
}

static int cut_control(sqlite3_file *file, int op, void *argument)
{
	return of(file)->real->pMethods->xFileControl(of(file)->real, op, argument);
}

static int cut_sector_size(sqlite3_file *file)
{
	return of(file)->real->pMethods->xSectorSize(of(file)->real);
}

static int cut_characteristics(sqlite3_file *file)
{
	return of(file)->real->pMethods->xDeviceCharacteristics(of(file)->real);
}

static int cut_shm_map(sqlite3_file *file, int page, int size, int extend, void volatile **ret)
{
	return of(file)->real->pMethods->xShmMap(of(file)->real, page, size, extend, ret);
}

static int cut_shm_lock(sqlite3_file *file, int offset, int n, int flags)
{
	return of(file)->real->pMethods->xShmLock(of(file)->real, offset, n, flags);
}

static void cut_shm_barrier(sqlite3_file *file)
{
	of(file)->real->pMethods->xShmBarrier(of(file)->real);
}

static int cut_shm_unmap(sqlite3_file *file, int remove)
{
	return of(file)->real->pMethods->xShmUnmap(of(file)->real, remove);
}

static const sqlite3_io_methods cut_methods = {
        .iVersion = 2, /* without memory-mapped files, which would pass us by */
        .xClose = cut_close,
        .xRead = cut_read,
        .xWrite = cut_write,
        .xTruncate = cut_truncate,
        .xSync = cut_sync,
        .xFileSize = cut_file_size,
        .xLock = cut_lock,
        .xUnlock = cut_unlock,
        .xCheckReservedLock = cut_check_lock,
        .xFileControl = cut_control,
        .xSectorSize = cut_sector_size,
        .xDeviceCharacteristics = cut_characteristics,
        .xShmMap = cut_shm_map,
        .xShmLock = cut_shm_lock,
        .xShmBarrier = cut_shm_barrier,
        .xShmUnmap = cut_shm_unmap,
};

static int cut_open(sqlite3_vfs *vfs, const char *path, sqlite3_file *file, int flags, int *ret)
{
	struct cut_file *cut = of(file);
	int code;

	(void)vfs;
	cut->real = (sqlite3_file *)(cut + 1);
	cut->image =
	        path && flags & (SQLITE_OPEN_MAIN_DB | SQLITE_OPEN_MAIN_JOURNAL | SQLITE_OPEN_WAL)
	                ? follow(path)
	                : NULL;
	code = real_vfs->xOpen(real_vfs, path, cut->real, flags, ret);
	cut->base.pMethods = cut->real->pMethods ? &cut_methods : NULL;
	return code;
}

static int cut_delete(sqlite3_vfs *vfs, const char *path, int sync_folder)
{
	struct image *image = find_image(path);

	(void)vfs;
	if (image && operate() != SQLITE_OK)
		return SQLITE_IOERR_DELETE;
	if (image)
		forget(image);
	return real_vfs->xDelete(real_vfs, path, sync_folder);
}

void power_cut_install(void)
{
	real_vfs = sqlite3_vfs_find(NULL);
	cut_vfs = *real_vfs;
	cut_vfs.zName = "power-cut";
	cut_vfs.szOsFile = (int)sizeof(struct cut_file) + real_vfs->szOsFile;
	cut_vfs.xOpen = cut_open;
	cut_vfs.xDelete = cut_delete;
	assert_int_equal(sqlite3_vfs_register(&cut_vfs, 1), SQLITE_OK);
}

void power_cut_arm(uint64_t n_operations, uint32_t seed)
{
	for (int i = 0; i < FILES_MAX; i++)
		forget(&images[i]);
	operations = 0;
	torn = 0;
	cut_at = n_operations;
	coin_state = seed ? seed : 1;
}

uint64_t power_cut_operations(void)
{
	return operations;
}

int power_cut_happened(void)
{
	return dark();
}

/* Of every sector that differs from the synced one, the old or the new. */
static void toss(struct image *image)
{
	size_t size = image->synced_size;

	if (image->current_size != size && coin() & 1)
		size = image->current_size;
	resize(&image->synced, &image->synced_size, size);
	for (size_t at = 0; at < size && at < image->current_size; at += SECTOR) {
		size_t n = size - at < SECTOR ? size - at : SECTOR;

		if (at + n > image->current_size)
			n = image->current_size - at;
		if (coin() & 1)
			memcpy(image->synced + at, image->current + at, n);
	}
}

void power_cut_restore(void)
{
	for (int i = 0; i < FILES_MAX; i++) {
		FILE *file;

		if (!images[i].path[0])
			continue;
		toss(&images[i]);
		file = fopen(images[i].path, "wb");
		assert_non_null(file);
		if (images[i].synced_size)
			assert_int_equal(fwrite(images[i].synced, 1, images[i].synced_size, file),
			                 images[i].synced_size);
		assert_int_equal(fclose(file), 0);
	}
	power_cut_arm(UINT64_MAX, 1);
}
