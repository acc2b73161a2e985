/* SPDX-License-Identifier: MIT */
#include "root.h"

#include <errno.h>
#include <math.h>

int root_between(root_function *function, void *context, double low, double at_low, double high,
                 double at_high, double tolerance, double *ret)
{
	double a = low, b = high, fa = at_low, fb = at_high;
	double c = a, fc = fa, t = fa / (fa - fb);

	if (!(fa * fb <= 0.0))
		return -EDOM;
	if (fa == 0.0 || fb == 0.0) {
		*ret = fa == 0.0 ? a : b;
		return 0;
	}
	for (int i = 0; i < ROOT_STEPS_MAX; i++) {
		double x = a + t * (b - a), fx = function(x, context), best, least, xi, phi;

		if (isnan(fx))
			return -EDOM;
		/* Keep a as the newest point, b across the root, c the one given up. */
		if ((fx > 0.0) == (fa > 0.0)) {
			c = a;
			fc = fa;
		} else {
			c = b;
			fc = fb;
			b = a;
			fb = fa;
		}
		a = x;
		fa = fx;
		best = fabs(fa) < fabs(fb) ? a : b;
		least = 0.5 * tolerance / fabs(b - a);
		if (least > 0.5 || fa == 0.0 || fb == 0.0) {
			*ret = best;
			return 0;
		}
		xi = (a - b) / (c - b);
		phi = (fa - fb) / (fc - fb);
		t = 0.5;
		if (phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi)
			t = fa / (fb - fa) * fc / (fb - fc) +
			    (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb);
		t = fmin(fmax(t, least), 1.0 - least);
	}
	*ret = fabs(fa) < fabs(fb) ? a : b;
	return 0;
}

int root_find(root_function *function, void *context, double low, double high, double tolerance,
              double *ret)
{
	return root_between(function, context, low, function(low, context), high,
	                    function(high, context), tolerance, ret);
}
