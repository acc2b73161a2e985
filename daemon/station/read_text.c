/* SPDX-License-Identifier: MIT */
#include "read_text.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

int read_text(const char *path, size_t max, char **ret_text)
{
	struct stat status;
	char *text = NULL;
	size_t n = 0;
	ssize_t got;
	int fd, r = 0;

	/* O_NONBLOCK: a named pipe would wait for a writer for ever. */
	fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
	if (fd < 0)
		return -errno;
	if (fstat(fd, &status) < 0) {
		r = -errno;
		goto out;
	}
	if (!S_ISREG(status.st_mode)) {
		r = S_ISDIR(status.st_mode) ? -EISDIR : -ENOTSUP;
		goto out;
	}
	text = malloc(max + 1);
	if (text == NULL) {
		r = -ENOMEM;
		goto out;
	}
	while (n < max + 1 && (got = read(fd, text + n, max + 1 - n)) != 0) {
		if (got < 0) {
			if (errno == EINTR)
				continue;
			r = -errno;
			goto out;
		}
		n += (size_t)got;
	}
	if (n > max) {
		r = -EFBIG;
		goto out;
	}
	text[n] = '\0';
	if (strlen(text) != n)
		r = -EBADMSG;
out:
	close(fd);
	if (r < 0)
		free(text);
	else
		*ret_text = text;
	return r;
}
