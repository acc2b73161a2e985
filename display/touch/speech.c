/* SPDX-License-Identifier: MIT */
#include "speech.h"

#include <errno.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#define PROGRAM  "espeak-ng"
#define TEXT_MAX 700

extern char **environ;

struct speech {
	char voice[16];
	pid_t saying; /* 0: nothing */
};

static bool installed(void)
{
	const char *path = getenv("PATH");

	while (path && *path) {
		size_t n = strcspn(path, ":");
		char file[512];

		if (n > 0 &&
		    snprintf(file, sizeof file, "%.*s/" PROGRAM, (int)n, path) < (int)sizeof file &&
		    access(file, X_OK) == 0)
			return true;
		path += n + (path[n] == ':');
	}
	return false;
}

/* "pt_BR" is "pt-br" there. */
static void name_voice(const char *language, char *ret, size_t size)
{
	size_t n = 0;

	for (; *language && n + 1 < size; language++, n++)
		ret[n] = (char)(*language == '_'                       ? '-'
		                : *language >= 'A' && *language <= 'Z' ? *language - 'A' + 'a'
		                                                       : *language);
	ret[n] = '\0';
}

int speech_new(const char *language, struct speech **ret, char ret_sentence[SPEECH_SENTENCE_MAX])
{
	struct speech *speech;

	if (!installed()) {
		snprintf(ret_sentence, SPEECH_SENTENCE_MAX,
		         "speech: " PROGRAM " is not installed; install it to have sentences "
		         "spoken; going on without");
		return -ENOENT;
	}
	speech = calloc(1, sizeof *speech);
	if (!speech) {
		snprintf(ret_sentence, SPEECH_SENTENCE_MAX,
		         "speech: out of memory; going on without");
		return -ENOMEM;
	}
	name_voice(language, speech->voice, sizeof speech->voice);
	*ret = speech;
	return 0;
}

bool speech_may(const struct cues_out *out)
{
	switch (out->sound) {
	case SOUND_NONE:
	case SOUND_PULSE:
	case SOUND_IN_BAND:
	case SOUND_TOO_MUCH:
	case SOUND_HELD:
		return out->level > 0.0;
	case SOUND_NEAR:
	case SOUND_TIP_BACK:
	case SOUND_WAIT:
	case SOUND_SILENT:
	case SOUND_HAZARD:
	case SOUND_TEST:
	case SOUND_COUNT:
		break;
	}
	return false;
}

static void hush(struct speech *speech)
{
	if (speech->saying <= 0)
		return;
	kill(speech->saying, SIGKILL);
	while (waitpid(speech->saying, NULL, 0) < 0 && errno == EINTR)
		;
	speech->saying = 0;
}

void speech_free(struct speech *speech)
{
	if (!speech)
		return;
	hush(speech);
	free(speech);
}

int speech_say(struct speech *speech, const char *text, const struct cues_out *out)
{
	/* A leading space: no sentence can be taken for an option. */
	char sentence[TEXT_MAX];
	char *arguments[] = {(char[]){PROGRAM}, (char[]){"-v"}, speech->voice, sentence, NULL};
	int r;

	if (!speech_may(out))
		return -EBUSY;
	hush(speech);
	snprintf(sentence, sizeof sentence, " %s", text);
	r = posix_spawnp(&speech->saying, PROGRAM, NULL, NULL, arguments, environ);
	if (r != 0) {
		speech->saying = 0;
		return -r;
	}
	return 0;
}

bool speech_follow(struct speech *speech, const struct cues_out *out)
{
	if (!speech || speech->saying <= 0)
		return false;
	if (!speech_may(out)) {
		hush(speech);
	} else {
		pid_t r = waitpid(speech->saying, NULL, WNOHANG);

		if (r == speech->saying || (r < 0 && errno == ECHILD))
			speech->saying = 0;
	}
	return speech->saying > 0;
}
