/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_LAYER_CLOCKS_H
#define AMBO_CASTING_LAYER_CLOCKS_H

#include <stdbool.h>

#include "clocks.h"
#include "heat.h"

/* The clocks of one layer's surface, from what was poured and the room's temperature as
 * it was logged: the layer's own warming is modelled once at its pour and added to the
 * room. The same facts give the same clocks, which is how they survive a restart. */

/* The room from t_s on; seconds since the pour, ascending. The first may lie before. */
struct room_reading {
	double t_s, degc;
};

#define LAYER_CURVE_POINTS 96u

struct layer_curve {
	size_t n;
	double t_s[LAYER_CURVE_POINTS]; /* since the pour, the first 0 */
	double middle_degc[LAYER_CURVE_POINTS], top_degc[LAYER_CURVE_POINTS];
	double middle_conversion[LAYER_CURVE_POINTS], top_conversion[LAYER_CURVE_POINTS];
};

/* The clocks' events, and two more. A layer of several batches is told of each when the
 * first batch comes to it where that is a deadline, and when the last does where it is a
 * permission (layer_event_is_deadline()). */
enum {
	LAYER_OPENS = CLOCK_EVENTS, /* the next pour; the label may put it later than the gel */
	LAYER_TAPE_OFF,             /* gelled, not yet hard: from here until the bond closes */
	LAYER_EVENTS
};
bool layer_event_is_deadline(int event);
const char *layer_event_name(int event); /* "next-pour", for machines */

/* What the label, or a person's report, says in equivalent time at 25 C; 0: nothing. */
struct layer_times {
	double holds_s, opens_s, closes_s;
};

struct layer_course {
	struct heat_result heat;
	struct layer_curve curve;
	struct clocks clocks; /* as they end */
	/* Since the pour, also of what is still to come; NaN: never. The label's times, in
	 * the room as it was, go before the model's; the next pour waits for the gel too. */
	double at_s[LAYER_EVENTS];
};

#define LAYER_CLOCKS_UNTIL_S (90.0 * 86400.0)

/* heat->ambient_degc is replaced by the first room reading. n >= 1.
 * 0, -EINVAL, -ERANGE, -ENOMEM. */
int layer_course(const struct heat_case *heat, const struct room_reading *room, size_t n,
                 const struct layer_times *times, struct layer_course *ret);

/* The clocks as they stood at_s after the pour, not looking ahead: what a report then
 * teaches. Of a course that layer_course() made with the same room. */
int layer_clocks_at(const struct layer_course *course, const struct heat_case *heat,
                    const struct room_reading *room, size_t n, double at_s, struct clocks *ret);

/* The room at a time: as last read. */
double room_degc_at(const struct room_reading *room, size_t n, double t_s);

#endif
