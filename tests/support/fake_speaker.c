/* SPDX-License-Identifier: MIT */
#include "fake_speaker.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

/* The path is its folder alone, before the usual. */
static char folder[] = "/tmp/ambo-speech-XXXXXX";
static char log_path[64], text[2000];

static void nap_ms(long ms)
{
	nanosleep(&(struct timespec){.tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000}, NULL);
}

static int read_log(void)
{
	FILE *file = fopen(log_path, "r");
	size_t n = file ? fread(text, 1, sizeof text - 1, file) : 0;
	int lines = 0;

	if (file)
		fclose(file);
	text[n] = '\0';
	for (const char *c = text; *c; c++)
		lines += *c == '\n';
	return lines;
}

const char *fake_speaker_log(int lines)
{
	for (int i = 0; i < 500 && read_log() < lines; i++)
		nap_ms(10);
	return text;
}

int fake_speaker_calls(long ms)
{
	nap_ms(ms);
	return read_log();
}

const char *fake_speaker_log_path(void)
{
	return log_path;
}

int fake_speaker_set_up(void **state)
{
	char path[64];
	FILE *file;

	(void)state;
	if (!mkdtemp(folder))
		return -1;
	snprintf(log_path, sizeof log_path, "%s/log", folder);
	snprintf(path, sizeof path, "%s/espeak-ng", folder);
	file = fopen(path, "w");
	if (!file)
		return -1;
	fprintf(file,
	        "#!/bin/sh\n"
	        "echo \"$#|$1|$2|$3\" >> %s/log\n"
	        "case \"$3\" in *short*) exit 0;; esac\n"
	        "exec sleep 30\n",
	        folder);
	fclose(file);
	return chmod(path, 0755);
}

int fake_speaker_tear_down(void **state)
{
	char path[64];

	(void)state;
	unlink(log_path);
	snprintf(path, sizeof path, "%s/espeak-ng", folder);
	unlink(path);
	return rmdir(folder);
}

void fake_speaker_first_in_path(void)
{
	char path[300];

	unlink(log_path);
	snprintf(path, sizeof path, "%s:/usr/bin:/bin", folder);
	setenv("PATH", path, 1);
}
