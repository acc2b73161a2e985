/* SPDX-License-Identifier: MIT */
#include "bench.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define TWO_PI 6.283185307179586

/* Speed at the lip 0.2 m/s over g: what the stream's impact weighs per g/s beyond the
 * mass in the air, which weighs as it would in the cup. */
#define IMPACT_S      0.02
#define WOBBLE        0.06 /* of the rate, by the hand */
#define WOBBLE_HZ     1.3
#define SWING_HZ      18.0
#define SWING_DECAY_S 0.1
#define TREMOR        0.03 /* of a leaning hand */
#define WARM_UP_S     200.0
#define CREEP_TAU_S   600.0
#define CREEP_OVER_S  1800.0
/* A corrupt read powers the chip down: the next sample comes 4 periods later. */
#define RESTART_PERIODS 4
#define GAP_PERIODS     1.5
#define CODE_MIN        (-8388608)
#define CODE_MAX        8388607

/* The last number is the layout's version. */
static const char bench_magic[16] = "ambo bench 2";

void bench_config_default(struct bench_config *ret)
{
	*ret = (struct bench_config){
	        .seed = 1,
	        .rate_hz = 80.0,
	        .rate_error = 0.05,
	        .counts_per_g = 429.5,
	        .zero_counts = 190000.0,
	        .noise_g = 0.05,
	        .warm_up_counts_per_s = 0.0,
	        .creep_ratio = 0.0001,
	        .corrupt_ratio = 0.001,
	        .max_g = 5000.0,
	        .overload_g = 2500.0,
	};
}

static bool within(double value, double min, double max)
{
	return value >= min && value <= max; /* false for NaN */
}

static bool config_ok(const struct bench_config *c)
{
	return within(c->rate_hz, 1.0, 1000.0) && within(c->rate_error, -0.5, 0.5) &&
	       within(fabs(c->counts_per_g), 1e-3, 1e6) &&
	       within(c->zero_counts, CODE_MIN, CODE_MAX) && within(c->noise_g, 0.0, 1e3) &&
	       within(c->warm_up_counts_per_s, -1e4, 1e4) && within(c->creep_ratio, -0.1, 0.1) &&
	       within(c->corrupt_ratio, 0.0, 1.0) && within(c->max_g, 1.0, 1e6) &&
	       within(c->overload_g, 0.0, 1e6);
}

int bench_new(const struct bench_config *config, struct bench **ret)
{
	struct bench *bench;

	if (!config_ok(config))
		return -EINVAL;
	bench = calloc(1, sizeof(*bench));
	if (bench == NULL)
		return -ENOMEM;
	memcpy(bench->magic, bench_magic, sizeof(bench->magic));
	bench->config = *config;
	random_seed(&bench->noise_random, config->seed);
	random_seed(&bench->hand_random, ~config->seed);
	sinc4_init(&bench->force, 0.0);
	for (int i = 0; i < SINC4_LENGTH; i++)
		sinc4_push(&bench->noise, random_gauss(&bench->noise_random));
	*ret = bench;
	return 0;
}

void bench_free(struct bench *bench)
{
	free(bench);
}

size_t bench_size(void)
{
	return sizeof(struct bench);
}

void bench_save(const struct bench *bench, void *bytes)
{
	memcpy(bytes, bench, sizeof(*bench));
}

int bench_restore(const void *bytes, const struct bench_config *config, struct bench **ret)
{
	struct bench *bench;
	int r;

	if (memcmp(bytes, bench_magic, sizeof(bench_magic)) != 0)
		return -EINVAL;
	r = bench_new(config, &bench);
	if (r < 0)
		return r;
	memcpy(bench, bytes, sizeof(*bench));
	/* Time is counted in conversions: another rate begins to count anew from here. */
	if (bench->config.rate_hz != config->rate_hz ||
	    bench->config.rate_error != config->rate_error)
		bench->conversion =
		        (int64_t)llround(bench->t_s * config->rate_hz * (1.0 + config->rate_error));
	bench->config = *config;
	*ret = bench;
	return 0;
}

double bench_cup_mass(const struct bench_cup *cup)
{
	double mass_g = 0.0;

	if (!cup->there)
		return 0.0;
	for (int i = 0; i < STUFF_COUNT; i++)
		mass_g += cup->held_g[i];
	return mass_g + cup->cup_g;
}

static double spilt(const struct bench *bench)
{
	double mass_g = 0.0;

	for (int i = 0; i < STUFF_COUNT; i++)
		mass_g += bench->spilt_g[i];
	return mass_g;
}

/* Everything on the pan, g. */
static double bench_load(const struct bench *bench)
{
	return bench_cup_mass(&bench->pan) + spilt(bench) + bench->object_g;
}

static void bench_land(struct bench *bench, enum bench_stuff stuff, double mass_g)
{
	*(bench->pan.there ? &bench->pan.held_g[stuff] : &bench->spilt_g[stuff]) += mass_g;
	bench->poured_g += mass_g;
}

void bench_swing(struct bench *bench, double amplitude_g)
{
	bench->swing[bench->next_swing] = (struct bench_swing){bench->t_s, amplitude_g};
	bench->next_swing = (bench->next_swing + 1) % BENCH_SWINGS;
}

/* Front and right of the middle weigh more, back and left less. */
static double corner(const struct bench *bench)
{
	static const double share[] = {0.0, 1.0, 0.5, -1.0, -0.5};

	return bench->object_g * bench->corner_ratio * share[bench->place];
}

static double bend(const struct bench *bench, double force_g)
{
	const double x = force_g / bench->config.max_g;

	return bench->bend_ratio * bench->config.max_g * x * x * x;
}

static double swings(const struct bench *bench)
{
	double force_g = 0.0;

	for (int i = 0; i < BENCH_SWINGS; i++) {
		double u = bench->t_s - bench->swing[i].start_s;

		if (bench->swing[i].amplitude_g != 0.0 && u < 20.0 * SWING_DECAY_S)
			force_g += bench->swing[i].amplitude_g * exp(-u / SWING_DECAY_S) *
			           sin(TWO_PI * SWING_HZ * u);
	}
	return force_g;
}

static double toward(double from, double to, double step)
{
	return from < to ? fmin(from + step, to) : fmax(from - step, to);
}

static void begin_drips(struct bench *bench)
{
	for (int i = 0; i < 2; i++)
		for (int k = 0; k < BENCH_DRIPS; k++)
			if (bench->drip[k].mass_g == 0.0) {
				double late_s = 0.2 + 0.5 * random_exponential(&bench->hand_random);
				double mass_g = 0.03 * (0.5 + random_uniform(&bench->hand_random));

				bench->drip[k] = (struct bench_drip){bench->t_s + late_s, mass_g,
				                                     bench->stuff};
				break;
			}
}

static void flow(struct bench *bench, double dt_s)
{
	bench->flow_g_per_s = 0.0;
	if (!bench->flowing)
		return;
	bench->rate_g_per_s =
	        toward(bench->rate_g_per_s, bench->goal_g_per_s, bench->slope_g_per_s2 * dt_s);
	if (bench->rate_g_per_s == 0.0) {
		bench->flowing = false;
		begin_drips(bench);
		return;
	}
	bench->flow_g_per_s =
	        bench->rate_g_per_s *
	        (1.0 + WOBBLE * sin(TWO_PI * WOBBLE_HZ * bench->t_s + bench->wobble_phase));
	bench_land(bench, bench->stuff, bench->flow_g_per_s * dt_s);
}

static void drip_and_sprinkle(struct bench *bench)
{
	for (int i = 0; i < BENCH_DRIPS; i++)
		if (bench->drip[i].mass_g > 0.0 && bench->t_s >= bench->drip[i].due_s) {
			bench_land(bench, bench->drip[i].stuff, bench->drip[i].mass_g);
			bench->drip[i].mass_g = 0.0;
		}
	if (bench->powder_left_g > 0.0 && bench->t_s >= bench->next_pinch_s) {
		double pinch_g = bench->pinch_g * (0.7 + 0.6 * random_uniform(&bench->hand_random));

		pinch_g = fmin(pinch_g, bench->powder_left_g);
		bench_land(bench, bench->powder, pinch_g);
		bench->powder_left_g -= pinch_g;
		bench->next_pinch_s = bench->t_s + 0.4 + 0.3 * random_uniform(&bench->hand_random);
	}
}

/* One tenth of a conversion period. */
static void step(struct bench *bench, double dt_s)
{
	const struct bench_config *config = &bench->config;
	double force_g;

	bench->t_s += dt_s;
	flow(bench, dt_s);
	drip_and_sprinkle(bench);
	bench->passing_g = toward(bench->passing_g, 0.0, bench->passing_g_per_s * dt_s);
	force_g = bench_load(bench) + bench->passing_g + IMPACT_S * bench->flow_g_per_s +
	          swings(bench) +
	          bench->leaning_g * (1.0 + TREMOR * sin(TWO_PI * 0.7 * bench->t_s) +
	                              TREMOR * sin(TWO_PI * 4.3 * bench->t_s));
	bench->creep_g +=
	        (config->creep_ratio / (1.0 - exp(-CREEP_OVER_S / CREEP_TAU_S)) * force_g -
	         bench->creep_g) *
	        dt_s / CREEP_TAU_S;
	force_g += corner(bench);
	sinc4_push(&bench->force, force_g + bend(bench, force_g) + bench->creep_g +
	                                  bench->hum_g * sin(TWO_PI * bench->hum_hz * bench->t_s));
	sinc4_push(&bench->noise, random_gauss(&bench->noise_random));
}

static double period_us(const struct bench *bench)
{
	return 1e6 / (bench->config.rate_hz * (1.0 + bench->config.rate_error));
}

int64_t bench_time_us(const struct bench *bench)
{
	return (int64_t)((double)bench->conversion * period_us(bench));
}

int64_t bench_next_us(const struct bench *bench)
{
	return (int64_t)((double)(bench->conversion + 1) * period_us(bench));
}

/* The true leading bits, then ones: a clock pulse stretched past 60 us in mid-read. */
static int32_t corrupt(struct bench *bench, int32_t code)
{
	int ones = 9 + (int)(15.0 * random_uniform(&bench->hand_random));

	return code | (int32_t)((1u << ones) - 1u);
}

static int32_t convert(struct bench *bench, uint32_t *flags)
{
	const struct bench_config *config = &bench->config;
	double force_g = sinc4_value(&bench->force);
	double counts_per_g =
	        config->counts_per_g * (1.0 + bench->gain) * (bench->swapped ? -1.0 : 1.0);
	double counts = config->zero_counts +
	                config->warm_up_counts_per_s * fmin(bench->t_s, WARM_UP_S) +
	                counts_per_g * (force_g + config->noise_g * sinc4_value(&bench->noise) /
	                                                  sinc4_noise_gain());
	bool over = fabs(force_g) > config->max_g + config->overload_g || bench->open_bridge;

	if (over)
		counts = force_g * counts_per_g > 0.0 ? CODE_MAX : CODE_MIN;
	counts = fmin(fmax(nearbyint(counts), CODE_MIN), CODE_MAX);
	if (counts == CODE_MAX || counts == CODE_MIN)
		*flags |= SCALE_RAIL;
	return (int32_t)counts;
}

int bench_next(struct bench *bench, struct scale_sample *ret_sample)
{
	uint32_t flags = 0;
	int32_t code;

	for (int i = 0; i < SINC4_STEPS; i++)
		step(bench, period_us(bench) * 1e-6 / SINC4_STEPS);
	bench->conversion++;
	bench->periods_since++;
	if (bench->unplugged)
		return 0;
	if (bench->silent_periods > 0) {
		bench->silent_periods--;
		return 0;
	}
	code = convert(bench, &flags);
	if (bench->periods_since > GAP_PERIODS && bench->conversion > 1)
		flags |= SCALE_GAP;
	if (random_uniform(&bench->hand_random) < bench->config.corrupt_ratio) {
		code = corrupt(bench, code);
		bench->silent_periods = RESTART_PERIODS - 1;
	}
	bench->periods_since = 0;
	*ret_sample = (struct scale_sample){bench_time_us(bench), code, flags};
	return 1;
}

void bench_truth(const struct bench *bench, struct bench_truth *ret)
{
	const struct bench_cup *cup = bench->pan.there ? &bench->pan : &bench->hand;

	*ret = (struct bench_truth){
	        .a_g = cup->held_g[STUFF_A],
	        .b_g = cup->held_g[STUFF_B],
	        .tint_g = cup->held_g[STUFF_TINT],
	        .filler_g = cup->held_g[STUFF_FILLER],
	        .cup_g = cup->there ? cup->cup_g : 0.0,
	        .on_pan_g = bench_load(bench),
	        .spilt_g = spilt(bench),
	        .poured_g = bench->poured_g,
	        .away_g = bench->away_g,
	        .flow_g_per_s = bench->flow_g_per_s,
	};
}
