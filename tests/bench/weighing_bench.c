/* SPDX-License-Identifier: MIT */
/* How good the weighing is, side by side with the practice of small scales (the
 * mean of the last 10; "stable" when the last 5 shown lie within 0.1 g) on the
 * very same simulated samples.
 *
 *   weighing_bench [TRIALS] [SEED]      all tables; 2000 trials unless said
 *   weighing_bench --cost SAMPLES ARM   feed that many samples to given, learnt or
 *     practice, print nothing: for counting instructions, see run.sh
 *
 * Pours: rest of 1.0..1.3 s, 0.4 s to 12.8..15 g/s with a wobble of 6 % at 1.3 Hz,
 * a taper to 2 g/s over 1.2 s, a cut in 0.15 s at 4.5..5.5 s, rest until 10 s.
 *   pour error: reading less the force on the cup, while the rate is full
 *   lag: that error over the rate, median
 *   provisional, settled: from the true stop to the first such reading within
 *     0.1 g of the truth; wrong: the first such reading is not
 *   sd at 2.5 s: of the reading less the truth, over the trials */
#include "daemon/weighing/noise.h"
#include "daemon/weighing/weigher.h"
#include "weighing_scene.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define NOISE_G     0.05
#define TOLERANCE_G 0.1
#define ARMS        3
#define REACHED_SD  5.0

enum arm { GIVEN, LEARNT, PRACTICE };

static const char *const arm_name[ARMS] = {"sigma given", "sigma learnt", "practice"};

/* Mean of the last 10, stable when the last 5 shown lie within 0.1 g. */
struct practice {
	double last[10], shown[5];
	uint32_t n;
};

struct view {
	double mass_g, sd_g;
	bool known, still, settled; /* still: provisional or settled */
};

struct arm_state {
	struct weigher *weigher;
	struct practice practice;
};

/* Kept whole so that its instructions can be counted by its name. */
__attribute__((noinline)) static struct view practice_feed(struct practice *practice, double mass_g)
{
	struct view view = {0};
	double sum = 0.0, low = INFINITY, high = -INFINITY;

	practice->last[practice->n % 10] = mass_g;
	for (uint32_t i = 0; i < 10; i++)
		sum += practice->last[i];
	view.known = practice->n >= 9;
	view.mass_g = view.known ? sum / 10.0 : 0.0;
	practice->shown[practice->n % 5] = view.mass_g;
	for (uint32_t i = 0; i < 5; i++) {
		low = fmin(low, practice->shown[i]);
		high = fmax(high, practice->shown[i]);
	}
	view.still = view.settled = practice->n >= 14 && high - low <= 0.1;
	practice->n++;
	return view;
}

static void arm_start(struct arm_state *state, enum arm arm)
{
	const struct weigher_config config = {
	        .calibration = {.degree = 1,
	                        .zero_counts = SCENE_ZERO_COUNTS,
	                        .g_per_count = 1.0 / SCENE_COUNTS_PER_G},
	        .max_g = 3000.0,
	        .interval_g = 0.1,
	        .noise_g = arm == GIVEN ? NOISE_G : 0.0};

	memset(state, 0, sizeof(*state));
	if (arm != PRACTICE && weigher_new(&config, &state->weigher) < 0)
		abort();
}

static void arm_end(struct arm_state *state)
{
	weigher_free(state->weigher);
}

static struct view arm_feed(struct arm_state *state, const struct scene_sample *sample)
{
	const struct weigher_sample raw = {.t_us = sample->t_us, .counts = sample->counts};
	struct reading reading;

	if (state->weigher == NULL)
		return practice_feed(&state->practice,
		                     ((double)sample->counts - SCENE_ZERO_COUNTS) /
		                             SCENE_COUNTS_PER_G);
	weigher_feed(state->weigher, &raw, &reading);
	return (struct view){.mass_g = reading.gross_g,
	                     .sd_g = reading.sd_g,
	                     .known = reading.known,
	                     .still = reading.state == READING_PROVISIONAL ||
	                              reading.state == READING_SETTLED,
	                     .settled = reading.state == READING_SETTLED};
}

/* Growing list of figures, and their order statistics. */
struct figures {
	double *value;
	size_t n, room;
};

static void add(struct figures *figures, double value)
{
	if (figures->n == figures->room) {
		figures->room = figures->room > 0 ? 2 * figures->room : 1024;
		figures->value = realloc(figures->value, figures->room * sizeof(double));
		if (figures->value == NULL)
			abort();
	}
	figures->value[figures->n++] = value;
}

static int by_value(const void *a, const void *b)
{
	const double x = *(const double *)a, y = *(const double *)b;

	return (x > y) - (x < y);
}

static double quantile(struct figures *figures, double part)
{
	if (figures->n == 0)
		return (double)NAN;
	qsort(figures->value, figures->n, sizeof(double), by_value);
	return figures->value[(size_t)(part * (double)(figures->n - 1) + 0.5)];
}

static double rms(const struct figures *figures, bool about_mean)
{
	double sum = 0.0, squares = 0.0;

	for (size_t i = 0; i < figures->n; i++)
		sum += figures->value[i];
	sum = about_mean ? sum / (double)figures->n : 0.0;
	for (size_t i = 0; i < figures->n; i++)
		squares += (figures->value[i] - sum) * (figures->value[i] - sum);
	return sqrt(squares / (double)figures->n);
}

static void empty(struct figures *figures)
{
	free(figures->value);
	*figures = (struct figures){0};
}

struct result {
	struct figures error_g, lag_ms, provisional_ms, settled_ms, late_g;
	uint32_t wrong_settled, wrong_provisional, never;
	uint32_t corrupt, reached;
};

static void judge_pour(const struct scene *scene, const struct view *view, struct result *result)
{
	bool settled_seen = false, settled_right = false, still_seen = false, still_right = false;
	bool late = false;

	for (uint32_t i = 0; i < scene->n; i++) {
		const struct scene_sample *sample = &scene->sample[i];
		const double t = (double)sample->t_us * 1e-6;
		const double error_g = view[i].mass_g - sample->force_g;
		const bool right = fabs(view[i].mass_g - sample->truth_g) <= TOLERANCE_G;

		if (t > 1.9 && t < scene->stop_s - 1.7) {
			add(&result->error_g, error_g);
			add(&result->lag_ms, -1e3 * error_g / fmax(sample->rate_g_per_s, 1.0));
		}
		if (t <= scene->stop_s)
			continue;
		if (view[i].settled && !settled_right) {
			result->wrong_settled += !settled_seen && !right;
			settled_seen = true;
			settled_right = right;
			if (right)
				add(&result->settled_ms, (t - scene->stop_s) * 1e3);
		}
		if (view[i].still && !still_right) {
			result->wrong_provisional += !still_seen && !right;
			still_seen = true;
			still_right = right;
			if (right)
				add(&result->provisional_ms, (t - scene->stop_s) * 1e3);
		}
		if (t >= scene->stop_s + 2.5 && !late) {
			late = true;
			add(&result->late_g, view[i].mass_g - sample->truth_g);
		}
	}
	result->never += !settled_right;
}

/* Does a corrupt read reach what is shown? There are two twins, one fed the same
 * conversions read right, one without the corrupt ones. It does when, within ten
 * samples, the reading lies to its side of both and its error exceeds both by
 * five sd of the reading, or of a sample where that is more. */
static void judge_corrupt(const struct scene *scene, enum arm arm, const struct view *view,
                          struct result *result)
{
	struct arm_state twin[2];
	struct view clean[2] = {0};
	double departure_g = 0.0; /* of the corrupt read */
	uint32_t watched = 0;

	for (int i = 0; i < 2; i++)
		arm_start(&twin[i], arm);
	for (uint32_t i = 0; i < scene->n; i++) {
		const struct scene_sample *sample = &scene->sample[i];
		struct scene_sample right = *sample;
		bool beyond = view[i].known;

		right.counts = sample->right_counts;
		clean[0] = arm_feed(&twin[0], &right);
		if (sample->corrupt) {
			result->corrupt++;
			watched = 10;
			departure_g = (sample->counts - SCENE_ZERO_COUNTS) / SCENE_COUNTS_PER_G -
			              sample->force_g;
		} else {
			clean[1] = arm_feed(&twin[1], sample);
		}
		for (int k = 0; k < 2; k++)
			beyond = beyond && clean[k].known &&
			         (view[i].mass_g - clean[k].mass_g) * departure_g > 0.0 &&
			         fabs(view[i].mass_g - sample->force_g) >
			                 fabs(clean[k].mass_g - sample->force_g) +
			                         REACHED_SD * fmax(NOISE_G, clean[k].sd_g);
		if (watched > 0 && beyond) {
			result->reached++;
			watched = 1;
		}
		watched -= watched > 0;
	}
	for (int i = 0; i < 2; i++)
		arm_end(&twin[i]);
}

static void row(const char *what, const char *format, double given, double learnt, double practice,
                const char *target)
{
	char line[3][32];

	snprintf(line[0], sizeof(line[0]), format, given);
	snprintf(line[1], sizeof(line[1]), format, learnt);
	snprintf(line[2], sizeof(line[2]), format, practice);
	printf("  %-38s %10s %10s %10s", what, line[0], line[1], line[2]);
	if (fabs(practice) > 0.0 && isfinite(practice) && isfinite(learnt))
		printf(" %8.3f", learnt / practice);
	else
		printf(" %8s", "-");
	printf("  %s\n", target);
}

static void heading(const char *title)
{
	printf("\n%s\n  %-38s %10s %10s %10s %8s  %s\n", title, "", "given", "learnt", "practice",
	       "ratio", "target");
}

struct targets {
	const char *lag, *bias, *rms, *provisional, *provisional95, *settled, *settled95, *sd;
};

static void pours(const char *title, const struct scene_config *config, uint32_t trials,
                  uint64_t seed, const struct targets *targets)
{
	static struct scene scene;
	static struct view view[SCENE_SAMPLES_MAX];
	struct result result[ARMS] = {0};
	struct arm_state state;
	double q[ARMS][12];

	for (uint32_t trial = 0; trial < trials; trial++) {
		scene_make(config, seed + trial, &scene);
		for (int arm = 0; arm < ARMS; arm++) {
			arm_start(&state, (enum arm)arm);
			for (uint32_t i = 0; i < scene.n; i++)
				view[i] = arm_feed(&state, &scene.sample[i]);
			arm_end(&state);
			judge_pour(&scene, view, &result[arm]);
			if (config->corrupt > 0.0)
				judge_corrupt(&scene, (enum arm)arm, view, &result[arm]);
		}
	}
	for (int arm = 0; arm < ARMS; arm++) {
		struct result *r = &result[arm];

		q[arm][0] = quantile(&r->lag_ms, 0.5);
		q[arm][1] = quantile(&r->error_g, 0.5);
		q[arm][2] = rms(&r->error_g, false);
		q[arm][3] = quantile(&r->provisional_ms, 0.5);
		q[arm][4] = quantile(&r->provisional_ms, 0.95);
		q[arm][5] = quantile(&r->settled_ms, 0.5);
		q[arm][6] = quantile(&r->settled_ms, 0.95);
		q[arm][7] = 1e3 * rms(&r->late_g, true);
		q[arm][8] = 100.0 * r->wrong_settled / trials;
		q[arm][9] = 100.0 * r->wrong_provisional / trials;
		q[arm][10] = 100.0 * r->never / trials;
		q[arm][11] = 100.0 * r->reached / fmax(r->corrupt, 1.0);
	}
	heading(title);
#define ROW(what, format, index, target)                                                           \
	row(what, format, q[GIVEN][index], q[LEARNT][index], q[PRACTICE][index], target)
	ROW("lag while pouring, ms", "%.1f", 0, targets->lag);
	ROW("error while pouring, median, g", "%+.3f", 1, targets->bias);
	ROW("error while pouring, rms, g", "%.3f", 2, targets->rms);
	ROW("stop to provisional, median, ms", "%.0f", 3, targets->provisional);
	ROW("stop to provisional, p95, ms", "%.0f", 4, targets->provisional95);
	ROW("stop to settled, median, ms", "%.0f", 5, targets->settled);
	ROW("stop to settled, p95, ms", "%.0f", 6, targets->settled95);
	ROW("sd 2.5 s after the stop, mg", "%.2f", 7, targets->sd);
	ROW("first settled is wrong, %", "%.2f", 8, "");
	ROW("first provisional is wrong, %", "%.2f", 9, "");
	ROW("never settled right, %", "%.2f", 10, "");
	if (config->corrupt > 0.0) {
		ROW("corrupt reads that reach it, %", "%.3f", 11, "0");
		printf("  (%u corrupt reads)\n", result[LEARNT].corrupt);
	}
#undef ROW
	for (int arm = 0; arm < ARMS; arm++) {
		empty(&result[arm].error_g);
		empty(&result[arm].lag_ms);
		empty(&result[arm].provisional_ms);
		empty(&result[arm].settled_ms);
		empty(&result[arm].late_g);
	}
}

/* Share of trials in which a steady stream is ever called settled between 2 and
 * 8 s; or a rest that is ever left, once it had 3 s to be found. */
static void steady(const struct scene_config *config, uint32_t trials, uint64_t seed, double from_s,
                   const char *target)
{
	static struct scene scene;
	double settled[ARMS] = {0}, left[ARMS] = {0}, time[ARMS] = {0}, samples = 0.0;
	struct arm_state state;
	char what[80];

	for (uint32_t trial = 0; trial < trials; trial++) {
		scene_make(config, seed + trial, &scene);
		for (int arm = 0; arm < ARMS; arm++) {
			bool any = false, gone = false;

			arm_start(&state, (enum arm)arm);
			for (uint32_t i = 0; i < scene.n; i++) {
				const struct view view = arm_feed(&state, &scene.sample[i]);

				if ((double)scene.sample[i].t_us * 1e-6 <= from_s)
					continue;
				any = any || view.settled;
				gone = gone || !view.still;
				time[arm] += view.settled;
				samples += arm == 0;
			}
			arm_end(&state);
			settled[arm] += any;
			left[arm] += gone;
		}
	}
	for (int arm = 0; arm < ARMS; arm++) {
		settled[arm] *= 100.0 / trials;
		left[arm] *= 100.0 / trials;
		time[arm] *= 100.0 / samples;
	}
	if (config->kind == SCENE_STREAM) {
		snprintf(what, sizeof(what), "%.2f g/s for 6 s: ever settled, %%",
		         config->stream_g_per_s);
		row(what, "%.2f", settled[GIVEN], settled[LEARNT], settled[PRACTICE], target);
		row("                settled, % of time", "%.2f", time[GIVEN], time[LEARNT],
		    time[PRACTICE], "");
	} else {
		snprintf(what, sizeof(what), "rest of %.0f s: false starts, %% of trials",
		         config->duration_s - from_s);
		row(what, "%.2f", left[GIVEN], left[LEARNT], left[PRACTICE], target);
	}
}

static void cost(uint32_t samples, enum arm arm)
{
	static struct scene scene;
	const struct scene_config config = {
	        .kind = SCENE_POUR, .rate_hz = 80.0, .duration_s = 10.0, .noise_g = NOISE_G};
	struct arm_state state;

	scene_make(&config, 1, &scene);
	arm_start(&state, arm);
	for (uint32_t i = 0; i < samples; i++) {
		struct scene_sample sample = scene.sample[i % scene.n];

		sample.t_us += (int64_t)(i / scene.n) * 10000000;
		(void)arm_feed(&state, &sample);
	}
	arm_end(&state);
}

static void all_at(double rate_hz, uint32_t trials, uint64_t seed)
{
	static const struct targets none = {"", "", "", "", "", "", "", ""};
	static const struct targets plain80 = {"< 10",  "< 0.15", "< 0.06", "< 150",
	                                       "< 200", "< 725",  "< 780",  "< 5.5 (limit 5.1)"};
	static const struct targets knocked80 = {"< 10", "< 0.15", "< 0.27", "",
	                                         "",     "< 850",  "< 1300", ""};
	static const struct targets plain10 = {"", "", "", "", "", "< 1600", "< 1700", ""};
	static const double streams[] = {1.0, 0.5, 0.2, 0.1, 0.05};
	const bool fast = rate_hz > 40.0;
	struct scene_config config = {
	        .kind = SCENE_POUR, .rate_hz = rate_hz, .duration_s = 10.0, .noise_g = NOISE_G};
	char title[120];

	snprintf(title, sizeof(title), "%.0f samples/s, pours without knocks or drips", rate_hz);
	pours(title, &config, trials, seed, fast ? &plain80 : &plain10);
	config.knocks = config.drips = true;
	snprintf(title, sizeof(title), "%.0f samples/s, knocks and drips", rate_hz);
	pours(title, &config, trials, seed, fast ? &knocked80 : &none);
	config.knocks = config.drips = false;
	config.corrupt = 0.002;
	config.gaps = true;
	snprintf(title, sizeof(title), "%.0f samples/s, 2 in 1000 read corrupt, each before a gap",
	         rate_hz);
	pours(title, &config, trials, seed, fast ? &plain80 : &plain10);
	config.gaps = false;
	snprintf(title, sizeof(title), "%.0f samples/s, 2 in 1000 read corrupt, without gaps",
	         rate_hz);
	pours(title, &config, trials, seed, fast ? &plain80 : &plain10);

	snprintf(title, sizeof(title), "%.0f samples/s, streams and rests", rate_hz);
	heading(title);
	config = (struct scene_config){
	        .kind = SCENE_STREAM, .rate_hz = rate_hz, .duration_s = 8.0, .noise_g = NOISE_G};
	for (size_t i = 0; i < sizeof(streams) / sizeof(*streams); i++) {
		config.stream_g_per_s = streams[i];
		steady(&config, trials, seed, 2.0, streams[i] >= 0.2 ? "<= 1" : "");
	}
	config.kind = SCENE_REST;
	config.duration_s = 9.0;
	steady(&config, trials, seed, 3.0, "0");
	config.duration_s = 60.0;
	steady(&config, trials / 10 + 1, seed, 3.0, "0");
}

int main(int argc, char **argv)
{
	uint32_t trials = 2000;
	uint64_t seed = 7;

	if (argc == 4 && strcmp(argv[1], "--cost") == 0) {
		cost((uint32_t)strtoul(argv[2], NULL, 10),
		     strcmp(argv[3], "practice") == 0 ? PRACTICE
		     : strcmp(argv[3], "given") == 0  ? GIVEN
		                                      : LEARNT);
		return 0;
	}
	if (argc > 1)
		trials = (uint32_t)strtoul(argv[1], NULL, 10);
	if (argc > 2)
		seed = strtoull(argv[2], NULL, 10);
	if (trials < 1 || trials > 100000) {
		fprintf(stderr, "usage: weighing_bench [TRIALS [SEED]] | --cost SAMPLES ARM; "
		                "1 to 100000 trials\n");
		return 2;
	}
	printf("%u trials a table, seeds %llu to %llu, sigma %.2f g coloured by a sinc^4\n"
	       "arms: %s, %s, %s; ratio: %s over %s\n",
	       trials, (unsigned long long)seed, (unsigned long long)(seed + trials - 1), NOISE_G,
	       arm_name[0], arm_name[1], arm_name[2], arm_name[1], arm_name[2]);
	all_at(80.0, trials, seed);
	all_at(10.0, trials, seed);
	return 0;
}
