/* SPDX-License-Identifier: MIT */
#include "uncertainty.h"

#include <math.h>

static int usable(double value)
{
	return isfinite(value) && value >= 0.0;
}

static int doubt_ok(const struct weighing_doubt *doubt)
{
	return usable(doubt->interval_g) && usable(doubt->residual_sd_g) &&
	       usable(doubt->repeatability_sd_g) && usable(doubt->creep_share) &&
	       usable(doubt->zero_drift_g_per_s);
}

/* Variance that each reading brings for itself, noise apart. */
static double own_variance(const struct weighing_doubt *doubt)
{
	return doubt->interval_g * doubt->interval_g / 12.0 +
	       doubt->residual_sd_g * doubt->residual_sd_g +
	       doubt->repeatability_sd_g * doubt->repeatability_sd_g;
}

/* Variance of what moved between the tare and the reading; the half-width of a
 * rectangle is sqrt(3) standard uncertainties. */
static double moved_variance(const struct weighing_doubt *doubt, double load_g, double since_tare_s)
{
	double creep_g = doubt->creep_share * load_g;
	double drift_g = doubt->zero_drift_g_per_s * since_tare_s;

	return (creep_g * creep_g + drift_g * drift_g) / 3.0;
}

double uncertainty_of_mean_g(double sample_sd_g, uint32_t n, double colour)
{
	if (!usable(sample_sd_g) || !usable(colour) || n == 0)
		return (double)INFINITY;
	return colour * sample_sd_g / sqrt(n);
}

double uncertainty_reading_g(const struct weighing_doubt *doubt, double noise_g, double load_g,
                             double since_tare_s)
{
	if (!doubt_ok(doubt) || !usable(noise_g) || !isfinite(load_g) || !usable(since_tare_s))
		return (double)INFINITY;
	return sqrt(noise_g * noise_g + own_variance(doubt) +
	            moved_variance(doubt, load_g, since_tare_s));
}

double uncertainty_net_g(const struct weighing_doubt *doubt, double noise_tare_g,
                         double noise_gross_g, double net_g, double since_tare_s)
{
	if (!doubt_ok(doubt) || !usable(noise_tare_g) || !usable(noise_gross_g) ||
	    !isfinite(net_g) || !usable(since_tare_s))
		return (double)INFINITY;
	return sqrt(noise_tare_g * noise_tare_g + noise_gross_g * noise_gross_g +
	            2.0 * own_variance(doubt) + moved_variance(doubt, net_g, since_tare_s));
}

double uncertainty_minimum_mass_g(double sd_g, double interval_g, double relative_pct)
{
	if (!usable(sd_g) || !usable(interval_g) || !isfinite(relative_pct) || relative_pct <= 0.0)
		return (double)INFINITY;
	return 2.0 * fmax(sd_g, 0.41 * interval_g) / (relative_pct / 100.0);
}
