/* SPDX-License-Identifier: MIT */
#include "panel_pattern.h"

#include <string.h>

/* A slot of 100 ms a character, '#' on; `once` first, then `loop` for ever. */
struct pattern {
	const char *once, *loop;
};

static const struct pattern patterns[PANEL_SIGNALS][PANEL_OUTPUTS] = {
        [PANEL_READY] = {[PANEL_GREEN] = {"", "#"}},
        [PANEL_POUR] = {[PANEL_GREEN] = {"", "##########.........."}},
        [PANEL_NEAR] = {[PANEL_GREEN] = {"", "#####....."}},
        [PANEL_TIP_BACK] =
                {
                        [PANEL_GREEN] = {"", "##..."},
                        [PANEL_YELLOW] = {"", "##..."},
                        [PANEL_BUZZER] = {"", "#...."},
                        [PANEL_VIBRATION] = {"", "##..."},
                },
        /* Green with a wink, so that it is not taken for ready. */
        [PANEL_IN_BAND] =
                {
                        [PANEL_GREEN] = {"##..##..", "##################.."},
                        [PANEL_BUZZER] = {"#...#...", "."},
                        [PANEL_VIBRATION] = {"#...#...", "."},
                },
        [PANEL_TOO_MUCH] =
                {
                        [PANEL_YELLOW] = {"", "##..##.........."},
                        [PANEL_BUZZER] = {"########", "."},
                        [PANEL_VIBRATION] = {"########", "."},
                },
        [PANEL_HELD] = {[PANEL_YELLOW] = {"", "#####..............."}},
        [PANEL_SILENT] =
                {
                        [PANEL_RED] = {"", "#..................."},
                        [PANEL_BUZZER] = {"", "###......................................."
                                              "..................."},
                },
        [PANEL_HAZARD] =
                {
                        [PANEL_RED] = {"", "##.."},
                        [PANEL_BUZZER] = {"", "######..######.........."},
                        [PANEL_VIBRATION] = {"", "######..######.........."},
                },
};

bool panel_pattern_level(enum panel_signal signal, enum panel_output output, int64_t since_us)
{
	const struct pattern *pattern = &patterns[signal][output];
	size_t slot = since_us > 0 ? (size_t)(since_us / PANEL_SLOT_US) : 0, once;

	if (pattern->loop == NULL)
		return false;
	once = strlen(pattern->once);
	if (slot < once)
		return pattern->once[slot] == '#';
	return pattern->loop[(slot - once) % strlen(pattern->loop)] == '#';
}

void panel_show_init(struct panel_show *show)
{
	*show = (struct panel_show){.signal = PANEL_DARK};
	for (int i = 0; i < PANEL_FLASHES_MAX; i++)
		show->lit_us[i] = INT64_MIN / 2; /* long ago */
}

void panel_show_set(struct panel_show *show, enum panel_signal signal, int64_t now_us)
{
	if (signal == show->signal)
		return;
	show->signal = signal;
	show->since_us = now_us;
}

/* The first slot in which something is other than in this one. */
static int64_t next_change_us(const struct panel_show *show, int64_t now_us)
{
	const int64_t slots_max = 128; /* over twice the longest pattern */
	const int64_t slot = (now_us - show->since_us) / PANEL_SLOT_US;

	for (int64_t next = slot + 1; next < slot + slots_max; next++)
		for (int i = 0; i < PANEL_OUTPUTS; i++)
			if (panel_pattern_level(show->signal, (enum panel_output)i,
			                        next * PANEL_SLOT_US) !=
			    panel_pattern_level(show->signal, (enum panel_output)i,
			                        slot * PANEL_SLOT_US))
				return show->since_us + next * PANEL_SLOT_US;
	return INT64_MAX;
}

int64_t panel_show_step(struct panel_show *show, int64_t now_us)
{
	const int64_t free_us = show->lit_us[0] + 1000000;
	int64_t due_us = next_change_us(show, now_us);
	bool lit = false;

	for (int i = 0; i < PANEL_OUTPUTS; i++) {
		const bool lamp = i <= PANEL_GREEN;
		const bool level = panel_pattern_level(show->signal, (enum panel_output)i,
		                                       now_us - show->since_us);

		if (lamp && level && !show->level[i] && now_us < free_us) {
			/* A fourth flash within a second: dark until it is none. */
			if (free_us < due_us)
				due_us = free_us;
			continue;
		}
		lit = lit || (lamp && level && !show->level[i]);
		show->level[i] = level;
	}
	if (lit) {
		memmove(&show->lit_us[0], &show->lit_us[1],
		        (PANEL_FLASHES_MAX - 1) * sizeof(show->lit_us[0]));
		show->lit_us[PANEL_FLASHES_MAX - 1] = now_us;
	}
	return due_us;
}
