/* SPDX-License-Identifier: MIT */
#include "code_reader.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/input.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

struct code_reader {
	int fd;
	struct code_keys keys;
};

static int refuse(const char *path, int error, char *message)
{
	if (error == EACCES || error == EPERM)
		snprintf(message, CODE_READER_MESSAGE_MAX,
		         "'%.200s' may not be opened (%s): add the user that runs Ambo to the "
		         "group 'input', and where a service runs it, allow it the device",
		         path, strerror(error));
	else if (error == EBUSY)
		snprintf(message, CODE_READER_MESSAGE_MAX,
		         "'%.200s' is taken by another program: end it, or choose another reader",
		         path);
	else
		snprintf(message, CODE_READER_MESSAGE_MAX,
		         "'%.200s' is no code reader (%s); expected a device of keys under "
		         "/dev/input/by-id",
		         path, strerror(error));
	return -error;
}

int code_reader_open(const char *path, char *message, struct code_reader **ret)
{
	unsigned char types[(EV_MAX + 8) / 8] = {0};
	struct code_reader *reader = calloc(1, sizeof(*reader));
	const int clock = CLOCK_MONOTONIC; /* a stepped wall clock must not cut a code */
	int error = 0;

	if (reader == NULL)
		return -ENOMEM;
	reader->fd = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
	if (reader->fd < 0 || ioctl(reader->fd, EVIOCGBIT(0, sizeof(types)), types) < 0)
		error = errno;
	else if ((types[EV_KEY / 8] >> EV_KEY % 8 & 1) == 0)
		error = ENODEV;
	else if (ioctl(reader->fd, EVIOCGRAB, 1) < 0 ||
	         ioctl(reader->fd, EVIOCSCLOCKID, &clock) < 0)
		error = errno;
	if (error != 0) {
		code_reader_close(reader);
		return refuse(path, error, message);
	}
	*ret = reader;
	return 0;
}

void code_reader_close(struct code_reader *reader)
{
	if (reader == NULL)
		return;
	if (reader->fd >= 0)
		close(reader->fd); /* lets go of the device too */
	free(reader);
}

int code_reader_fd(const struct code_reader *reader)
{
	return reader->fd;
}

int code_reader_read(struct code_reader *reader, char *ret)
{
	struct input_event event;
	ssize_t n;

	/* A reader types some hundred keys a second; more at a time is no reader. */
	for (int i = 0; i < 1024; i++) {
		n = read(reader->fd, &event, sizeof(event));
		if (n < 0)
			return errno == EAGAIN || errno == EINTR ? 0 : -errno;
		if (n != (ssize_t)sizeof(event))
			return -ENODEV;
		if (code_keys_feed(&reader->keys, event.type, event.code, event.value,
		                   event.input_event_sec * INT64_C(1000000) +
		                           event.input_event_usec,
		                   ret) > 0)
			return 1;
	}
	return 0;
}
