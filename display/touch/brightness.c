/* SPDX-License-Identifier: MIT */
#include "brightness.h"

#include <dirent.h>
#include <math.h>
#include <stdio.h>

static long read_number(const char *path)
{
	FILE *file = fopen(path, "r");
	long number = -1;

	if (!file)
		return -1;
	if (fscanf(file, "%ld", &number) != 1)
		number = -1;
	fclose(file);
	return number;
}

static int set_one(const char *folder, const char *name, int pct)
{
	char path[512];
	long most;
	FILE *file;
	int r;

	snprintf(path, sizeof path, "%.200s/%.200s/max_brightness", folder, name);
	most = read_number(path);
	snprintf(path, sizeof path, "%.200s/%.200s/brightness", folder, name);
	file = most > 0 ? fopen(path, "w") : NULL;
	if (!file)
		return 0;
	r = fprintf(file, "%ld\n", (long)fmax(1.0, round((double)most * pct / 100.0)));
	return fclose(file) == 0 && r > 0;
}

int brightness_set(const char *folder, int pct)
{
	DIR *dir = opendir(folder);
	struct dirent *entry;
	int n = 0;

	while (dir && (entry = readdir(dir)) != NULL)
		if (entry->d_name[0] != '.')
			n += set_one(folder, entry->d_name, pct);
	if (dir)
		closedir(dir);
	return n;
}

int brightness_factor(int pct)
{
	/* Light goes with about the 2.2nd power of the channel. */
	return (int)lround(255.0 * pow(fmin(100.0, fmax(1.0, pct)) / 100.0, 1.0 / 2.2));
}
