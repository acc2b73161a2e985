/* SPDX-License-Identifier: MIT */
#ifndef AMBO_DRIVERS_SCALE_H
#define AMBO_DRIVERS_SCALE_H

#include <stddef.h>
#include <stdint.h>

/* One source of load-cell samples, whatever is behind it. A driver hands over
 * raw codes with their time and what it knows to be wrong with them; whether a
 * code is a weight is judged in weighing, never here. */
struct scale;

enum scale_flag {
	SCALE_RAIL = 1u << 0,   /* the converter's end code: overload or a broken wire */
	SCALE_VOID = 1u << 1,   /* the driver knows this conversion to be corrupt */
	SCALE_GAP = 1u << 2,    /* more than 1.5 periods since the sample before */
	SCALE_MOVING = 1u << 8, /* a unit with a judgement of its own says: not settled */
	SCALE_REPEAT = 1u << 9, /* the unit shows the same conversion as last time */
};
#define SCALE_FLAGS (SCALE_RAIL | SCALE_VOID | SCALE_GAP | SCALE_MOVING | SCALE_REPEAT)

struct scale_sample {
	int64_t t_us;   /* the conversion's time: CLOCK_MONOTONIC, or the trace's own time */
	int32_t counts; /* 24-bit two's complement, sign-extended */
	uint32_t flags; /* enum scale_flag, or-ed */
};

/* A driver's options as read from the configuration: key and value as text, so
 * that a driver needs no configuration library. Borrowed for the call of open. */
struct scale_option {
	const char *key, *value;
	const char *where; /* "file:line" for messages; never NULL */
};

/* What a driver has counted since it was opened. */
struct scale_count {
	const char *name; /* static, as the bus shows it: "TimedOut" */
	uint64_t n;
};
#define SCALE_COUNTS_MAX 16u

#define SCALE_MESSAGE_MAX 512u /* bytes, with the NUL */

struct scale_driver {
	const char *name; /* as the configuration names it */

	/* Nonzero: this driver's samples carry a time of their own (a trace's, a
	 * simulation's), and all time of the station follows it. Zero: samples are
	 * stamped with CLOCK_MONOTONIC. */
	int own_time;

	/* Main thread, once. Checks options and opens. On failure -errno, with one
	 * clear sentence ("file:line: key: what is wrong; expected ...") in message
	 * (SCALE_MESSAGE_MAX bytes); *ret untouched. */
	int (*open)(const struct scale_option *options, size_t n_options, char *message,
	            struct scale **ret);

	/* Main thread, at --check-config: reports every mistake in the options by
	 * calling report once each, opens nothing. Returns the number reported. */
	int (*check)(const struct scale_option *options, size_t n_options,
	             void (*report)(void *context, const char *sentence), void *context);

	/* Acquisition thread; may block up to timeout_ms. 1 with *ret_sample set,
	 * 0 when none came in time (a driver with own_time then sets t_us, and only
	 * t_us, to its own time now, so that a silence has a length there too),
	 * -ENODATA when the source has ended (a trace), another -errno with a sentence
	 * in message when the source failed; -ESHUTDOWN, after the time-out, while it is
	 * powered down because nobody needs it (see idle). */
	int (*read)(struct scale *scale, int timeout_ms, struct scale_sample *ret_sample,
	            char *message);

	/* Any thread while the scale is open; NULL where there is nothing to act on.
	 * What a hand does to a simulated bench: verb and amount are listed in
	 * simulated.h. -EINVAL for a verb or an amount that makes no sense. */
	int (*act)(struct scale *scale, const char *verb, double amount);

	/* Main thread, after the acquisition thread has ended. NULL does nothing. */
	void (*close)(struct scale *scale);

	/* Acquisition thread, after a read; NULL where there is never any. 1 with one
	 * sentence in message that a person should be told once, although the scale
	 * works; 0 when there is none. */
	int (*notice)(struct scale *scale, char *message);

	/* Acquisition thread, after a read; NULL where nothing is counted. At most
	 * SCALE_COUNTS_MAX of them; returns how many. */
	size_t (*counts)(const struct scale *scale, struct scale_count *ret);

	/* Main thread; NULL where only a calibration can say. What one count of the samples
	 * weighs with these options (as check passes them), in g, and "file:line" of the one
	 * that says so; 0 when the options are wrong. */
	double (*count_g)(const struct scale_option *options, size_t n_options,
	                  const char **ret_where);

	/* Any thread while the scale is open; NULL where nothing can be powered down. 1:
	 * nobody needs samples from now on; 0: somebody does, and read wakes the source. */
	void (*idle)(struct scale *scale, int nobody);
};

/* The table of every driver there is, ended by NULL. */
extern const struct scale_driver *const scale_drivers[];

/* NULL when there is none of that name. */
const struct scale_driver *scale_driver_find(const char *name);

#endif
