/* SPDX-License-Identifier: MIT */
#include "cvode_layer.h"

#include <math.h>
#include <stdlib.h>

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_band.h>
#include <sunmatrix/sunmatrix_band.h>

#define R 8.314462618

/* Its grids and its errors a step, from the first to the last that it tries. */
#define CELLS_FIRST    24
#define CELLS_LAST     1536
#define RELATIVE_FIRST 1e-8
#define RELATIVE_LAST  1e-10

struct grid {
	const struct cvode_layer *layer;
	size_t n; /* nodes, cells + 1; unknowns T0 a0 T1 a1 ... */
	double dz;
};

static double speed(const struct cvode_layer *p, double t, double a)
{
	double theta = (t - 273.15 + 15.0 - p->tg0_degc) / (p->tginf_degc - p->tg0_degc), critical;
	double k1 = p->a1 * exp(-p->e1 / (R * t)), k2 = p->a2 * exp(-p->e2 / (R * t));

	if (theta < 0.0)
		theta = 0.0;
	if (theta > 1.5)
		theta = 1.5;
	critical = theta / (p->lambda + (1.0 - p->lambda) * theta);
	return (k1 + k2 * a) * (1.0 - a) * (p->stoichiometry - a) /
	       (1.0 + exp(30.0 * (a - critical)));
}

static int right_hand_side(realtype t, N_Vector y_vector, N_Vector d_vector, void *user)
{
	const struct grid *g = user;
	const struct cvode_layer *p = g->layer;
	const realtype *y = N_VGetArrayPointer(y_vector);
	realtype *d = N_VGetArrayPointer(d_vector);
	double ambient = p->ambient_degc + 273.15;

	(void)t;
	for (size_t i = 0; i < g->n; i++) {
		double own = y[2 * i], from_below, from_above, size = g->dz;
		double rate = speed(p, own, y[2 * i + 1]);

		from_below =
		        i > 0 ? p->k * (y[2 * i - 2] - own) / g->dz : p->bottom_u * (ambient - own);
		from_above = i + 1 < g->n ? p->k * (y[2 * i + 2] - own) / g->dz
		                          : p->top_h * (ambient - own);
		if (i == 0 || i + 1 == g->n)
			size /= 2.0;
		d[2 * i] = (from_below + from_above) / (p->density * p->cp * size) +
		           p->heat / p->cp * rate;
		d[2 * i + 1] = rate;
	}
	return 0;
}

struct follow {
	void *cvode;
	N_Vector at;
	size_t n;
	struct cvode_answer *answer;
	double gel;
};

static double hottest(const double *y, size_t n)
{
	size_t best = 0;
	double bend, slope;

	for (size_t i = 1; i < n; i++)
		if (y[2 * i] > y[2 * best])
			best = i;
	if (best == 0 || best + 1 == n)
		return y[2 * best];
	bend = y[2 * best + 2] - 2.0 * y[2 * best] + y[2 * best - 2];
	slope = (y[2 * best + 2] - y[2 * best - 2]) / 2.0;
	return bend < 0.0 ? y[2 * best] - slope * slope / (2.0 * bend) : y[2 * best];
}

#define PARTS 16

/* The top of the parabola through the highest of the samples and its neighbours. */
static double summit(const double *v)
{
	int best = 0;
	double bend, slope;

	for (int i = 1; i <= PARTS; i++)
		if (v[i] > v[best])
			best = i;
	if (best == 0 || best == PARTS)
		return v[best];
	bend = v[best + 1] - 2.0 * v[best] + v[best - 1];
	slope = (v[best + 1] - v[best - 1]) / 2.0;
	return bend < 0.0 ? v[best] - slope * slope / (2.0 * bend) : v[best];
}

/* A step's peaks, sampled in CVODE's own interpolant. */
static void peaks(const struct follow *f, double from, double to)
{
	double all[PARTS + 1], middle[PARTS + 1], top[PARTS + 1], bottom[PARTS + 1];
	struct cvode_answer *answer = f->answer;

	for (int i = 0; i <= PARTS; i++) {
		const double *y;

		CVodeGetDky(f->cvode, from + (to - from) * i / PARTS, 0, f->at);
		y = N_VGetArrayPointer(f->at);
		all[i] = hottest(y, f->n) - 273.15;
		middle[i] = y[2 * (f->n / 2)] - 273.15;
		top[i] = y[2 * (f->n - 1)] - 273.15;
		bottom[i] = y[0] - 273.15;
	}
	answer->peak_degc = fmax(answer->peak_degc, summit(all));
	answer->peak_middle_degc = fmax(answer->peak_middle_degc, summit(middle));
	answer->peak_top_degc = fmax(answer->peak_top_degc, summit(top));
	answer->peak_bottom_degc = fmax(answer->peak_bottom_degc, summit(bottom));
}

static double gel_within(const struct follow *f, size_t unknown, double from, double to)
{
	for (int i = 0; i < 60; i++) {
		double middle = (from + to) / 2.0;

		CVodeGetDky(f->cvode, middle, 0, f->at);
		if (N_VGetArrayPointer(f->at)[unknown] < f->gel)
			from = middle;
		else
			to = middle;
	}
	return to;
}

#define OVER_SHARE 0.02
#define OVER_K     1e-5

static int near(double now, double peak, const struct cvode_layer *layer)
{
	return now > peak - 0.2 * fabs(peak - layer->ambient_degc) - 0.05;
}

/* Nothing that is told may still grow: all of it gelled, and all but as cold, or as warm,
 * as the room. */
static int over(const struct follow *f, const double *v, const struct cvode_layer *layer)
{
	double rise = f->answer->peak_degc - layer->ambient_degc;
	double left = rise > 0.0 ? fmax(OVER_SHARE * rise, OVER_K) : OVER_K;

	for (size_t i = 0; i < f->n; i++)
		if (v[2 * i + 1] < f->gel || fabs(v[2 * i] - 273.15 - layer->ambient_degc) > left)
			return 0;
	return 1;
}

static int integrate(const struct cvode_layer *layer, struct follow *f, N_Vector y, double at_s,
                     double until_s)
{
	size_t top = 2 * f->n - 1, middle = 2 * (f->n / 2) + 1;
	struct cvode_answer *answer = f->answer;
	realtype t = 0.0, from = 0.0;
	double *v = N_VGetArrayPointer(y);

	while (t < until_s) {
		int flag = CVode(f->cvode, until_s, y, &t, CV_ONE_STEP);
		double now = -INFINITY;

		if (flag < 0)
			return flag;
		CVodeGetNumSteps(f->cvode, &answer->steps);
		if (answer->steps > CVODE_LAYER_STEPS_MAX)
			return CV_TOO_MUCH_WORK;
		for (size_t i = 0; i < f->n; i++)
			now = fmax(now, v[2 * i] - 273.15);
		/* Sampling costs; it is needed only near a summit of one of them. */
		if (near(now, answer->peak_degc, layer) ||
		    near(v[middle - 1] - 273.15, answer->peak_middle_degc, layer) ||
		    near(v[top - 1] - 273.15, answer->peak_top_degc, layer) ||
		    near(v[0] - 273.15, answer->peak_bottom_degc, layer))
			peaks(f, from, t);
		if (isnan(answer->gel_middle_s) && v[middle] >= f->gel)
			answer->gel_middle_s = gel_within(f, middle, from, t);
		if (isnan(answer->gel_top_s) && v[top] >= f->gel)
			answer->gel_top_s = gel_within(f, top, from, t);
		if (from < at_s && t >= at_s) {
			CVodeGetDky(f->cvode, at_s, 0, f->at);
			answer->at_middle_degc = N_VGetArrayPointer(f->at)[middle - 1] - 273.15;
			answer->at_middle_a = N_VGetArrayPointer(f->at)[middle];
		}
		from = t;
		if (t >= at_s && over(f, v, layer))
			break;
	}
	CVodeGetNumRhsEvals(f->cvode, &answer->rates);
	return 0;
}

int cvode_layer_run(const struct cvode_layer *layer, size_t cells, double relative, double at_s,
                    double until_s, struct cvode_answer *ret)
{
	struct grid grid = {layer, cells + 1, layer->depth_m / (double)cells};
	sunindextype unknowns = (sunindextype)(2 * grid.n);
	double start = layer->start_degc;
	SUNContext context = NULL;
	N_Vector y, tolerance, at;
	SUNMatrix matrix;
	SUNLinearSolver solver;
	void *cvode;
	int flag;

	*ret = (struct cvode_answer){.peak_degc = start,
	                             .peak_middle_degc = start,
	                             .peak_top_degc = start,
	                             .peak_bottom_degc = start,
	                             .gel_middle_s = NAN,
	                             .gel_top_s = NAN};
	if (SUNContext_Create(NULL, &context) != 0)
		return -1;
	y = N_VNew_Serial(unknowns, context);
	tolerance = N_VNew_Serial(unknowns, context);
	at = N_VNew_Serial(unknowns, context);
	for (size_t i = 0; i < grid.n; i++) {
		N_VGetArrayPointer(y)[2 * i] = start + 273.15;
		N_VGetArrayPointer(y)[2 * i + 1] = 0.0;
		/* Relative errors of the rise, some tens of kelvin, and of the conversion. */
		N_VGetArrayPointer(tolerance)[2 * i] = 100.0 * relative;
		N_VGetArrayPointer(tolerance)[2 * i + 1] = relative;
	}
	cvode = CVodeCreate(CV_BDF, context);
	matrix = SUNBandMatrix(unknowns, 2, 2, context);
	solver = SUNLinSol_Band(y, matrix, context);
	CVodeInit(cvode, right_hand_side, 0.0, y);
	CVodeSVtolerances(cvode, 0.0, tolerance);
	CVodeSetUserData(cvode, &grid);
	CVodeSetLinearSolver(cvode, solver, matrix);
	CVodeSetMaxNumSteps(cvode, 1000000);
	CVodeSetStopTime(cvode, until_s); /* else the last step goes past it */
	{
		struct follow follow = {cvode, at, grid.n, ret, layer->gel};

		flag = integrate(layer, &follow, y, at_s, until_s);
	}
	CVodeFree(&cvode);
	SUNLinSolFree(solver);
	SUNMatDestroy(matrix);
	N_VDestroy(y);
	N_VDestroy(tolerance);
	N_VDestroy(at);
	SUNContext_Free(&context);
	return flag;
}

static double beyond(double coarse, double fine)
{
	return fine + (fine - coarse) / 3.0;
}

/* What two grids, the second twice as fine, extrapolate to. */
static struct cvode_answer extrapolated(const struct cvode_answer *coarse,
                                        const struct cvode_answer *fine)
{
	struct cvode_answer out = *fine;

	out.peak_degc = beyond(coarse->peak_degc, fine->peak_degc);
	out.peak_middle_degc = beyond(coarse->peak_middle_degc, fine->peak_middle_degc);
	out.peak_top_degc = beyond(coarse->peak_top_degc, fine->peak_top_degc);
	out.peak_bottom_degc = beyond(coarse->peak_bottom_degc, fine->peak_bottom_degc);
	out.gel_middle_s = beyond(coarse->gel_middle_s, fine->gel_middle_s);
	out.gel_top_s = beyond(coarse->gel_top_s, fine->gel_top_s);
	out.at_middle_degc = beyond(coarse->at_middle_degc, fine->at_middle_degc);
	out.at_middle_a = beyond(coarse->at_middle_a, fine->at_middle_a);
	return out;
}

/* Both unknown, or both within. */
static int alike(double a, double b, double within)
{
	return (isnan(a) && isnan(b)) || fabs(a - b) <= within;
}

static int agree(const struct cvode_answer *a, const struct cvode_answer *b,
                 const struct cvode_within *within)
{
	return alike(a->peak_degc, b->peak_degc, within->kelvin) &&
	       alike(a->peak_middle_degc, b->peak_middle_degc, within->kelvin) &&
	       alike(a->peak_top_degc, b->peak_top_degc, within->kelvin) &&
	       alike(a->peak_bottom_degc, b->peak_bottom_degc, within->kelvin) &&
	       alike(a->at_middle_degc, b->at_middle_degc, within->kelvin) &&
	       alike(a->at_middle_a, b->at_middle_a, within->conversion) &&
	       alike(a->gel_middle_s, b->gel_middle_s, within->gel * fabs(b->gel_middle_s)) &&
	       alike(a->gel_top_s, b->gel_top_s, within->gel * fabs(b->gel_top_s));
}

int cvode_layer_converged(const struct cvode_layer *layer, const struct cvode_within *within,
                          double at_s, double until_s, struct cvode_answer *ret)
{
	double relative = RELATIVE_FIRST;
	struct cvode_answer runs[2], before = {.peak_degc = INFINITY}, now;
	int flag = cvode_layer_run(layer, CELLS_FIRST, relative, at_s, until_s, &runs[0]);

	for (size_t cells = 2 * CELLS_FIRST; flag == 0 && cells <= CELLS_LAST; cells *= 2) {
		relative = fmax(relative / 10.0, RELATIVE_LAST);
		flag = cvode_layer_run(layer, cells, relative, at_s, until_s, &runs[1]);
		if (flag < 0)
			break;
		now = extrapolated(&runs[0], &runs[1]);
		if (agree(&before, &now, within)) {
			*ret = now;
			return 0;
		}
		before = now;
		runs[0] = runs[1];
	}
	return flag < 0 ? flag : CVODE_LAYER_UNRESOLVED;
}
