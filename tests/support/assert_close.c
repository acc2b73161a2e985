/* SPDX-License-Identifier: MIT */
#include "assert_close.h"

#include <math.h>

int close_enough(double actual, double expected, double rel)
{
	return fabs(actual - expected) <= rel * fabs(expected);
}

int within_enough(double actual, double expected, double abs)
{
	return fabs(actual - expected) <= abs;
}

void assert_close_at(double actual, double expected, double rel, const char *what, const char *file,
                     int line)
{
	if (close_enough(actual, expected, rel))
		return;
	print_error("%s is %.17g, expected %.17g within %g of it\n", what, actual, expected, rel);
	_fail(file, line);
}

void assert_within_at(double actual, double expected, double abs, const char *what,
                      const char *file, int line)
{
	if (within_enough(actual, expected, abs))
		return;
	print_error("%s is %.17g, expected %.17g to within %.17g\n", what, actual, expected, abs);
	_fail(file, line);
}
