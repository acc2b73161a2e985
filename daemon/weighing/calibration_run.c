/* SPDX-License-Identifier: MIT */
#include "calibration_run.h"

#include <errno.h>
#include <math.h>

#include "calibration_verdict.h"

/* None of these has a source: common practice, or a choice. */
#define AVERAGE_US       2000000 /* a settled reading averages at least so long */
#define RAIL_US          1000000 /* so long at the rail is no spike */
#define FELT_SHARE       0.1     /* of the load: less is not felt */
#define GAIN_SHARE       0.12    /* a gain choice is this near to a factor of 2 or 4 */
#define ON_SHARE         0.2     /* the load again, within this */
#define OFF_SHARE        0.05    /* the pan is empty again, within this of the load */
#define BACK_SHARE       0.05    /* going down: the load meant, within this of the greatest */
#define RATE_FACTOR      4.0     /* the pin changes the rate by 8 */
#define CORRUPT_PER_1000 20.0

const char *calibration_step_name(enum calibration_step step)
{
	static const char *const names[] = {"zero",   "rising", "falling", "repeat",
	                                    "places", "done",   "refused"};

	return (unsigned)step <= CALIBRATION_REFUSED ? names[step] : "";
}

const char *calibration_raw_name(enum calibration_raw_kind kind)
{
	static const char *const names[] = {"zero", "rising", "falling", "repeat", "place"};

	return (unsigned)kind <= RAW_PLACE ? names[kind] : "";
}

static double greatest_g(const struct calibration_run *run)
{
	return run->n_loads > 0 ? run->loads_g[run->n_loads - 1] : 0.0;
}

static struct advice ask(enum advice_id id, double value, double other)
{
	return (struct advice){.id = id, .value = value, .other = other};
}

/* What the step asks for when nothing stands in the way. */
static struct advice asked(const struct calibration_run *run)
{
	struct advice say = {.id = ADVICE_NONE};

	switch (run->step) {
	case CALIBRATION_ZERO:
		return ask(ADVICE_CLEAR, 0.0, 0.0);
	case CALIBRATION_RISING:
		return run->n_loads > 0
		               ? ask(ADVICE_PUT_MORE, greatest_g(run), run->setup.max_g)
		               : ask(ADVICE_PUT_LOAD, CALIBRATION_LOAD_SHARE * run->setup.max_g,
		                     run->setup.max_g);
	case CALIBRATION_FALLING:
		return run->n_left > 0 ? ask(ADVICE_TAKE_LOAD, run->loads_g[run->n_left - 1], 0.0)
		                       : ask(ADVICE_TAKE_ALL, 0.0, 0.0);
	case CALIBRATION_REPEAT:
		say = ask(run->on ? ADVICE_REPEAT_OFF : ADVICE_REPEAT_ON, greatest_g(run), 0.0);
		say.count = (int)run->n_repeats + (run->on ? 0 : 1);
		say.of = (int)CALIBRATION_REPEATS;
		return say;
	case CALIBRATION_PLACES_STEP:
		say = ask(run->on ? ADVICE_PLACE_OFF : ADVICE_PLACE_ON, greatest_g(run), 0.0);
		say.count = (int)run->n_places - (run->on ? 1 : 0);
		say.of = (int)CALIBRATION_PLACES;
		return say;
	case CALIBRATION_DONE:
		return ask(ADVICE_READY, 0.0, 0.0);
	case CALIBRATION_REFUSED:
		return run->say;
	}
	return say;
}

static void go(struct calibration_run *run, enum calibration_step step)
{
	run->step = step;
	run->say = asked(run);
}

static int refuse(struct calibration_run *run, struct advice why)
{
	run->step = CALIBRATION_REFUSED;
	run->say = why;
	return 1;
}

static int not_now(struct calibration_run *run, enum advice_id id, double value, double other,
                   int error)
{
	run->say = ask(id, value, other);
	return error;
}

static void take(struct calibration_run *run, enum calibration_raw_kind kind, double mass_g)
{
	if (run->n_raw < CALIBRATION_RAW_MAX)
		run->raw[run->n_raw++] = (struct calibration_raw){
		        .kind = kind,
		        .t_us = run->now.t_us,
		        .mass_g = mass_g,
		        .counts = run->now.counts,
		        .sd_counts = run->now.sd_counts,
		        .place = kind == RAW_PLACE ? (int)run->n_places : 0,
		};
}

static bool averaged(const struct calibration_run *run)
{
	return run->now.settled && !run->now.rail &&
	       run->now.t_us - run->now.still_since_us >= AVERAGE_US;
}

/* What shows without any load: rate, clock, hum. */
static struct advice wiring(const struct calibration_run *run)
{
	const struct calibration_reading *now = &run->now;
	const double expected_hz = run->setup.expected_rate_hz;

	if (expected_hz > 0.0 && now->rate_hz > 0.0 &&
	    (now->rate_hz > RATE_FACTOR * expected_hz || now->rate_hz < expected_hz / RATE_FACTOR))
		return ask(ADVICE_WRONG_RATE, now->rate_hz, expected_hz);
	if (now->corrupt_per_1000 > CORRUPT_PER_1000)
		return ask(ADVICE_LOOSE_CLOCK, now->corrupt_per_1000, 0.0);
	if (now->hum_hz > 0.0)
		return ask(ADVICE_HUM, now->hum_hz,
		           now->hum_counts / run->setup.expected_counts_per_g);
	return ask(ADVICE_NONE, 0.0, 0.0);
}

static int press_zero(struct calibration_run *run)
{
	const struct advice fault = wiring(run);

	if (fault.id != ADVICE_NONE)
		return refuse(run, fault);
	if (run->now.rail)
		return not_now(run, ADVICE_OVERLOADED, 0.0, 0.0, -EAGAIN);
	if (!averaged(run))
		return not_now(run, ADVICE_SETTLING, 0.0, 0.0, -EAGAIN);
	if (!run->now.warm)
		return not_now(run, ADVICE_WARMING, 0.0, 0.0, -EAGAIN);
	take(run, RAW_ZERO, 0.0);
	run->zero_counts = run->first_counts = run->now.counts;
	go(run, CALIBRATION_RISING);
	return 1;
}

/* What the load says of the wires: what came with it since the load before, against what
 * was expected of that. A load entered too early is not felt; it is no wrong gain. */
static struct advice felt(const struct calibration_run *run, double mass_g)
{
	static const double factors[] = {0.25, 0.5, 2.0, 4.0};
	const double before = run->raw[run->n_loads].counts; /* the zero, or the load before */
	const double ratio = (run->now.counts - before) /
	                     ((mass_g - greatest_g(run)) * run->setup.expected_counts_per_g);

	if (fabs(ratio) < FELT_SHARE)
		return ask(ADVICE_LOAD_NOT_FELT, mass_g, 0.0);
	if (ratio < 0.0)
		return ask(ADVICE_SWAPPED_PAIR, 0.0, 0.0);
	for (size_t i = 0; i < sizeof(factors) / sizeof(factors[0]); i++)
		if (fabs(ratio / factors[i] - 1.0) < GAIN_SHARE)
			return ask(ADVICE_WRONG_GAIN, factors[i], 0.0);
	return ask(ADVICE_NONE, 0.0, 0.0);
}

static int check_mass(struct calibration_run *run, double mass_g)
{
	const double least_g = CALIBRATION_LOAD_SHARE * run->setup.max_g;

	if (!isfinite(mass_g) || mass_g < least_g * (1.0 - 1e-9))
		return not_now(run, ADVICE_LOAD_TOO_SMALL, mass_g, least_g, -EINVAL);
	if (mass_g > run->setup.max_g)
		return not_now(run, ADVICE_LOAD_OVER_MAX, mass_g, run->setup.max_g, -EINVAL);
	if (mass_g <= greatest_g(run))
		return not_now(run, ADVICE_LOAD_NOT_MORE, mass_g, greatest_g(run), -EINVAL);
	if (run->n_loads == CALIBRATION_LOADS_MAX) {
		run->say = (struct advice){.id = ADVICE_LOADS_ENOUGH,
		                           .of = (int)CALIBRATION_LOADS_MAX};
		return -EINVAL;
	}
	return 0;
}

static int press_rising(struct calibration_run *run, double mass_g)
{
	struct advice fault;
	int r;

	if (mass_g == 0.0) {
		if (run->n_loads == 0)
			return not_now(run, ADVICE_LOAD_MISSING, 0.0, 0.0, -EINVAL);
		run->n_left = run->n_loads - 1;
		go(run, CALIBRATION_FALLING);
		return 1;
	}
	r = check_mass(run, mass_g);
	if (r < 0)
		return r;
	if (run->now.rail)
		return not_now(run, ADVICE_OVERLOADED, 0.0, 0.0, -EAGAIN);
	if (!averaged(run))
		return not_now(run, ADVICE_SETTLING, 0.0, 0.0, -EAGAIN);
	fault = felt(run, mass_g);
	if (fault.id == ADVICE_LOAD_NOT_FELT)
		return not_now(run, ADVICE_LOAD_NOT_FELT, mass_g, 0.0, -EAGAIN);
	if (fault.id != ADVICE_NONE)
		return refuse(run, fault);
	take(run, RAW_RISING, mass_g);
	run->loads_g[run->n_loads++] = mass_g;
	go(run, CALIBRATION_RISING);
	return 1;
}

/* Counts of the greatest load over the first zero. */
static double greatest_counts(const struct calibration_run *run)
{
	return run->raw[run->n_loads].counts - run->first_counts;
}

static int press_falling(struct calibration_run *run)
{
	const double mass_g = run->n_left > 0 ? run->loads_g[run->n_left - 1] : 0.0;
	const double found_g =
	        (run->now.counts - run->first_counts) / greatest_counts(run) * greatest_g(run);

	if (!averaged(run))
		return not_now(run, ADVICE_SETTLING, 0.0, 0.0, -EAGAIN);
	if (fabs(found_g - mass_g) > BACK_SHARE * greatest_g(run))
		return not_now(run, ADVICE_LOAD_NOT_BACK, found_g, mass_g, -EAGAIN);
	take(run, RAW_FALLING, mass_g);
	if (run->n_left > 0) {
		run->n_left--;
		go(run, CALIBRATION_FALLING);
		return 1;
	}
	run->zero_counts = run->now.counts;
	go(run, CALIBRATION_REPEAT);
	return 1;
}

static void finish(struct calibration_run *run)
{
	const struct advice why = calibration_verdict(run, &run->result);

	if (why.id != ADVICE_NONE)
		refuse(run, why);
	else
		go(run, CALIBRATION_DONE);
}

/* On and off by themselves: hands are at the weight, not at a button. */
static int swap_load(struct calibration_run *run)
{
	const bool places = run->step == CALIBRATION_PLACES_STEP;
	const double load = greatest_counts(run);
	const double share = (run->now.counts - run->zero_counts) / load;

	if (!averaged(run))
		return 0;
	if (!run->on && fabs(share - 1.0) < ON_SHARE) {
		take(run, places ? RAW_PLACE : RAW_REPEAT, greatest_g(run));
		run->on = true;
		*(places ? &run->n_places : &run->n_repeats) += 1;
	} else if (run->on && fabs(share) < OFF_SHARE) {
		take(run, RAW_ZERO, 0.0);
		run->zero_counts = run->now.counts;
		run->on = false;
		if (!places && run->n_repeats == CALIBRATION_REPEATS)
			run->step = CALIBRATION_PLACES_STEP;
		if (places && run->n_places == CALIBRATION_PLACES) {
			finish(run);
			return 1;
		}
	} else {
		return 0;
	}
	run->say = asked(run);
	return 1;
}

static bool same(const struct advice *a, const struct advice *b)
{
	return a->id == b->id && a->count == b->count && a->value == b->value;
}

/* The rail with an empty pan is a wire; with a load it may be the load. */
static int at_rail(struct calibration_run *run)
{
	const struct advice before = run->say;

	if (run->now.t_us - run->rail_since_us < RAIL_US)
		return 0;
	if (run->step == CALIBRATION_ZERO)
		return refuse(run, ask(ADVICE_OPEN_BRIDGE, 0.0, 0.0));
	run->say = ask(ADVICE_OVERLOADED, 0.0, 0.0);
	return !same(&before, &run->say);
}

static int take_reading(struct calibration_run *run, const struct calibration_reading *reading)
{
	const struct advice before = run->say;

	if (reading->rail && !run->now.rail)
		run->rail_since_us = reading->t_us;
	run->now = *reading;
	if (reading->rail)
		return at_rail(run);
	switch (run->step) {
	case CALIBRATION_REPEAT:
	case CALIBRATION_PLACES_STEP:
		if (swap_load(run))
			return 1;
		break;
	case CALIBRATION_ZERO:
	case CALIBRATION_RISING:
	case CALIBRATION_FALLING:
	case CALIBRATION_DONE:
	case CALIBRATION_REFUSED:
		break;
	}
	/* What stood in the way has passed. */
	if ((before.id == ADVICE_SETTLING && averaged(run)) ||
	    (before.id == ADVICE_WARMING && reading->warm) || before.id == ADVICE_OVERLOADED)
		run->say = asked(run);
	return !same(&before, &run->say);
}

int calibration_run_begin(const struct calibration_setup *setup, struct calibration_run *ret)
{
	if (!(setup->max_g > 0.0) || !isfinite(setup->max_g) || !(setup->interval_g > 0.0) ||
	    !isfinite(setup->interval_g) || !(setup->expected_counts_per_g > 0.0) ||
	    !isfinite(setup->expected_counts_per_g) || !(setup->expected_rate_hz >= 0.0))
		return -EINVAL;
	*ret = (struct calibration_run){.setup = *setup};
	go(ret, CALIBRATION_ZERO);
	return 0;
}

int calibration_run_next(const struct calibration_run *old, const struct calibration_event *event,
                         struct calibration_run *ret)
{
	*ret = *old;
	if (old->step == CALIBRATION_DONE || old->step == CALIBRATION_REFUSED)
		return event->kind == CALIBRATION_PRESS ? -EALREADY : 0;
	if (event->kind == CALIBRATION_READING)
		return take_reading(ret, &event->reading);
	switch (ret->step) {
	case CALIBRATION_ZERO:
		return press_zero(ret);
	case CALIBRATION_RISING:
		return press_rising(ret, event->mass_g);
	case CALIBRATION_FALLING:
		return press_falling(ret);
	case CALIBRATION_REPEAT:
	case CALIBRATION_PLACES_STEP:
		ret->say = asked(ret);
		return -EAGAIN; /* these take themselves */
	case CALIBRATION_DONE:
	case CALIBRATION_REFUSED:
		break;
	}
	return -EALREADY;
}
