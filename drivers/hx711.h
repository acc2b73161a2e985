/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_HX711_H
#define AMBO_DRIVERS_HX711_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "scale.h"

/* Reads one to four HX711 converters that share a clock line. Knows the data sheet's
 * timing (Avia Semiconductor, "HX711, 24-bit ADC for weigh scales", pages 4 and 5) and
 * nothing of where the pins are: those, and the time, come in by hx711_pins.
 *
 *   asleep -> reset -> settling -> settled
 *               ^---- a long pulse, a lost pulse, a restart of the chip
 *
 * Data line low: a conversion is ready. 24 pulses clock it out, the most significant
 * bit first; 1 to 3 pulses more choose the input of the next one, and data goes high.
 * A clock held high over 60 us powers the chip down; low again resets it to channel A
 * and gain 128, and four conversions pass until it has settled. A chip whose supply
 * fails for a moment is found by the gap this leaves, over 1.5 periods; one that shows
 * unsettled conversions, and fails within half a period after one, leaves none. */

#define HX711_CELLS_MAX 4u
/* T3 of the data sheet: at most 50 us high in a frame, at least 0.2 us. */
#define HX711_HIGH_MAX_NS INT64_C(50000)
#define HX711_HALF_MIN_NS INT64_C(1000) /* T3, T4 typical: 1 us; the least is 0.2 us */
#define HX711_OFF_US      100           /* over 60 us high powers down */

enum hx711_input { /* by the pulses of its frame */
	           HX711_A128 = 25,
	           HX711_B32 = 26,
	           HX711_A64 = 27,
};

/* All of the acquisition thread. Fallible ones return -errno. */
struct hx711_pins {
	void *context;
	int (*set_clock)(void *context, int level);
	int (*get_data)(void *context, size_t cell); /* 0 or 1 */
	/* Sleeps until the data line has a falling edge that was not taken yet: 1 with its
	 * time, or 0 after timeout_us. */
	int (*wait_data)(void *context, size_t cell, int64_t timeout_us, int64_t *ret_edge_ns);
	int (*drain)(void *context, size_t cell); /* throws away the edges there are */
	int64_t (*now_ns)(void *context);
	void (*sleep_us)(void *context, int64_t us); /* at least */
};

struct hx711_config {
	enum hx711_input input;
	size_t n_cells;
	double rate_hz; /* as the RATE pin says: 10 or 80 */
};

struct hx711_conversion {
	int64_t t_ns;                    /* when it became ready, or was found to be */
	int32_t counts[HX711_CELLS_MAX]; /* -8388608..8388607; 0 where a frame broke off */
	uint32_t flags;                  /* enum scale_flag; SCALE_RAIL: any cell's */
};

/* A value; the members are hx711.c's own. */
struct hx711 {
	struct hx711_config config;
	struct hx711_pins pins;
	int64_t period_ns, settle_ns;
	bool awake;
	bool input_set;     /* a frame has chosen the input since the last reset */
	int64_t settled_ns; /* conversions before this are dropped */
	bool has_ready;     /* since the last reset */
	int64_t ready_ns;   /* the conversion before, dropped ones too */
	bool has_given;
	int64_t given_ns;                    /* the conversion that was handed over before */
	int64_t longest_ns;                  /* high phase, of the frame before */
	uint64_t n_given;                    /* conversions, void ones too */
	uint64_t n_long, n_lost, n_restarts; /* of them spoilt, by why; for health */
};

void hx711_init(struct hx711 *chip, const struct hx711_config *config,
                const struct hx711_pins *pins);

/* 1 with the next settled conversion, or one that is known to be corrupt (SCALE_VOID);
 * 0 when none came within timeout_us; -EIO when a data line is low straight after a
 * reset, *ret_cell the cell's; -errno of the pins. Wakes chips that are asleep. */
int hx711_read(struct hx711 *chip, int64_t timeout_us, struct hx711_conversion *ret,
               size_t *ret_cell);

int hx711_power_down(struct hx711 *chip); /* until the next read: 0, -errno */

#endif
