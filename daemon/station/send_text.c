/* SPDX-License-Identifier: MIT */
#include "send_text.h"

#include <errno.h>
#include <limits.h>
#include <stdbool.h>
#include <stdlib.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

struct sending {
	sd_event_source *io, *timer;
	int fd;
	const char *text;
	size_t length, sent;
	void (*done)(void *context, int result);
	void *context;
};

static void finish(struct sending *sending, int result)
{
	sd_event_source_unref(sending->io);
	sd_event_source_unref(sending->timer);
	sending->done(sending->context, result);
	free(sending);
}

/* POLLOUT promises room for PIPE_BUF bytes in a pipe (pipe(7)), so that much never
 * blocks; the descriptor's own flags are shared with the client and not ours. */
static int on_room(sd_event_source *source, int fd, uint32_t revents, void *context)
{
	struct sending *sending = context;
	size_t share = sending->length - sending->sent;
	ssize_t n;

	(void)source;
	if (share > PIPE_BUF)
		share = PIPE_BUF;
	if (!(revents & EPOLLOUT)) {
		finish(sending, -EPIPE);
		return 0;
	}
	n = send(fd, sending->text + sending->sent, share, MSG_DONTWAIT | MSG_NOSIGNAL);
	if (n < 0 && errno == ENOTSOCK)
		n = write(fd, sending->text + sending->sent, share);
	if (n < 0 && errno != EAGAIN && errno != EINTR) {
		finish(sending, -errno);
		return 0;
	}
	sending->sent += n > 0 ? (size_t)n : 0;
	if (sending->sent == sending->length)
		finish(sending, 0);
	return 0;
}

static int on_late(sd_event_source *source, uint64_t due_us, void *context)
{
	(void)source;
	(void)due_us;
	finish(context, -ETIMEDOUT);
	return 0;
}

static int write_file(int fd, const char *text, size_t length)
{
	for (size_t sent = 0; sent < length;) {
		ssize_t n = write(fd, text + sent, length - sent);

		if (n < 0 && errno != EINTR)
			return -errno;
		sent += n > 0 ? (size_t)n : 0;
	}
	return 0;
}

void send_text(sd_event *event, int fd, const char *text, size_t length,
               void (*done)(void *context, int result), void *context)
{
	struct sending *sending;
	struct stat status;
	uint64_t now_us;
	int r;

	if (fstat(fd, &status) < 0 || S_ISREG(status.st_mode) || length == 0) {
		done(context, write_file(fd, text, length));
		return;
	}
	sending = calloc(1, sizeof(*sending));
	if (sending == NULL) {
		done(context, -ENOMEM);
		return;
	}
	*sending = (struct sending){
	        .fd = fd, .text = text, .length = length, .done = done, .context = context};
	sd_event_now(event, CLOCK_MONOTONIC, &now_us);
	r = sd_event_add_io(event, &sending->io, fd, EPOLLOUT, on_room, sending);
	if (r >= 0)
		r = sd_event_add_time(event, &sending->timer, CLOCK_MONOTONIC,
		                      now_us + SEND_TEXT_US, 1, on_late, sending);
	if (r < 0) {
		/* /dev/null and the like cannot be waited for: they never make one wait. */
		finish(sending, r == -EPERM ? write_file(fd, text, length) : r);
		return;
	}
	sd_event_source_set_exit_on_failure(sending->io, true);
	sd_event_source_set_exit_on_failure(sending->timer, true);
}
