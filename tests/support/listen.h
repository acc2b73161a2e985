/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_LISTEN_H
#define AMBO_TESTS_SUPPORT_LISTEN_H

#include <stddef.h>

/* Ears for the tests: where notes begin and end, and what is in them, by discrete
 * Fourier sums (Goertzel 1958). Nothing here knows how the sounds are made. */

struct heard {
	size_t begin, end; /* samples, end behind the last */
};

/* Notes louder than `threshold` (peak) with at least gap_s of less between them. Returns
 * how many there are, at most max are written. */
size_t listen_notes(const float *samples, size_t n, double rate_hz, double threshold, double gap_s,
                    struct heard *ret, size_t max);

/* Power at one frequency, as the mean square of that part of the signal. */
double listen_power(const float *samples, size_t n, double rate_hz, double hz);
/* The strongest frequency between two, 2 Hz apart. */
double listen_pitch(const float *samples, size_t n, double rate_hz, double from_hz, double to_hz);
/* Share of the energy between two frequencies, 0..1. */
double listen_share(const float *samples, size_t n, double rate_hz, double from_hz, double to_hz);
/* Largest difference of neighbours: a click is one that the tone itself cannot make. */
double listen_step(const float *samples, size_t n);

#endif
