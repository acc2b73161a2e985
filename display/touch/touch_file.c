/* SPDX-License-Identifier: MIT */
#include "touch_file.h"

#include <SDL.h>
#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct touch_file {
	int fd;
	bool ended;
	int64_t until_us; /* a wait */
	size_t n;
	char buffer[1024]; /* from the start of a line */
};

int touch_file_open(const char *path, struct touch_file **ret)
{
	struct touch_file *file = calloc(1, sizeof *file);

	if (!file)
		return -ENOMEM;
	/* Both ways: a pipe does not end when one writer leaves. */
	file->fd = open(path, O_RDWR | O_NONBLOCK | O_CLOEXEC);
	if (file->fd < 0)
		file->fd = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
	if (file->fd < 0) {
		free(file);
		return -errno;
	}
	*ret = file;
	return 0;
}

void touch_file_close(struct touch_file *file)
{
	if (!file)
		return;
	close(file->fd);
	free(file);
}

static void push_finger(bool down, float x, float y, long long finger)
{
	SDL_Event event = {.type = down ? SDL_FINGERDOWN : SDL_FINGERUP};

	event.tfinger.touchId = 1;
	event.tfinger.fingerId = finger;
	event.tfinger.x = x;
	event.tfinger.y = y;
	event.tfinger.pressure = 1.0f;
	SDL_PushEvent(&event);
}

static void push_key(bool down, SDL_Keycode code)
{
	SDL_Event event = {.type = down ? SDL_KEYDOWN : SDL_KEYUP};

	event.key.state = down ? SDL_PRESSED : SDL_RELEASED;
	event.key.keysym.sym = code;
	SDL_PushEvent(&event);
}

static void run_line(struct touch_file *file, const char *line, int64_t now_us)
{
	SDL_Keycode code;
	long long finger = 1;
	double ms;
	char verb[8], name[16];
	float x, y;

	if (sscanf(line, "wait %lf", &ms) == 1) {
		file->until_us = now_us + (int64_t)(ms * 1e3);
		return;
	}
	if (sscanf(line, "mark %15[^\n]", name) == 1) {
		printf("reached %s\n", name);
		fflush(stdout);
		return;
	}
	if (sscanf(line, "%7s %f %f %lld", verb, &x, &y, &finger) >= 3 &&
	    (strcmp(verb, "down") == 0 || strcmp(verb, "up") == 0)) {
		push_finger(strcmp(verb, "down") == 0, x, y, finger);
		return;
	}
	if (sscanf(line, "%7s %15[^\n]", verb, name) == 2 &&
	    (strcmp(verb, "press") == 0 || strcmp(verb, "release") == 0) &&
	    (code = SDL_GetKeyFromName(name)) != SDLK_UNKNOWN) {
		push_key(strcmp(verb, "press") == 0, code);
		return;
	}
	if (line[strspn(line, " \t")] != '\0' && line[0] != '#')
		fprintf(stderr,
		        "ambo-display: touches: \"%.60s\" is no event; expected "
		        "down X Y, up X Y, press KEY, release KEY, wait MS or mark WORD\n",
		        line);
}

/* Of a file that has ended poll() would say for ever that it can be read. */
int touch_file_fd(const struct touch_file *file)
{
	return file->ended || file->n == sizeof file->buffer - 1 ? -1 : file->fd;
}

int64_t touch_file_until_us(const struct touch_file *file)
{
	return strchr(file->buffer, '\n') ? file->until_us : INT64_MAX;
}

void touch_file_run(struct touch_file *file, int64_t now_us)
{
	ssize_t got = read(file->fd, file->buffer + file->n, sizeof file->buffer - 1 - file->n);
	char *end;

	if (got > 0)
		file->n += (size_t)got;
	file->ended = got == 0 && file->n < sizeof file->buffer - 1;
	file->buffer[file->n] = '\0';
	while (now_us >= file->until_us && (end = strchr(file->buffer, '\n')) != NULL) {
		*end = '\0';
		run_line(file, file->buffer, now_us);
		file->n -= (size_t)(end + 1 - file->buffer);
		memmove(file->buffer, end + 1, file->n + 1);
	}
	if (file->n == sizeof file->buffer - 1 && !strchr(file->buffer, '\n'))
		file->n = 0; /* a line that never ends */
}
