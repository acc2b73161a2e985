/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_PANEL_H
#define AMBO_DRIVERS_PANEL_H

/* The bench's wires in words: what a foot can say, and what lamp, buzzer and vibration
 * have to say. A panel of another make fills in the same few. */

enum panel_event {
	PANEL_NOTHING,
	PANEL_PRESS,  /* "yes, on with it" */
	PANEL_HOLD,   /* a long press: stop and keep */
	PANEL_APPROVE, /* five seconds: the keeper's word, where no batch is open */
	PANEL_JAMMED, /* the switch has been down for too long: look at it */
};

/* Colours as in IEC 60073:2002, table 4 (meanings of colours; from memory): red danger
 * or fault, act at once; yellow abnormal, look after it; green normal. Each signal also
 * differs in its pattern of flashes, so that no one needs to tell the colours apart. */
enum panel_signal {
	PANEL_DARK,     /* no batch, or the station has ended */
	PANEL_READY,    /* green, steady: something is asked for, nothing is wrong */
	PANEL_POUR,     /* green, slow: a charge is live */
	PANEL_NEAR,     /* green, twice as fast: the end is near */
	PANEL_TIP_BACK, /* green and yellow, fast; buzzer and vibration repeat */
	PANEL_IN_BAND,  /* green, two short flashes, then steady; two short notes */
	PANEL_TOO_MUCH, /* yellow, double flash; buzzer, one long note */
	PANEL_HELD,     /* yellow, slow */
	PANEL_SILENT,   /* red, slow; a note now and then: the scale is lost */
	PANEL_HAZARD,   /* red, fast; buzzer and vibration repeat until acknowledged */
};
#define PANEL_SIGNALS 10

enum panel_output {
	PANEL_RED,
	PANEL_YELLOW,
	PANEL_GREEN,
	PANEL_BUZZER,
	PANEL_VIBRATION,
};
#define PANEL_OUTPUTS 5

#endif
