/* SPDX-License-Identifier: MIT */
#include "terminal.h"

#include <ctype.h>
#include <errno.h>
#include <langinfo.h>
#include <locale.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

static struct termios before;
static bool raw;

bool terminal_out(void)
{
	return isatty(STDOUT_FILENO) == 1;
}

bool terminal_in(void)
{
	return isatty(STDIN_FILENO) == 1;
}

bool terminal_utf8(void)
{
	/* Characters only: LC_NUMERIC stays "C", so no output ever gets a comma. */
	setlocale(LC_CTYPE, "");
	return strcmp(nl_langinfo(CODESET), "UTF-8") == 0;
}

int terminal_columns(void)
{
	struct winsize size;

	if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) < 0 || size.ws_col == 0)
		return 80;
	return size.ws_col < 40 ? 40 : size.ws_col > 200 ? 200 : size.ws_col;
}

void terminal_restore(void)
{
	if (raw)
		tcsetattr(STDIN_FILENO, TCSANOW, &before);
	raw = false;
}

int terminal_raw(void)
{
	struct termios now;

	if (raw)
		return 0;
	if (tcgetattr(STDIN_FILENO, &before) < 0)
		return -errno;
	now = before;
	now.c_lflag &= ~(tcflag_t)(ICANON | ECHO);
	now.c_cc[VMIN] = 0;
	now.c_cc[VTIME] = 0;
	if (tcsetattr(STDIN_FILENO, TCSANOW, &now) < 0)
		return -errno;
	raw = true;
	atexit(terminal_restore);
	return 0;
}

static bool waiting(void)
{
	struct pollfd fd = {.fd = STDIN_FILENO, .events = POLLIN};

	return poll(&fd, 1, 0) > 0 && (fd.revents & (POLLIN | POLLHUP | POLLERR));
}

int terminal_key(void)
{
	unsigned char c;

	for (int i = 0; i < 64 && waiting(); i++) {
		if (read(STDIN_FILENO, &c, 1) != 1)
			return -1;
		if (c != 27)
			return c == '\r' ? '\n' : tolower(c);
		/* ESC [ ... letter: an arrow or a function key, none of ours. */
		while (waiting() && read(STDIN_FILENO, &c, 1) == 1 && !isalpha(c) && c != '~')
			;
	}
	return 0;
}
