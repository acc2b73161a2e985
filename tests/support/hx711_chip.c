/* SPDX-License-Identifier: MIT */
#include "hx711_chip.h"

#include <string.h>

static void start(struct hx711_chip *chip, int64_t now_ns)
{
	chip->off = false;
	chip->pulses = 0;
	chip->has_word = false;
	chip->input = 25;
	chip->next_ns = now_ns + chip->period_ns;
	chip->settled_ns = now_ns + chip->settle_ns;
	chip->resets++;
}

static int pin(const struct hx711_chip *chip)
{
	if (chip->dead_low)
		return 0;
	if (chip->dead_high || chip->off || !chip->has_word)
		return 1;
	if (chip->pulses == 0)
		return 0;
	return chip->pulses <= 24 ? (int)(chip->word >> (24 - chip->pulses) & 1) : 1;
}

static void follow_pin(struct hx711_chip *chip, int64_t now_ns)
{
	const int data = pin(chip);

	if (data == 0 && chip->data == 1) {
		chip->falls++;
		chip->fell_ns = now_ns;
	}
	chip->data = data;
}

void hx711_chip_init(struct hx711_chip *chip, double rate_hz,
                     int32_t (*sample)(void *context, int input), void *context, int64_t now_ns)
{
	memset(chip, 0, sizeof(*chip));
	chip->sample = sample;
	chip->context = context;
	chip->period_ns = (int64_t)(1e9 / rate_hz);
	chip->settle_ns = 4 * chip->period_ns;
	chip->off_ns = 50000;
	chip->fall_ns = now_ns - 1000000;
	chip->data = 1;
	start(chip, now_ns);
}

/* The frame is over: what did its pulses choose? */
static void end_frame(struct hx711_chip *chip, int64_t now_ns)
{
	if (chip->pulses == 0) {
		chip->unread += chip->has_word;
		return;
	}
	if (chip->pulses < 25 || chip->pulses > 27) {
		chip->odd_frames++;
		return;
	}
	chip->frames++;
	if (chip->input != chip->pulses)
		chip->settled_ns = now_ns + chip->settle_ns;
	chip->input = chip->pulses;
}

static void convert(struct hx711_chip *chip)
{
	int32_t value;

	/* In mid-frame the word stands; the conversion is lost. */
	if (chip->pulses > 0 && chip->pulses < 25)
		return;
	end_frame(chip, chip->next_ns - chip->period_ns);
	value = chip->sample(chip->context, chip->input);
	if (chip->next_ns < chip->settled_ns)
		value /= 2;
	if (value > 0x7fffff)
		value = 0x7fffff;
	if (value < -0x800000)
		value = -0x800000;
	chip->word = (uint32_t)value & 0xffffff;
	chip->has_word = true;
	chip->pulses = 0;
	chip->ready_ns = chip->next_ns;
	chip->conversions++;
}

void hx711_chip_advance(struct hx711_chip *chip, int64_t now_ns)
{
	if (chip->clock == 1 && !chip->off && now_ns - chip->rise_ns > chip->off_ns) {
		chip->off = true;
		chip->powerdowns++;
	}
	while (!chip->off && now_ns >= chip->next_ns) {
		convert(chip);
		follow_pin(chip, chip->next_ns);
		chip->next_ns += chip->period_ns;
	}
	follow_pin(chip, now_ns);
}

static void rise(struct hx711_chip *chip, int64_t now_ns)
{
	chip->rise_ns = now_ns;
	if (now_ns - chip->fall_ns < 200)
		chip->short_low++;
	if (!chip->has_word)
		return; /* a pulse to a busy chip: may be the start of a power-down */
	if (chip->pulses == 0 && now_ns - chip->ready_ns < 100)
		chip->early++;
	chip->pulses++;
}

static void fall(struct hx711_chip *chip, int64_t now_ns)
{
	const int64_t high_ns = now_ns - chip->rise_ns;

	chip->fall_ns = now_ns;
	if (high_ns < 200)
		chip->short_high++;
	/* 50 us and more is no pulse, but a reset, and meant to be one from 60 us on. */
	if (high_ns > 50000 && high_ns <= 60000)
		chip->long_high++;
	if (chip->off)
		start(chip, now_ns);
}

void hx711_chip_clock(struct hx711_chip *chip, int level, int64_t now_ns)
{
	hx711_chip_advance(chip, now_ns);
	if (level == chip->clock)
		return;
	chip->clock = level;
	if (level == 1)
		rise(chip, now_ns);
	else
		fall(chip, now_ns);
	follow_pin(chip, now_ns);
}

int hx711_chip_data(struct hx711_chip *chip, int64_t now_ns)
{
	hx711_chip_advance(chip, now_ns);
	if (chip->pulses > 0 && chip->pulses <= 24 && now_ns - chip->rise_ns < 100)
		chip->early_reads++;
	return pin(chip);
}

void hx711_chip_restart(struct hx711_chip *chip, int64_t now_ns)
{
	hx711_chip_advance(chip, now_ns);
	start(chip, now_ns);
	follow_pin(chip, now_ns);
}

int64_t hx711_chip_next_ns(const struct hx711_chip *chip)
{
	if (chip->off || chip->dead_high || chip->dead_low)
		return INT64_MAX;
	return chip->next_ns;
}

unsigned hx711_chip_broken(const struct hx711_chip *chip)
{
	return chip->early + chip->early_reads + chip->short_high + chip->long_high +
	       chip->short_low + chip->odd_frames;
}
