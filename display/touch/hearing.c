/* SPDX-License-Identifier: MIT */
#include "hearing.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "audio.h"
#include "reaction.h"
#include "say.h"
#include "speech.h"

#define TEST_AGAIN_US 3000000 /* the test tone */
#define LEARNT_MAX    16384u  /* bytes of REACTION_ROWS rows, and some */

struct hearing {
	struct audio *audio;
	struct speech *speech; /* NULL: off */
	char voice[16];        /* whose */
	char said[SAY_MAX];    /* the newest sentence that was said, or need not be */
	struct cues cues;
	struct cues_out test; /* SOUND_NONE: not tested */
	struct reactions reactions;
	struct reaction_watch watch;
	double seen_t_us; /* the newest reading the watch has had */
	char path[512];   /* "" not kept */
	char note[HEARING_SENTENCE_MAX]; /* not told yet */
};

static void read_learnt(struct hearing *hearing, char *ret_sentence)
{
	char text[LEARNT_MAX];
	FILE *file = fopen(hearing->path, "r");
	size_t n;
	int line;

	if (!file)
		return;
	n = fread(text, 1, sizeof text - 1, file);
	text[n] = '\0';
	fclose(file);
	if (reaction_read(text, &hearing->reactions, &line) < 0)
		snprintf(ret_sentence, HEARING_SENTENCE_MAX,
		         "%.200s:%d: is no learnt stop; left out, it is learnt anew", hearing->path,
		         line);
}

static int write_learnt(const struct hearing *hearing)
{
	char text[LEARNT_MAX];

	if (!*hearing->path)
		return 0;
	reaction_write(&hearing->reactions, text, sizeof text);
	return settings_keep(hearing->path, text);
}

int hearing_new(const char *settings_path, struct hearing **ret, char ret_sentence[HEARING_SENTENCE_MAX])
{
	struct hearing *hearing = calloc(1, sizeof *hearing);

	if (!hearing)
		return -ENOMEM;
	*ret_sentence = '\0';
	cues_init(&hearing->cues);
	reaction_init(&hearing->reactions);
	reaction_watch_init(&hearing->watch);
	hearing->seen_t_us = NAN;
	if (settings_path && snprintf(hearing->path, sizeof hearing->path, "%s" HEARING_LEARNT,
	                              settings_path) < (int)sizeof hearing->path)
		read_learnt(hearing, ret_sentence);
	else
		hearing->path[0] = '\0';
	audio_new(&hearing->audio, ret_sentence);
	*ret = hearing;
	return 0;
}

void hearing_free(struct hearing *hearing)
{
	if (!hearing)
		return;
	speech_free(hearing->speech);
	audio_free(hearing->audio);
	free(hearing);
}

bool hearing_there(const struct hearing *hearing)
{
	return audio_there(hearing->audio);
}

static struct reaction_key key_of(const struct model *model, int person)
{
	struct reaction_key key;
	char name[16];

	snprintf(name, sizeof name, "%d", person);
	/* What is poured from is not known; a system comes in bottles of its own. */
	reaction_key(name, model->batch.component, model->batch.system, &key);
	return key;
}

static struct cues_in input(const struct hearing *hearing, const struct model *model,
                            const struct settings *settings, const struct reaction_key *key,
                            int64_t came_us, int64_t t_us)
{
	double stamp_us = model->reading.t_us;

	return (struct cues_in){
	        .t_us = t_us,
	        .reading_us = isfinite(stamp_us) ? cues_reading_us((int64_t)stamp_us, came_us)
	                                         : came_us,
	        .link_up = model->link == LINK_UP,
	        .cue = model_cue(model),
	        .step = model->batch.step,
	        .component = model->batch.component,
	        .state = model->reading.state,
	        .target_g = model->batch.target_g,
	        .remaining_g = model_remaining_g(model),
	        .rate_g_per_s = model->reading.rate_g_per_s,
	        .reaction_s = reaction_of(&hearing->reactions, key),
	        .output_delay_s = audio_delay_s(hearing->audio),
	        .level = settings->sound_level,
	        .quiet = settings->quiet,
	};
}

static void learn(struct hearing *hearing, const struct model *model, const struct cues_in *in,
                  const struct reaction_key *key)
{
	const struct model_reading *reading = &model->reading;
	struct reaction_stop stop;

	if (!in->link_up)
		reaction_watch_init(&hearing->watch);
	/* A cue that is only ticked on has seen nothing new. */
	if (!in->link_up || !isfinite(reading->t_us) || reading->t_us == hearing->seen_t_us)
		return;
	hearing->seen_t_us = reading->t_us;
	if (reaction_watch_next(&hearing->watch, in, &hearing->cues.out, reading->gross_g, &stop) == 0)
		return;
	stop.doubt_g = reading->doubt_g;
	if (reaction_learn(&hearing->reactions, key, &stop) > 0)
		write_learnt(hearing);
}

/* Each sentence once, when it may be. */
static void speak(struct hearing *hearing, const struct model *model)
{
	char sentence[SAY_MAX];

	speech_follow(hearing->speech, &hearing->cues.out);
	if (!hearing->speech || model->link != LINK_UP)
		return;
	say_sentence(model, sentence, sizeof sentence);
	if (strcmp(sentence, hearing->said) == 0)
		return;
	if (*sentence && speech_say(hearing->speech, sentence, &hearing->cues.out) == -EBUSY)
		return; /* later, unless another one has come by then */
	memcpy(hearing->said, sentence, sizeof sentence);
}

static void test_tone(struct hearing *hearing, const struct ui *ui, int64_t t_us)
{
	bool wanted = ui_tests_sound(ui) && hearing->cues.out.sound == SOUND_NONE;

	if (!wanted)
		hearing->test.sound = SOUND_NONE;
	else if (hearing->test.sound == SOUND_NONE || t_us - hearing->test.since_us > TEST_AGAIN_US)
		cues_test(t_us, ui->settings.sound_level, &hearing->test);
	if (wanted)
		hearing->test.level = ui->settings.quiet ? 0.0 : ui->settings.sound_level;
}

const struct cues_out *hearing_follow(struct hearing *hearing, const struct model *model,
                                    const struct ui *ui, int64_t came_us, int64_t t_us)
{
	struct reaction_key key = key_of(model, ui->settings.person);
	struct cues_in in = input(hearing, model, &ui->settings, &key, came_us, t_us);
	const struct cues before = hearing->cues;

	cues_next(&before, &in, &hearing->cues);
	learn(hearing, model, &in, &key);
	speak(hearing, model);
	test_tone(hearing, ui, t_us);
	audio_rest(hearing->audio, !ui_batch_open(model) && !hearing_busy(hearing), hearing->note);
	audio_play(hearing->audio,
	           hearing->test.sound == SOUND_NONE ? &hearing->cues.out : &hearing->test);
	return &hearing->cues.out;
}

bool hearing_note(struct hearing *hearing, char ret_sentence[HEARING_SENTENCE_MAX])
{
	if (!*hearing->note)
		return false;
	memcpy(ret_sentence, hearing->note, sizeof hearing->note);
	hearing->note[0] = '\0';
	return true;
}

bool hearing_busy(const struct hearing *hearing)
{
	return hearing->cues.out.sound != SOUND_NONE || hearing->test.sound != SOUND_NONE;
}

int hearing_speech(struct hearing *hearing, const struct settings *settings,
                 char ret_sentence[HEARING_SENTENCE_MAX])
{
	if (hearing->speech && settings->speech && strcmp(hearing->voice, settings->language) == 0)
		return 0;
	speech_free(hearing->speech);
	hearing->speech = NULL;
	hearing->said[0] = '\0';
	snprintf(hearing->voice, sizeof hearing->voice, "%s", settings->language);
	return settings->speech ? speech_new(hearing->voice, &hearing->speech, ret_sentence) : 0;
}

int hearing_forget(struct hearing *hearing, int person)
{
	char name[16];

	snprintf(name, sizeof name, "%d", person);
	reaction_forget(&hearing->reactions, name);
	return write_learnt(hearing);
}
