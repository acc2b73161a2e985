/* SPDX-License-Identifier: MIT */
#include "stepper.h"

#include <errno.h>
#include <math.h>
#include <stdbool.h>
#include <string.h>

#define STAGES 6
#define GAMMA  0.25

/* Stage i starts from y + sum a[i][j] k_j and its right side has sum c[i][j] k_j / h. */
static const double stage_a[STAGES][STAGES - 1] = {
        {0.0},
        {0.1544000000000000e+01},
        {0.9466785280815826e+00, 0.2557011698983284e+00},
        {0.3314825187068521e+01, 0.2896124015972201e+01, 0.9986419139977817e+00},
        {0.1221224509226641e+01, 0.6019134481288629e+01, 0.1253708332932087e+02,
         -0.6878860361058950e+00},
        {0.1221224509226641e+01, 0.6019134481288629e+01, 0.1253708332932087e+02,
         -0.6878860361058950e+00, 1.0},
};
static const double stage_c[STAGES][STAGES - 1] = {
        {0.0},
        {-0.56688e+01},
        {-0.2430093356833875e+01, -0.2063599157091915e+00},
        {-0.1073529058151375e+00, -0.9594562251023355e+01, -0.2047028614809616e+02},
        {0.7496443313967647e+01, -0.1024680431464352e+02, -0.3399990352819905e+02,
         0.1170890893206160e+02},
        {0.8083246795921522e+01, -0.7981132988064893e+01, -0.3152159432874371e+02,
         0.1631930543123136e+02, -0.6058818238834054e+01},
};
/* The cubic's two inner coefficients from the first five stages. */
static const double dense[2][STAGES - 1] = {
        {0.1012623508344586e+02, -0.7487995877610167e+01, -0.3480091861555747e+02,
         -0.7992771707568823e+01, 0.1025137723295662e+01},
        {-0.6762803392801253e+00, 0.6087714651680015e+01, 0.1643084320892478e+02,
         0.2476722511418386e+02, -0.6594389125716872e+01},
};

#define SAFETY     0.9
#define SHRINK_MIN 0.2
#define GROW_MAX   6.0
/* Of the time so far: below this, time no longer moves. */
#define STEP_LEAST 1e-15

void stepper_init(struct stepper *stepper, const struct nodes *nodes, double tolerance_k,
                  double tolerance_a, double first_step_s, double *work)
{
	size_t n = nodes->n;
	double **parts[] = {&stepper->t_k,    &stepper->a,          &stepper->was_t_k,
	                    &stepper->was_a,  &stepper->trial_t,    &stepper->trial_a,
	                    &stepper->rate,   &stepper->rate_per_k, &stepper->rate_per_a,
	                    &stepper->from_t, &stepper->per_left};

	*stepper = (struct stepper){.nodes = *nodes,
	                            .tolerance_k = tolerance_k,
	                            .tolerance_a = tolerance_a,
	                            .next_step_s = first_step_s};
	memset(work, 0, STEPPER_WORK(n, nodes->band) * sizeof *work);
	for (size_t i = 0; i < sizeof parts / sizeof *parts; i++, work += n)
		*parts[i] = work;
	for (size_t i = 0; i < STAGES; i++, work += 2 * n) {
		stepper->stage_t[i] = work;
		stepper->stage_a[i] = work + n;
	}
	stepper->factor = work;
}

/* What flows into each node: from the outside, and from its neighbours, where what one
 * loses the other gains. */
static void conduct(const struct nodes *nodes, const double *t_k, double *right)
{
	size_t n = nodes->n, width = nodes->band + 1;

	for (size_t i = 0; i < n; i++) {
		const double *row = nodes->conductance + i * width + nodes->band;
		size_t reach = i < nodes->band ? i : nodes->band;
		double in = nodes->inflow[i] + nodes->loss[i] * (nodes->outside_k - t_k[i]);

		for (size_t d = 1; d <= reach; d++) {
			double flow = *(row - d) * (t_k[i - d] - t_k[i]);

			in -= flow;
			right[i - d] += flow;
		}
		right[i] = in;
	}
}

/* LDL' of C (g - ...) + K into factor: column by rows, D on the diagonal. Returns 0,
 * or -EDOM for a step so long that the linear problem itself explodes in it. */
static int factorise(struct stepper *st, double g)
{
	const struct nodes *nodes = &st->nodes;
	size_t n = nodes->n, band = nodes->band, width = band + 1;

	memcpy(st->factor, nodes->conductance, n * width * sizeof *st->factor);
	for (size_t i = 0; i < n; i++) {
		double *row = st->factor + i * width + band - i; /* row[j]: column j */
		size_t first = i < band ? 0 : i - band;
		double left = g - st->rate_per_a[i];

		/* The slope must stay well below g, or growth is not followed but guessed. */
		if (!(left > 0.25 * g))
			return -EDOM;
		st->per_left[i] = 1.0 / left;
		row[i] += nodes->capacity[i] *
		          (g - nodes->rise_k[i] * st->rate_per_k[i] * g * st->per_left[i]);
		for (size_t j = first; j < i; j++) {
			const double *above = st->factor + j * width + band - j;
			size_t from = j < band ? 0 : j - band;

			for (size_t k = from > first ? from : first; k < j; k++)
				row[j] -= row[k] * above[k];
		}
		/* row[j] holds L D up to here. */
		for (size_t j = first; j < i; j++) {
			double ld = row[j];

			row[j] = ld / st->factor[j * width + band];
			row[i] -= ld * row[j];
		}
		if (!(row[i] > 0.0))
			return -EDOM;
	}
	return 0;
}

/* x = (L D L')^-1 x */
static void solve(const struct stepper *st, double *x)
{
	size_t n = st->nodes.n, band = st->nodes.band, width = band + 1;

	for (size_t i = 0; i < n; i++) {
		const double *row = st->factor + i * width + band - i;

		for (size_t j = i < band ? 0 : i - band; j < i; j++)
			x[i] -= row[j] * x[j];
	}
	for (size_t i = 0; i < n; i++)
		x[i] /= st->factor[i * width + band];
	for (size_t i = n; i-- > 0;) {
		const double *row = st->factor + i * width + band - i;

		for (size_t j = i < band ? 0 : i - band; j < i; j++)
			x[j] -= row[j] * x[i];
	}
}

/* into += factor * from, node by node: what a compiler can do several at a time. */
static void add(size_t n, double *restrict into, double factor, const double *restrict from)
{
	for (size_t i = 0; i < n; i++)
		into[i] += factor * from[i];
}

/* Solves stage i at temperatures t, whose rates of cure are in st->rate. */
static void stage(struct stepper *st, int i, double h, const double *t)
{
	const struct nodes *nodes = &st->nodes;
	double *kt = st->stage_t[i], *ka = st->stage_a[i];
	double *from_t = st->from_t;

	memset(from_t, 0, nodes->n * sizeof *from_t);
	memcpy(ka, st->rate, nodes->n * sizeof *ka);
	for (int j = 0; j < i; j++) {
		add(nodes->n, from_t, stage_c[i][j] / h, st->stage_t[j]);
		add(nodes->n, ka, stage_c[i][j] / h, st->stage_a[j]);
	}
	conduct(nodes, t, kt);
	for (size_t n = 0; n < nodes->n; n++) {
		ka[n] *= st->per_left[n];
		kt[n] += nodes->capacity[n] *
		         (from_t[n] + nodes->rise_k[n] * (st->rate[n] + st->rate_per_a[n] * ka[n]));
	}
	solve(st, kt);
	for (size_t n = nodes->inert; n < nodes->n; n++)
		ka[n] += st->rate_per_k[n] * kt[n] * st->per_left[n];
}

static void trial(struct stepper *st, int i)
{
	const struct nodes *nodes = &st->nodes;

	memcpy(st->trial_t, st->t_k, nodes->n * sizeof *st->trial_t);
	memcpy(st->trial_a, st->a, nodes->n * sizeof *st->trial_a);
	for (int j = 0; j < i; j++) {
		add(nodes->n, st->trial_t, stage_a[i][j], st->stage_t[j]);
		add(nodes->n, st->trial_a, stage_a[i][j], st->stage_a[j]);
	}
	for (size_t n = nodes->inert; n < nodes->n; n++)
		st->rate[n] = cure_rate_per_s(nodes->cure, st->trial_t[n], st->trial_a[n]);
}

/* The worst node's error over what is allowed: the last stage is the error. */
static double worst_error(const struct stepper *st)
{
	double worst = 0.0;

	for (size_t n = 0; n < st->nodes.n; n++) {
		double in_t = fabs(st->stage_t[STAGES - 1][n]) / st->tolerance_k;
		double in_a = fabs(st->stage_a[STAGES - 1][n]) / st->tolerance_a;

		if (!isfinite(in_t) || !isfinite(in_a) || st->trial_t[n] < 1.0)
			return INFINITY;
		worst = fmax(worst, fmax(in_t, in_a));
	}
	return worst;
}

/* Tries one step of h; returns its error over the allowed, or INFINITY. */
static double try_step(struct stepper *st, double h)
{
	if (factorise(st, 1.0 / (GAMMA * h)) < 0)
		return INFINITY;
	stage(st, 0, h, st->t_k);
	for (int i = 1; i < STAGES; i++) {
		trial(st, i);
		stage(st, i, h, st->trial_t);
	}
	for (size_t n = 0; n < st->nodes.n; n++) {
		st->trial_t[n] += st->stage_t[STAGES - 1][n];
		st->trial_a[n] += st->stage_a[STAGES - 1][n];
	}
	return worst_error(st);
}

static void slopes(struct stepper *st)
{
	for (size_t n = st->nodes.inert; n < st->nodes.n; n++)
		st->rate[n] = cure_rate_slopes(st->nodes.cure, st->t_k[n], st->a[n],
		                               &st->rate_per_k[n], &st->rate_per_a[n]);
}

static void accept(struct stepper *st, double h)
{
	double *was_t = st->was_t_k, *was_a = st->was_a;

	st->from_s = st->t_s;
	st->step_s = h;
	st->t_s += h;
	st->was_t_k = st->t_k;
	st->was_a = st->a;
	st->t_k = st->trial_t;
	st->a = st->trial_a;
	st->trial_t = was_t;
	st->trial_a = was_a;
	st->steps++;
}

int stepper_step(struct stepper *st, double until_s)
{
	double left_s = until_s - st->t_s;

	if (!(left_s > 0.0))
		return 0;
	for (;;) {
		bool last = st->next_step_s >= left_s;
		double h = last ? left_s : st->next_step_s;
		double error, grow;

		if (!(h > STEP_LEAST * fmax(1.0, st->t_s)))
			return -ERANGE;
		slopes(st); /* a refused step has overwritten the rates */
		error = try_step(st, h);
		grow = error > 0.0 ? SAFETY * pow(error, -0.25) : GROW_MAX;
		grow = fmin(fmax(grow, SHRINK_MIN), GROW_MAX);
		if (error <= 1.0) {
			accept(st, h);
			if (last)
				st->t_s = until_s;
			/* A step cut short at the end says little of the next but never less. */
			st->next_step_s = last ? fmax(st->next_step_s, h * grow) : h * grow;
			return 1;
		}
		st->refused++;
		st->next_step_s = h * grow;
	}
}

static struct cubic node_cubic(const double *y0, const double *y1, double *const stages[], size_t n)
{
	struct cubic cubic = {y0[n], y1[n], 0.0, 0.0};

	for (int j = 0; j < STAGES - 1; j++) {
		cubic.c += dense[0][j] * stages[j][n];
		cubic.d += dense[1][j] * stages[j][n];
	}
	return cubic;
}

struct cubic stepper_t_k(const struct stepper *st, size_t node)
{
	return node_cubic(st->was_t_k, st->t_k, st->stage_t, node);
}

struct cubic stepper_a(const struct stepper *st, size_t node)
{
	return node_cubic(st->was_a, st->a, st->stage_a, node);
}
