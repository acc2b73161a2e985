/* SPDX-License-Identifier: MIT */
#include "audio.h"

#include <SDL.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>

#include "synth.h"

#define RATE_HZ 48000
#define BUFFER  512 /* samples: 11 ms */

struct audio {
	SDL_AudioDeviceID device; /* 0: none */
	bool up, rests;
	double delay_s;
	struct synth synth; /* the audio thread's, but under the device's lock */
};

static void on_audio(void *context, Uint8 *bytes, int length)
{
	struct audio *audio = context;

	synth_render(&audio->synth, (float *)(void *)bytes, (size_t)length / sizeof(float));
}

static int refuse(char *ret_sentence)
{
	snprintf(ret_sentence, AUDIO_SENTENCE_MAX,
	         "sound: no device (%.120s); plug a loudspeaker in, or name its driver in "
	         "SDL_AUDIODRIVER; going on without, screen and lamp say the same",
	         SDL_GetError());
	return -ENODEV;
}

static int open_device(struct audio *audio, char *ret_sentence)
{
	const SDL_AudioSpec wish = {.freq = RATE_HZ,
	                            .format = AUDIO_F32SYS,
	                            .channels = 1,
	                            .samples = BUFFER,
	                            .callback = on_audio,
	                            .userdata = audio};
	SDL_AudioSpec got;

	audio->device = SDL_OpenAudioDevice(NULL, 0, &wish, &got, 0);
	if (audio->device == 0)
		return refuse(ret_sentence);
	/* One buffer waits while another sounds. */
	audio->delay_s = 2.0 * (double)got.samples / got.freq;
	SDL_PauseAudioDevice(audio->device, 0);
	return 0;
}

int audio_new(struct audio **ret, char ret_sentence[AUDIO_SENTENCE_MAX])
{
	struct audio *audio = calloc(1, sizeof *audio);

	*ret = audio;
	if (!audio) {
		snprintf(ret_sentence, AUDIO_SENTENCE_MAX,
		         "sound: out of memory; going on without");
		return -ENOMEM;
	}
	synth_init(&audio->synth, RATE_HZ);
	if (SDL_InitSubSystem(SDL_INIT_AUDIO) < 0)
		return refuse(ret_sentence);
	audio->up = true;
	return open_device(audio, ret_sentence);
}

int audio_rest(struct audio *audio, bool rests, char ret_sentence[AUDIO_SENTENCE_MAX])
{
	if (!audio || !audio->up || rests == audio->rests)
		return 0;
	audio->rests = rests;
	if (!rests) {
		synth_init(&audio->synth, RATE_HZ);
		return open_device(audio, ret_sentence);
	}
	if (audio->device != 0)
		SDL_CloseAudioDevice(audio->device);
	audio->device = 0;
	return 0;
}

void audio_free(struct audio *audio)
{
	if (!audio)
		return;
	if (audio->device != 0)
		SDL_CloseAudioDevice(audio->device);
	if (audio->up)
		SDL_QuitSubSystem(SDL_INIT_AUDIO);
	free(audio);
}

void audio_play(struct audio *audio, const struct cues_out *out)
{
	if (!audio || audio->device == 0)
		return;
	SDL_LockAudioDevice(audio->device);
	synth_set(&audio->synth, out);
	SDL_UnlockAudioDevice(audio->device);
}

bool audio_there(const struct audio *audio)
{
	return audio && (audio->device != 0 || (audio->up && audio->rests));
}

double audio_delay_s(const struct audio *audio)
{
	return audio_there(audio) ? audio->delay_s : 0.0;
}
