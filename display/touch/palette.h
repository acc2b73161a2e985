/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_PALETTE_H
#define AMBO_TOUCH_PALETTE_H

#include <stdint.h>

/* The colours of a theme, each with one meaning, 0xRRGGBB. Colour only helps: word
 * and shape say it first. The meanings are those of IEC 60073: red danger or fault,
 * yellow abnormal, green normal, blue must act. A and B have no hue of their own. */

enum theme { THEME_DARK, THEME_DAY, THEME_COUNT };

enum tone {
	TONE_PLAIN,    /* nothing out of the ordinary */
	TONE_GOOD,     /* normal: in the band, done */
	TONE_MUST_ACT, /* a press or a hand is due */
	TONE_ABNORMAL, /* too much, held, a doubt */
	TONE_DANGER,   /* a hazard or a fault */
	TONE_COUNT
};

struct palette {
	uint32_t ground;    /* the screen */
	uint32_t panel;     /* what lies on it */
	uint32_t raised;    /* what can be touched */
	uint32_t ink;       /* text that matters */
	uint32_t quiet;     /* text beside it; no less readable, only calmer */
	uint32_t line;      /* beam, rails, outlines */
	uint32_t poured;    /* solid weights */
	uint32_t ghost;     /* what is still to pour: outline */
	uint32_t hatching;  /* on poured, for B */
	uint32_t on_poured; /* letters on solid weights */
	struct {
		uint32_t ground, ink, edge; /* edge: against the screen's ground */
	} tone[TONE_COUNT];
};

const struct palette *palette_of(enum theme theme);

/* WCAG 2.2: relative luminance 0..1, and the contrast ratio 1..21. */
double palette_luminance(uint32_t colour);
double palette_contrast(uint32_t a, uint32_t b);

#endif
