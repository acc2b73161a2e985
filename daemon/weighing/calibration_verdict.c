/* SPDX-License-Identifier: MIT */
#include "calibration_verdict.h"

#include <errno.h>
#include <math.h>

#include "limits.h"
#include "stats.h"

/* The zero may move by so many intervals before the cell counts as not warmed up
 * (common practice, no source). */
#define DRIFT_INTERVALS 2.0
#define SPAN_PCT        10.0 /* off what was expected: worth a word */

static void note(struct calibration_result *result, enum advice_id id, double value, double other,
                 int count)
{
	if (result->n_notes < CALIBRATION_NOTES_MAX)
		result->notes[result->n_notes++] =
		        (struct advice){.id = id, .value = value, .other = other, .count = count};
}

/* Up, down and the repeats, each repeat moved to the first zero by the zero before it:
 * the drift of the zero is no bend. */
static size_t loads_of(const struct calibration_run *run, struct calibration_load *loads)
{
	double zero = run->first_counts;
	size_t n = 0;

	for (size_t i = 0; i < run->n_raw; i++) {
		const struct calibration_raw *raw = &run->raw[i];
		struct calibration_load load = {raw->mass_g, raw->counts, LOAD_RISING};

		switch (raw->kind) {
		case RAW_ZERO:
			zero = raw->counts;
			if (i > 0)
				continue;
			break;
		case RAW_FALLING:
			load.direction = LOAD_FALLING;
			zero = raw->mass_g == 0.0 ? raw->counts : zero;
			break;
		case RAW_REPEAT:
			load.counts += run->first_counts - zero;
			break;
		case RAW_RISING:
			break;
		case RAW_PLACE:
			continue;
		}
		loads[n++] = load;
	}
	return n;
}

/* What the pan lost or gained at each place, and how well a load repeats. */
static int spread(const struct calibration_run *run, struct calibration_result *result)
{
	const struct calibration *calibration = &result->calibration;
	double repeat_g[CALIBRATION_REPEATS], zero = run->first_counts, least, most;
	struct stats stats;
	size_t n = 0;
	int r;

	for (size_t i = 0; i < run->n_raw; i++) {
		const struct calibration_raw *raw = &run->raw[i];
		const double mass_g = calibration_mass_g(
		        calibration, raw->counts - zero + calibration->zero_counts);

		if (raw->kind == RAW_ZERO || (raw->kind == RAW_FALLING && raw->mass_g == 0.0))
			zero = raw->counts;
		else if (raw->kind == RAW_REPEAT && n < CALIBRATION_REPEATS)
			repeat_g[n++] = mass_g;
		else if (raw->kind == RAW_PLACE)
			result->off_centre_g[raw->place] = mass_g;
	}
	r = stats_of(repeat_g, n, &stats);
	if (r < 0)
		return r;
	least = most = repeat_g[0];
	for (size_t i = 1; i < n; i++) {
		least = fmin(least, repeat_g[i]);
		most = fmax(most, repeat_g[i]);
	}
	result->repeat_sd_g = stats.sd;
	result->repeat_spread_g = most - least;
	for (size_t i = 0; i < CALIBRATION_PLACES; i++)
		result->off_centre_g[i] -= stats.mean;
	return 0;
}

static void judge(const struct calibration_run *run, struct calibration_result *result)
{
	size_t worst = 0;
	double mpe_e;

	if (limits_mpe_e(limits_class_of(run->setup.max_g, run->setup.interval_g),
	                 result->greatest_g / run->setup.interval_g, false, &mpe_e) < 0)
		mpe_e = 1.5; /* past the class's last interval: its last step */
	result->limit_g = mpe_e * run->setup.interval_g;
	result->span_change_pct =
	        100.0 *
	        (1.0 / (result->calibration.g_per_count * run->setup.expected_counts_per_g) - 1.0);
	for (size_t i = 1; i < CALIBRATION_PLACES; i++)
		if (fabs(result->off_centre_g[i]) > fabs(result->off_centre_g[worst]))
			worst = i;
	if (fabs(result->span_change_pct) > SPAN_PCT)
		note(result, ADVICE_SPAN_CHANGED, result->span_change_pct, 0.0, 0);
	if (run->n_loads < 2)
		note(result, ADVICE_BEND_UNJUDGED, 0.0, 0.0, 0);
	if (result->report.hysteresis_g > result->limit_g)
		note(result, ADVICE_HYSTERESIS, result->report.hysteresis_g, result->limit_g, 0);
	if (result->repeat_spread_g > result->limit_g)
		note(result, ADVICE_SCATTER, result->repeat_spread_g, result->limit_g, 0);
	if (fabs(result->off_centre_g[worst]) > result->limit_g)
		note(result, ADVICE_OFF_CENTRE, result->off_centre_g[worst], result->limit_g,
		     (int)worst);
}

static struct advice because(enum advice_id id, double value, double other)
{
	return (struct advice){.id = id, .value = value, .other = other};
}

struct advice calibration_verdict(const struct calibration_run *run, struct calibration_result *ret)
{
	const double interval_g = run->setup.interval_g;
	const double counts_per_g = (run->raw[run->n_loads].counts - run->first_counts) /
	                            run->loads_g[run->n_loads - 1];
	struct calibration_result result = {.greatest_g = run->loads_g[run->n_loads - 1]};
	struct calibration_load loads[CALIBRATION_RAW_MAX];
	const size_t n = loads_of(run, loads);
	int r;

	result.drift_g = (run->zero_counts - run->first_counts) / counts_per_g;
	if (fabs(result.drift_g) > DRIFT_INTERVALS * interval_g)
		return because(ADVICE_DRIFTED, result.drift_g, DRIFT_INTERVALS * interval_g);
	/* Repeats agree no better than the scale is read: else creep and the weights' own
	 * errors would be taken for a bend. */
	r = calibrate_in_steps(loads, n, interval_g * counts_per_g, &result.calibration,
	                       &result.report);
	if (r == -ERANGE)
		return because(ADVICE_BEND, result.report.chosen.greatest_residual / counts_per_g,
		               0.0);
	if (r == -EDOM)
		return because(ADVICE_SWAPPED_PAIR, 0.0, 0.0);
	if (r < 0 || calibration_check(&result.calibration, run->setup.max_g) < 0 ||
	    spread(run, &result) < 0)
		return because(ADVICE_UNREADABLE, 0.0, 0.0);
	judge(run, &result);
	*ret = result;
	return because(ADVICE_NONE, 0.0, 0.0);
}
