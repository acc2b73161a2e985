/* SPDX-License-Identifier: MIT */
#include "palette.h"

#include <math.h>

static const struct palette palettes[THEME_COUNT] = {
        [THEME_DARK] =
                {
                        .ground = 0x17130f,
                        .panel = 0x241e18,
                        .raised = 0x3a3128,
                        .ink = 0xf7efe2,
                        .quiet = 0xd6c9b6,
                        .line = 0xa89a86,
                        .poured = 0xe3bd80,
                        .ghost = 0x8d8171,
                        .hatching = 0x6b4a1c,
                        .on_poured = 0x17130f,
                        .tone =
                                {
                                        [TONE_PLAIN] = {0x241e18, 0xf7efe2, 0x17130f},
                                        [TONE_GOOD] = {0x0d4a36, 0xf4fff9, 0x35b98a},
                                        [TONE_MUST_ACT] = {0x0f3f78, 0xf3f8ff, 0x5aa7f0},
                                        [TONE_ABNORMAL] = {0xf0c541, 0x1c1503, 0xf0c541},
                                        [TONE_DANGER] = {0x8c1d12, 0xfff6f2, 0xf0705c},
                                },
                },
        [THEME_DAY] =
                {
                        .ground = 0xf6f0e4,
                        .panel = 0xeae1d0,
                        .raised = 0xdacfba,
                        .ink = 0x1d1710,
                        .quiet = 0x3d3428,
                        .line = 0x6d6151,
                        .poured = 0x9a6a24,
                        .ghost = 0x85796a,
                        .hatching = 0xe8c48a,
                        .on_poured = 0xffffff,
                        .tone =
                                {
                                        [TONE_PLAIN] = {0xeae1d0, 0x1d1710, 0xf6f0e4},
                                        [TONE_GOOD] = {0x0d4a36, 0xf4fff9, 0x12704f},
                                        [TONE_MUST_ACT] = {0x0f3f78, 0xf3f8ff, 0x14599f},
                                        [TONE_ABNORMAL] = {0xf0c541, 0x1c1503, 0x8a6a00},
                                        [TONE_DANGER] = {0x8c1d12, 0xfff6f2, 0xa8281a},
                                },
                },
};

const struct palette *palette_of(enum theme theme)
{
	return &palettes[(unsigned)theme < THEME_COUNT ? theme : THEME_DARK];
}

static double linear(uint32_t channel)
{
	double c = (double)(channel & 0xffu) / 255.0;

	return c <= 0.04045 ? c / 12.92 : pow((c + 0.055) / 1.055, 2.4);
}

double palette_luminance(uint32_t colour)
{
	return 0.2126 * linear(colour >> 16) + 0.7152 * linear(colour >> 8) +
	       0.0722 * linear(colour);
}

double palette_contrast(uint32_t a, uint32_t b)
{
	double la = palette_luminance(a), lb = palette_luminance(b);

	return (fmax(la, lb) + 0.05) / (fmin(la, lb) + 0.05);
}
