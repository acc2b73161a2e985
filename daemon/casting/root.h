/* SPDX-License-Identifier: MIT */
#ifndef AMBO_CASTING_ROOT_H
#define AMBO_CASTING_ROOT_H

/* Where a function of one number crosses zero, between two places where its sign
 * differs: inverse quadratic steps where they can be trusted, else halving
 * (Chandrupatla, Adv. Eng. Softw. 28 (1997) 145; from memory). */

typedef double root_function(double x, void *context);

#define ROOT_STEPS_MAX 100

/* Until the bracket is narrower than tolerance. 0; -EDOM where both ends have the same
 * sign or a value is not a number; *ret is then untouched. */
int root_find(root_function *function, void *context, double low, double high, double tolerance,
              double *ret);
/* The same with the values at both ends known already. */
int root_between(root_function *function, void *context, double low, double at_low, double high,
                 double at_high, double tolerance, double *ret);

#endif
