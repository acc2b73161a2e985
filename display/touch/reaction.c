/* SPDX-License-Identifier: MIT */
#include "reaction.h"

#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The learner: a mean that starts at the usual reaction as if from two stops, and keeps
 * a tenth of each new one so that it follows a person who gets tired. */
#define USUAL_STOPS 2.0
#define LEAST_GAIN  0.1
#define MOST_STEP_S 0.15 /* one late stop is not a slow person */

/* What can be a reaction at all, after the rest of the lead is taken off. */
#define EARLIEST_S      0.02
#define LATEST_S        1.0
#define SLOWEST_G_PER_S 1.0
#define MOST_DOUBT_S    0.1
#define KNOCK_G_PER_S   (-2.0)
#define FASTEST_G_PER_S 50.0
#define REST_WITHIN_US  10000000
#define STORED_MOST_S   2.0

static void key_part(const char *text, char ret[REACTION_KEY_MAX])
{
	size_t n = 0;

	for (; text && *text && n + 1 < REACTION_KEY_MAX; text++)
		ret[n++] = (char)((unsigned char)*text < ' ' ? ' ' : *text);
	/* Not half a character of UTF-8. */
	if (text && ((unsigned char)*text & 0xc0u) == 0x80u) {
		while (n > 0 && ((unsigned char)ret[n - 1] & 0xc0u) == 0x80u)
			n--;
		n -= n > 0;
	}
	memset(ret + n, 0, REACTION_KEY_MAX - n);
}

void reaction_key(const char *person, const char *component, const char *container,
                  struct reaction_key *ret)
{
	key_part(person, ret->person);
	key_part(component, ret->component);
	key_part(container, ret->container);
}

void reaction_init(struct reactions *ret)
{
	memset(ret, 0, sizeof *ret);
}

static const struct reaction_row *find(const struct reactions *reactions,
                                       const struct reaction_key *key)
{
	for (uint32_t i = 0; i < reactions->n; i++)
		if (memcmp(&reactions->row[i].key, key, sizeof *key) == 0)
			return &reactions->row[i];
	return NULL;
}

static struct reaction_row *find_or_add(struct reactions *reactions, const struct reaction_key *key)
{
	struct reaction_row *row = (struct reaction_row *)find(reactions, key);

	if (row)
		return row;
	if (reactions->n < REACTION_ROWS) {
		row = &reactions->row[reactions->n++];
	} else {
		row = &reactions->row[0];
		for (uint32_t i = 1; i < REACTION_ROWS; i++)
			if (reactions->row[i].used < row->used)
				row = &reactions->row[i];
	}
	*row = (struct reaction_row){.key = *key, .reaction_s = CUES_REACTION_S};
	return row;
}

double reaction_of(const struct reactions *reactions, const struct reaction_key *key)
{
	const struct reaction_row *row = find(reactions, key);

	return row ? fmin(fmax(row->reaction_s, REACTION_LEAST_S), REACTION_MOST_S)
	           : CUES_REACTION_S;
}

/* NAN where it tells nothing. */
static double stop_reaction_s(const struct reaction_stop *stop)
{
	double reaction_s;

	if (stop->knocked || stop->held || !(stop->rate_g_per_s >= SLOWEST_G_PER_S) ||
	    stop->rate_g_per_s > FASTEST_G_PER_S ||
	    stop->doubt_g > MOST_DOUBT_S * stop->rate_g_per_s)
		return (double)NAN;
	reaction_s = (stop->poured_g - CUES_DRIP_G) / stop->rate_g_per_s - CUES_HALF_TIP_BACK_S -
	             stop->output_delay_s;
	return reaction_s >= EARLIEST_S && reaction_s <= LATEST_S ? reaction_s : (double)NAN;
}

int reaction_learn(struct reactions *reactions, const struct reaction_key *key,
                   const struct reaction_stop *stop)
{
	double reaction_s = stop_reaction_s(stop), step_s;
	struct reaction_row *row;

	if (isnan(reaction_s))
		return 0;
	row = find_or_add(reactions, key);
	row->used = ++reactions->used;
	row->stops += row->stops < UINT32_MAX;
	step_s = fmin(fmax(reaction_s - row->reaction_s, -MOST_STEP_S), MOST_STEP_S);
	row->reaction_s += step_s * fmax(1.0 / (row->stops + USUAL_STOPS), LEAST_GAIN);
	return 1;
}

void reaction_forget(struct reactions *reactions, const char *person)
{
	struct reaction_key key;
	uint32_t kept = 0;

	reaction_key(person, NULL, NULL, &key);
	for (uint32_t i = 0; i < reactions->n; i++)
		if (person && strcmp(reactions->row[i].key.person, key.person) != 0)
			reactions->row[kept++] = reactions->row[i];
	reactions->n = kept;
}

/* The row whose turn is next: the least used after `after`. */
static const struct reaction_row *next_used(const struct reactions *reactions, uint64_t after)
{
	const struct reaction_row *next = NULL;

	for (uint32_t i = 0; i < reactions->n; i++)
		if (reactions->row[i].used > after &&
		    (!next || reactions->row[i].used < next->used))
			next = &reactions->row[i];
	return next;
}

/* Whole numbers only: no language's decimal mark can spoil the file. */
size_t reaction_write(const struct reactions *reactions, char *buffer, size_t size)
{
	const struct reaction_row *row;
	size_t length = 0;

	if (size > 0)
		buffer[0] = '\0';
	for (uint64_t used = 0; (row = next_used(reactions, used)) != NULL; used = row->used) {
		size_t at = length < size ? length : size;
		int n = snprintf(size ? buffer + at : NULL, size - at,
		                 "%s\t%s\t%s\t%lld us\t%" PRIu32 " stops\n", row->key.person,
		                 row->key.component, row->key.container,
		                 llround(row->reaction_s * 1e6), row->stops);

		length += n > 0 ? (size_t)n : 0;
	}
	return length;
}

/* Up to a tab, at most what a key can hold. Returns behind the tab, NULL when not so. */
static const char *read_key(const char *at, const char *end, char ret[REACTION_KEY_MAX])
{
	const char *tab = memchr(at, '\t', (size_t)(end - at));
	char part[REACTION_KEY_MAX];

	if (!tab || tab - at >= (ptrdiff_t)REACTION_KEY_MAX)
		return NULL;
	memcpy(part, at, (size_t)(tab - at));
	part[tab - at] = '\0';
	key_part(part, ret);
	return tab + 1;
}

static int read_row(const char *at, const char *end, struct reactions *reactions)
{
	char numbers[64], person[REACTION_KEY_MAX], component[REACTION_KEY_MAX],
	        container[REACTION_KEY_MAX];
	struct reaction_key key;
	struct reaction_row *row;
	long long us;
	uint32_t stops;
	int used = 0;

	at = read_key(at, end, person);
	at = at ? read_key(at, end, component) : NULL;
	at = at ? read_key(at, end, container) : NULL;
	if (!at || end - at >= (ptrdiff_t)sizeof numbers)
		return -EINVAL;
	memcpy(numbers, at, (size_t)(end - at));
	numbers[end - at] = '\0';
	if (sscanf(numbers, "%9lld us\t%9" SCNu32 " stops%n", &us, &stops, &used) != 2 ||
	    numbers[used] != '\0' || used == 0 || us < 0 || us > (long long)(STORED_MOST_S * 1e6))
		return -EINVAL;
	reaction_key(person, component, container, &key);
	row = find_or_add(reactions, &key);
	row->reaction_s = (double)us * 1e-6;
	row->stops = stops;
	row->used = ++reactions->used;
	return 0;
}

int reaction_read(const char *text, struct reactions *ret, int *ret_line)
{
	int line = 0, result = 0;

	reaction_init(ret);
	while (*text) {
		const char *end = text + strcspn(text, "\n");

		line++;
		if (end != text && *text != '#' && read_row(text, end, ret) < 0 && result == 0) {
			result = -EINVAL;
			*ret_line = line;
		}
		text = *end ? end + 1 : end;
	}
	return result;
}

void reaction_watch_init(struct reaction_watch *ret)
{
	*ret = (struct reaction_watch){.before = SOUND_NONE};
}

static bool pouring(enum sound sound)
{
	return sound == SOUND_PULSE || sound == SOUND_NEAR;
}

static void begin(struct reaction_watch *watch, const struct cues_in *in,
                  const struct cues_out *out, double gross_g)
{
	watch->cue_us = out->since_us;
	watch->rate_g_per_s = in->rate_g_per_s;
	/* The cue came between two readings. */
	watch->cue_g = gross_g + in->rate_g_per_s * (double)(out->since_us - in->reading_us) * 1e-6;
	watch->output_delay_s = isfinite(in->output_delay_s) ? in->output_delay_s : 0.0;
	watch->knocked = watch->held = false;
	watch->stopping = isfinite(watch->cue_g);
}

int reaction_watch_next(struct reaction_watch *watch, const struct cues_in *in,
                        const struct cues_out *out, double gross_g, struct reaction_stop *ret)
{
	enum sound before = watch->before;
	bool settled = in->state && strcmp(in->state, "settled") == 0;

	watch->before = out->sound;
	if (out->sound == SOUND_TIP_BACK && pouring(before)) {
		begin(watch, in, out, gross_g);
		return 0;
	}
	if (!watch->stopping)
		return 0;
	watch->knocked |= in->rate_g_per_s < KNOCK_G_PER_S || in->rate_g_per_s > FASTEST_G_PER_S;
	watch->held |= out->sound == SOUND_HELD || out->sound == SOUND_SILENT ||
	               out->sound == SOUND_HAZARD || !in->link_up;
	if (in->t_us - watch->cue_us > REST_WITHIN_US)
		watch->stopping = false;
	if (!watch->stopping || !(settled || watch->held))
		return 0;
	watch->stopping = false;
	*ret = (struct reaction_stop){
	        .rate_g_per_s = watch->rate_g_per_s,
	        .poured_g = gross_g - watch->cue_g,
	        .output_delay_s = watch->output_delay_s,
	        .knocked = watch->knocked,
	        .held = watch->held,
	};
	return 1;
}
