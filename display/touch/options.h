/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_OPTIONS_H
#define AMBO_TOUCH_OPTIONS_H

#include <stdbool.h>

#include "bus_link.h"
#include "layout.h"

/* The command line of ambo-display. */
struct options {
	enum bus_choice bus;
	const char *settings;                /* path of the settings file */
	const char *languages;               /* folder of the catalogues */
	const char *language, *theme, *hand; /* NULL: as set */
	int width_px, height_px;             /* of the window */
	double width_mm, height_mm;          /* of the glass; 0: as the screen says */
	int turn_deg;                        /* < 0: as set */
	bool full;                           /* the whole screen */
	const char *render, *state, *out;    /* --render */
	const char *touches;                 /* --touches */
	bool stamp;                          /* when a reading reached the screen, as a line */
	bool tell;                           /* each change of what is shown, as a line */
	const char *shots;                   /* folder for a picture of each change */
};

/* 0; 1 after --help or --version; -EINVAL having said what is wrong. */
int options_parse(int argc, char **argv, struct options *ret);

#endif
