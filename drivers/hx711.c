/* SPDX-License-Identifier: MIT */
#include "hx711.h"

#include <errno.h>
#include <string.h>

#define CODE_MIN (-8388608)
#define CODE_MAX 8388607

enum frame { FRAME_GOOD, FRAME_LONG_PULSE, FRAME_LOST_PULSE };

void hx711_init(struct hx711 *chip, const struct hx711_config *config,
                const struct hx711_pins *pins)
{
	memset(chip, 0, sizeof(*chip));
	chip->config = *config;
	chip->pins = *pins;
	chip->period_ns = (int64_t)(1e9 / config->rate_hz);
	chip->settle_ns = 4 * chip->period_ns; /* 400 ms at 10 a second, 50 ms at 80 */
}

static int64_t now_ns(const struct hx711 *chip)
{
	return chip->pins.now_ns(chip->pins.context);
}

static int set_clock(struct hx711 *chip, int level)
{
	return chip->pins.set_clock(chip->pins.context, level);
}

static int get_data(struct hx711 *chip, size_t cell)
{
	return chip->pins.get_data(chip->pins.context, cell);
}

/* For the microsecond of half a pulse only: no sleep is that short. */
static int64_t let_pass(const struct hx711 *chip, int64_t since_ns, int64_t ns)
{
	int64_t now;

	do
		now = now_ns(chip);
	while (now - since_ns < ns);
	return now;
}

int hx711_power_down(struct hx711 *chip)
{
	chip->awake = false;
	return set_clock(chip, 1);
}

/* Through power-down, whatever state the chips were in: only so it is known. */
static int reset(struct hx711 *chip, size_t *ret_cell)
{
	int r = set_clock(chip, 1);

	if (r < 0)
		return r;
	chip->pins.sleep_us(chip->pins.context, HX711_OFF_US);
	chip->settled_ns = now_ns(chip) + chip->settle_ns;
	chip->input_set = false;
	chip->has_ready = false;
	r = set_clock(chip, 0);
	if (r < 0)
		return r;
	let_pass(chip, now_ns(chip), HX711_HALF_MIN_NS);
	for (size_t i = 0; i < chip->config.n_cells; i++) {
		r = get_data(chip, i);
		if (r == 0) {
			*ret_cell = i;
			chip->awake = false;
			return -EIO;
		}
		if (r > 0)
			r = chip->pins.drain(chip->pins.context, i);
		if (r < 0)
			return r;
	}
	chip->awake = true;
	return 0;
}

/* When cell i's conversion is ready: 1; 0 at deadline_ns. The level is read before
 * the wait, for the edge may have been before it; and again after each period, for
 * an edge may get lost. *ret_late: it was ready before anyone looked. */
static int wait_cell(struct hx711 *chip, size_t i, int64_t deadline_ns, int64_t *ret_ready_ns,
                     bool *ret_late)
{
	const int64_t begin_ns = now_ns(chip);
	int64_t now = begin_ns, edge_ns = 0;
	int r = get_data(chip, i);

	*ret_late = r == 0;
	*ret_ready_ns = now;
	while (r > 0) {
		int64_t left_ns = deadline_ns - now;

		if (left_ns < 1000)
			return 0;
		if (left_ns > chip->period_ns)
			left_ns = chip->period_ns;
		r = chip->pins.wait_data(chip->pins.context, i, left_ns / 1000, &edge_ns);
		now = now_ns(chip);
		*ret_ready_ns = r > 0 && edge_ns >= begin_ns && edge_ns <= now ? edge_ns : now;
		if (r >= 0)
			r = get_data(chip, i);
	}
	return r < 0 ? r : 1;
}

/* When all cells are: on their own oscillators they are never so at the same time. */
static int wait_ready(struct hx711 *chip, int64_t deadline_ns, int64_t *ret_ready_ns,
                      bool *ret_late)
{
	int r = 1;

	*ret_late = true;
	for (size_t i = 0; r > 0 && i < chip->config.n_cells; i++) {
		int64_t ready_ns;
		bool late;

		r = wait_cell(chip, i, deadline_ns, &ready_ns, &late);
		if (i == 0 || ready_ns > *ret_ready_ns)
			*ret_ready_ns = ready_ns;
		*ret_late = *ret_late && late;
	}
	return r;
}

/* One pulse; its high phase can only have been shorter than what is measured. */
static int pulse(struct hx711 *chip, int64_t *ret_high_ns)
{
	const int64_t begin_ns = now_ns(chip);
	int r = set_clock(chip, 1);
	int64_t low_ns;

	if (r < 0)
		return r;
	let_pass(chip, now_ns(chip), HX711_HALF_MIN_NS);
	r = set_clock(chip, 0);
	low_ns = now_ns(chip);
	*ret_high_ns = low_ns - begin_ns;
	let_pass(chip, low_ns, HX711_HALF_MIN_NS);
	return r;
}

/* Clocks a frame out: enum frame, or -errno. A long pulse ends it at once: the chips
 * may have been reset in the middle of it. */
static int clock_out(struct hx711 *chip, int32_t *ret_counts)
{
	uint32_t words[HX711_CELLS_MAX] = {0};
	int r;

	chip->longest_ns = 0;
	for (int n = 1; n <= (int)chip->config.input; n++) {
		int64_t high_ns;

		r = pulse(chip, &high_ns);
		if (r < 0)
			return r;
		if (high_ns > chip->longest_ns)
			chip->longest_ns = high_ns;
		if (high_ns > HX711_HIGH_MAX_NS)
			return FRAME_LONG_PULSE;
		for (size_t i = 0; n <= 24 && i < chip->config.n_cells; i++) {
			r = get_data(chip, i);
			if (r < 0)
				return r;
			words[i] = words[i] << 1 | (uint32_t)r;
		}
	}
	for (size_t i = 0; i < chip->config.n_cells; i++) {
		/* Two's complement of 24 bits: bit 23 weighs -2^23. */
		ret_counts[i] = (int32_t)(words[i] ^ 0x800000u) - 0x800000;
		r = get_data(chip, i);
		if (r < 0)
			return r;
		if (r == 0)
			return FRAME_LOST_PULSE;
	}
	return FRAME_GOOD;
}

static int drain(struct hx711 *chip)
{
	int r = 0;

	for (size_t i = 0; r == 0 && i < chip->config.n_cells; i++)
		r = chip->pins.drain(chip->pins.context, i);
	return r;
}

/* A chip that was awaited and came late has lost its supply for a moment: what it now
 * says was taken with the input it starts with, and has not settled. */
static bool has_restarted(const struct hx711 *chip, int64_t ready_ns, bool late)
{
	return chip->has_ready && !late && 2 * (ready_ns - chip->ready_ns) > 3 * chip->period_ns;
}

static uint32_t rail_flag(const struct hx711 *chip, const int32_t *counts)
{
	for (size_t i = 0; i < chip->config.n_cells; i++)
		if (counts[i] == CODE_MIN || counts[i] == CODE_MAX)
			return SCALE_RAIL;
	return 0;
}

static int give(struct hx711 *chip, int64_t ready_ns, struct hx711_conversion *ret)
{
	ret->t_ns = ready_ns;
	if (chip->has_given && 2 * (ready_ns - chip->given_ns) > 3 * chip->period_ns)
		ret->flags |= SCALE_GAP;
	chip->has_given = true;
	chip->n_given++;
	chip->given_ns = ready_ns;
	return 1;
}

/* What is to be done with a frame that came out whole: 1 give it, 0 drop it. */
static int judge_good(struct hx711 *chip, int64_t ready_ns, bool restarted,
                      struct hx711_conversion *ret)
{
	const bool first = !chip->input_set;

	ret->flags = rail_flag(chip, ret->counts);
	chip->input_set = true;
	if (restarted) {
		chip->n_restarts++;
		chip->settled_ns = now_ns(chip) + chip->settle_ns;
		ret->flags = SCALE_VOID;
		return 1;
	}
	if (first && chip->config.input != HX711_A128) {
		chip->settled_ns = now_ns(chip) + chip->settle_ns;
		return 0;
	}
	return ready_ns >= chip->settled_ns;
}

/* One conversion: 1 it is to be given, 0 dropped (*ret_ready true) or not in time. */
static int read_next(struct hx711 *chip, int64_t deadline_ns, struct hx711_conversion *ret,
                     bool *ret_ready)
{
	int64_t ready_ns = 0;
	bool late, restarted;
	int r, frame;

	r = wait_ready(chip, deadline_ns, &ready_ns, &late);
	*ret_ready = r > 0;
	if (r <= 0)
		return r;
	frame = clock_out(chip, ret->counts);
	r = frame < 0 ? frame : drain(chip);
	if (r < 0)
		return r;
	if (frame != FRAME_GOOD) {
		chip->n_long += frame == FRAME_LONG_PULSE;
		chip->n_lost += frame == FRAME_LOST_PULSE;
		memset(ret->counts, 0, sizeof(ret->counts)); /* half a word is no code */
		ret->flags = SCALE_VOID;
		chip->awake = false; /* the next read resets */
		return give(chip, ready_ns, ret);
	}
	restarted = has_restarted(chip, ready_ns, late);
	chip->has_ready = true;
	chip->ready_ns = ready_ns;
	return judge_good(chip, ready_ns, restarted, ret) ? give(chip, ready_ns, ret) : 0;
}

int hx711_read(struct hx711 *chip, int64_t timeout_us, struct hx711_conversion *ret,
               size_t *ret_cell)
{
	const int64_t deadline_ns = now_ns(chip) + timeout_us * 1000;
	bool ready = true;
	int r = 0;

	while (r == 0 && ready && now_ns(chip) < deadline_ns) {
		if (!chip->awake)
			r = reset(chip, ret_cell);
		if (r == 0)
			r = read_next(chip, deadline_ns, ret, &ready);
	}
	if (r < 0)
		chip->awake = false; /* who knows where in a frame that was */
	return r;
}
