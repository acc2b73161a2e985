/* SPDX-License-Identifier: MIT */
#include "text_file.h"

#include <errno.h>
#include <fcntl.h>
#include <glob.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "options.h"

int text_file_read(const char *path, char *ret, size_t size)
{
	const int fd = open(path, O_RDONLY | O_CLOEXEC);
	ssize_t n;
	int error;

	if (fd < 0)
		return -errno;
	n = read(fd, ret, size);
	error = errno;
	close(fd);
	if (n < 0)
		return -error;
	if ((size_t)n == size)
		return -EMSGSIZE;
	while (n > 0 && (ret[n - 1] == '\n' || ret[n - 1] == ' '))
		n--;
	ret[n] = '\0';
	return 0;
}

int text_file_read_number(const char *path, double *ret)
{
	char text[64];
	const int r = text_file_read(path, text, sizeof(text));

	if (r < 0)
		return r;
	return option_number(text, ret) < 0 ? -EBADMSG : 0;
}

int text_file_write(const char *path, const char *text)
{
	const int fd = open(path, O_WRONLY | O_CLOEXEC);
	const size_t length = strlen(text);
	int r = 0;

	if (fd < 0)
		return -errno;
	if (write(fd, text, length) != (ssize_t)length)
		r = errno != 0 ? -errno : -EIO;
	close(fd);
	return r;
}

int text_file_find_device(const char *parent, const char *name, char *ret, size_t size,
                          char *names_ret, size_t names_size)
{
	char pattern[512], found_name[64];
	size_t used = 0;
	glob_t found;
	int r = -ENOENT;

	snprintf(names_ret, names_size, "there is none");
	snprintf(pattern, sizeof(pattern), "%.480s/*/name", parent);
	if (glob(pattern, 0, NULL, &found) != 0)
		return r;
	for (size_t i = 0; i < found.gl_pathc && r == -ENOENT; i++) {
		const size_t folder = strlen(found.gl_pathv[i]) - strlen("/name");

		if (text_file_read(found.gl_pathv[i], found_name, sizeof(found_name)) < 0)
			continue;
		if (strcmp(found_name, name) == 0)
			r = snprintf(ret, size, "%.*s", (int)folder, found.gl_pathv[i]) < (int)size
			            ? 0
			            : -ENAMETOOLONG;
		else if (used + strlen(found_name) + 3 < names_size)
			used += (size_t)snprintf(names_ret + used, names_size - used, "%s%s",
			                         used > 0 ? ", " : "", found_name);
	}
	globfree(&found);
	return r;
}
