/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_ASSERT_CLOSE_H
#define AMBO_TESTS_SUPPORT_ASSERT_CLOSE_H

/* The usual preamble of a cmocka test file, and the comparisons it lacks:
 * cmocka compares as float, lets NaN through and does not print the digits. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* Returns 1 when |actual - expected| <= rel * |expected|; 0 otherwise, and for
 * any NaN. With expected 0, only 0 is close: use assert_within() there. */
int close_enough(double actual, double expected, double rel);
/* Returns 1 when |actual - expected| <= abs; 0 otherwise, and for any NaN. */
int within_enough(double actual, double expected, double abs);

void assert_close_at(double actual, double expected, double rel, const char *what, const char *file,
                     int line);
void assert_within_at(double actual, double expected, double abs, const char *what,
                      const char *file, int line);

#define assert_close(actual, expected, rel)                                                        \
	assert_close_at((actual), (expected), (rel), #actual, __FILE__, __LINE__)
#define assert_within(actual, expected, abs)                                                       \
	assert_within_at((actual), (expected), (abs), #actual, __FILE__, __LINE__)

#endif
