/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_HX711_CHIP_H
#define AMBO_TESTS_SUPPORT_HX711_CHIP_H

#include <stdbool.h>
#include <stdint.h>

/* An HX711 at its pins, on whatever clock is passed in, and a judge of whoever reads it:
 * every timing rule of the data sheet (Avia Semiconductor, "HX711, 24-bit ADC for weigh
 * scales", pages 4 and 5) is enforced, and what breaks one is counted.
 *
 *   T1  data low to the first rising edge       at least 0.1 us
 *   T2  rising edge to the bit on the data pin  at most 0.1 us: reads before are early
 *   T3  clock high                              0.2 to 50 us
 *   T4  clock low                               at least 0.2 us
 *   clock high over 60 us: power down; low again: reset, channel A, gain 128
 *   25, 26, 27 pulses: next A 128, B 32, A 64
 *   settling after reset and a change of input: 400 ms at 10/s, 50 ms at 80/s
 *
 * Between 50 and 60 us the sheet promises nothing: here it powers down from 50 us on
 * (off_ns), the worse case for the reader. Conversions are shown from the first period
 * after a reset on, unsettled ones at half their value: the sheet leaves open whether
 * they are held back, and this is the worse case too. */
struct hx711_chip {
	/* What the bridge would read; input: pulses of the frame that chose it (25..27). */
	int32_t (*sample)(void *context, int input);
	void *context;
	int64_t period_ns, settle_ns;
	int64_t off_ns;
	bool dead_high, dead_low; /* the data pin, whatever the chip does */

	int clock;
	bool off;
	int pulses; /* since the conversion that is shown became ready */
	bool has_word;
	uint32_t word;
	int input;
	int64_t rise_ns, fall_ns, ready_ns, next_ns, settled_ns;
	int data;                     /* last level, to find its falling edges */
	unsigned falls;               /* of the data pin */
	int64_t fell_ns;              /* the newest */
	unsigned conversions, frames; /* ready; clocked out whole */
	unsigned unread;              /* conversions replaced before they were read */
	unsigned powerdowns, resets;
	/* broken rules */
	unsigned early, early_reads, short_high, long_high, short_low, odd_frames;
};

void hx711_chip_init(struct hx711_chip *chip, double rate_hz,
                     int32_t (*sample)(void *context, int input), void *context, int64_t now_ns);
void hx711_chip_clock(struct hx711_chip *chip, int level, int64_t now_ns);
int hx711_chip_data(struct hx711_chip *chip, int64_t now_ns); /* as a reader reads it */
void hx711_chip_advance(struct hx711_chip *chip, int64_t now_ns);
/* The supply fails for a moment: as at power-on. */
void hx711_chip_restart(struct hx711_chip *chip, int64_t now_ns);
/* When the data pin falls next if nobody clocks; INT64_MAX: never. */
int64_t hx711_chip_next_ns(const struct hx711_chip *chip);
unsigned hx711_chip_broken(const struct hx711_chip *chip); /* rules, all together */

#endif
