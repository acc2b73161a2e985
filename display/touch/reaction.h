/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_REACTION_H
#define AMBO_TOUCH_REACTION_H

#include <stddef.h>

#include "cues.h"

/* Reaction times learnt from a person's own stops, per person, component and container
 * (what is poured from; the system's name serves where nothing better is known). What is
 * learnt is all of a stop that is not flow: reaction, how fast it is tipped back, drips.
 * Pure values without pointers. */

#define REACTION_LEAST_S 0.15
#define REACTION_MOST_S  0.60
#define REACTION_KEY_MAX 32u
#define REACTION_ROWS    64u

struct reaction_key {
	char person[REACTION_KEY_MAX], component[REACTION_KEY_MAX], container[REACTION_KEY_MAX];
};
/* Cuts what is too long and takes out what would break a line of the file. NULL: "". */
void reaction_key(const char *person, const char *component, const char *container,
                  struct reaction_key *ret);

struct reaction_row {
	struct reaction_key key;
	double reaction_s; /* not bounded: reaction_of() bounds it */
	uint32_t stops;
	uint64_t used; /* order of use: the longest unused makes room */
};
struct reactions {
	uint32_t n;
	uint64_t used;
	struct reaction_row row[REACTION_ROWS];
};

void reaction_init(struct reactions *ret);

/* What to lead by; CUES_REACTION_S until something has been learnt. */
double reaction_of(const struct reactions *reactions, const struct reaction_key *key);

/* One stop, from the cue to rest. */
struct reaction_stop {
	double rate_g_per_s;   /* at the cue */
	double poured_g;       /* from the cue to rest */
	double doubt_g;        /* of that; NAN or below 0 counts as 0 */
	double output_delay_s; /* from the cue to the ear */
	bool knocked, held;
};
/* Returns 1 when the stop was learnt from; 0 when it was left out (a knock, a hold, too
 * slow a flow to tell, no reaction at all: earlier than the cue or over a second late). */
int reaction_learn(struct reactions *reactions, const struct reaction_key *key,
                   const struct reaction_stop *stop);

/* The one press: forgets all of this person (NULL: everyone). */
void reaction_forget(struct reactions *reactions, const char *person);

/* As text, a line a row, and back. Returns the length as snprintf does. reaction_read:
 * 0, or -EINVAL with *ret_line the first line that was left out; the rest is taken. */
size_t reaction_write(const struct reactions *reactions, char *buffer, size_t size);
int reaction_read(const char *text, struct reactions *ret, int *ret_line);

/* Watches a charge for its stop: call it with every reading after cues_next(). gross_g of
 * that reading. Returns 1 with *ret when a stop is over. */
struct reaction_watch {
	bool stopping, knocked, held;
	enum sound before;
	int64_t cue_us;
	double cue_g, rate_g_per_s, output_delay_s;
};
void reaction_watch_init(struct reaction_watch *ret);
int reaction_watch_next(struct reaction_watch *watch, const struct cues_in *in,
                        const struct cues_out *out, double gross_g, struct reaction_stop *ret);

#endif
