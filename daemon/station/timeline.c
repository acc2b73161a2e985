/* SPDX-License-Identifier: MIT */
#include "timeline.h"

#include <string.h>

void timeline_init(struct timeline *timeline)
{
	memset(timeline, 0, sizeof(*timeline));
}

/* The first multiple of the tick after t_us. */
static int64_t tick_after(int64_t t_us)
{
	const int64_t since = t_us % TIMELINE_TICK_US;

	return t_us - since + (since < 0 ? 0 : TIMELINE_TICK_US);
}

void timeline_put(struct timeline *timeline, const struct ring_item *item)
{
	timeline->item = *item;
	timeline->has_item = true;
}

int64_t timeline_stamp(struct timeline *timeline, int64_t clock_us)
{
	timeline->now_us = clock_us > timeline->now_us ? clock_us : timeline->now_us + 1;
	return timeline->now_us;
}

static void begin(struct timeline *timeline, int64_t press_us)
{
	const int64_t item_us = timeline->item.sample.t_us;

	timeline->begun = true;
	timeline->now_us = press_us < item_us ? press_us : item_us;
	timeline->next_tick_us = tick_after(timeline->now_us);
}

enum timeline_kind timeline_next(struct timeline *timeline, int64_t press_us, int64_t silent_us,
                                 bool ticks)
{
	int64_t until;

	if (!timeline->has_item)
		return TIMELINE_NOTHING;
	if (!timeline->begun)
		begin(timeline, press_us);
	until = timeline->item.sample.t_us > timeline->now_us ? timeline->item.sample.t_us
	                                                      : timeline->now_us;
	if (!ticks && timeline->next_tick_us <= until) {
		int64_t behind = until < press_us ? until : press_us;

		if (silent_us < behind)
			behind = silent_us;

		if (timeline->next_tick_us < behind)
			timeline->next_tick_us += (behind - timeline->next_tick_us) /
			                          TIMELINE_TICK_US * TIMELINE_TICK_US;
	}
	if (press_us <= until && press_us <= timeline->next_tick_us && press_us <= silent_us) {
		if (press_us > timeline->now_us)
			timeline->now_us = press_us;
		return TIMELINE_PRESS;
	}
	if (silent_us <= until && silent_us <= timeline->next_tick_us) {
		if (silent_us > timeline->now_us)
			timeline->now_us = silent_us;
		return TIMELINE_SILENCE;
	}
	if (timeline->next_tick_us <= until) {
		timeline->now_us = timeline->next_tick_us;
		timeline->next_tick_us += TIMELINE_TICK_US;
		return TIMELINE_TICK;
	}
	timeline->now_us = until;
	timeline->has_item = false;
	return timeline->item.kind == RING_SAMPLE
	               ? TIMELINE_SAMPLE
	               : timeline_next(timeline, press_us, silent_us, ticks);
}
