/* SPDX-License-Identifier: MIT */
#include "mesh.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Adds one element, whose lowest node is first, to the sums. */
static void assemble(struct mesh *mesh, size_t first, double length_m,
                     const struct material *material, double *capacity, double *conductance)
{
	const struct lobatto *l = &mesh->lobatto;
	size_t width = LOBATTO_ORDER + 1;
	double heat = material->density_kg_per_m3 * material->cp_j_per_kgk * length_m / 2.0;
	double conduct = material->k_w_per_mk * 2.0 / length_m;

	for (size_t i = 0; i < LOBATTO_NODES; i++) {
		capacity[first + i] += heat * l->weight[i];
		for (size_t j = 0; j <= i; j++)
			conductance[(first + i) * width + LOBATTO_ORDER - i + j] +=
			        conduct * l->stiffness[i][j];
	}
}

/* How much of the border node is fresh resin, by heat capacity. */
static double border_share(const struct mesh *mesh, const struct heat_case *heat)
{
	const struct material *fresh = &heat->resin.material;
	double of_fresh =
	        fresh->density_kg_per_m3 * fresh->cp_j_per_kgk * mesh->length_m[mesh->below];

	if (mesh->below == 0)
		return 1.0;
	return of_fresh / (of_fresh + heat->below.density_kg_per_m3 * heat->below.cp_j_per_kgk *
	                                      mesh->length_m[mesh->below - 1]);
}

void mesh_cut_evenly(struct mesh_cut *cut, const struct heat_case *heat, size_t below, size_t fresh)
{
	cut->below = below;
	cut->fresh = fresh;
	cut->lower = fresh / 2;
	for (size_t e = 0; e < below; e++)
		cut->length_m[e] = heat->below_mm / 1000.0 / (double)below;
	for (size_t e = below; e < below + fresh; e++)
		cut->length_m[e] = heat->depth_mm / 1000.0 / (double)fresh;
}

int mesh_cut_finer(struct mesh_cut *cut, const bool *halve)
{
	const size_t below = cut->below, lower = below + cut->lower, n = below + cut->fresh;
	size_t more = 0;

	for (size_t e = 0; e < n; e++)
		more += halve[e];
	if (n + more > MESH_ELEMENTS_MAX)
		return -ERANGE;
	if (cut->fresh == 1 && halve[below])
		cut->lower = 1;
	/* From the top down, each moves up by as many as are halved below it. */
	for (size_t e = n, to = n + more; e-- > 0;) {
		double length = cut->length_m[e];

		if (!halve[e]) {
			cut->length_m[--to] = length;
			continue;
		}
		cut->length_m[--to] = length / 2.0;
		cut->length_m[--to] = length / 2.0;
		*(e < below ? &cut->below : &cut->fresh) += 1;
		if (e >= below && e < lower)
			cut->lower++;
	}
	return 0;
}

/* Capacity and conductance of all elements, heat of reaction of the fresh ones, and what
 * the faces let through. */
static void fill(struct mesh *mesh, const struct heat_case *heat, double *capacity,
                 double *conductance, double *loss, double *rise_k)
{
	const size_t width = LOBATTO_ORDER + 1, top = mesh->top;
	const double rise = heat->resin.cure.heat_j_per_kg / heat->resin.material.cp_j_per_kgk;

	for (size_t e = 0; e < mesh->below + mesh->fresh; e++)
		assemble(mesh, e * LOBATTO_ORDER, mesh->length_m[e],
		         e < mesh->below ? &heat->below : &heat->resin.material, capacity,
		         conductance);
	for (size_t i = mesh->bottom; i <= top; i++)
		rise_k[i] = rise;
	rise_k[mesh->bottom] = rise * border_share(mesh, heat);
	loss[0] += heat->bottom_w_per_m2k;
	loss[top] += heat->top_w_per_m2k;
	conductance[LOBATTO_ORDER] += loss[0];
	conductance[top * width + LOBATTO_ORDER] += loss[top];
}

int mesh_init(struct mesh *mesh, const struct heat_case *heat, const struct mesh_cut *cut)
{
	const size_t elements = cut->below + cut->fresh, width = LOBATTO_ORDER + 1;
	const size_t n = elements * LOBATTO_ORDER + 1;
	double *capacity, *conductance, *inflow, *loss, *rise_k;

	mesh->memory =
	        calloc(elements + n * (4 + width) + STEPPER_WORK(n, LOBATTO_ORDER), sizeof(double));
	if (!mesh->memory)
		return -ENOMEM;
	mesh->length_m = mesh->memory;
	memcpy(mesh->length_m, cut->length_m, elements * sizeof(double));
	capacity = mesh->length_m + elements;
	inflow = capacity + n;
	loss = inflow + n;
	rise_k = loss + n;
	conductance = rise_k + n;
	mesh->work = conductance + n * width;
	lobatto_init(&mesh->lobatto);
	mesh->below = cut->below;
	mesh->fresh = cut->fresh;
	mesh->bottom = cut->below * LOBATTO_ORDER;
	mesh->middle =
	        mesh->bottom + (cut->lower > 0 ? cut->lower * LOBATTO_ORDER : LOBATTO_ORDER / 2);
	mesh->top = n - 1;
	fill(mesh, heat, capacity, conductance, loss, rise_k);
	mesh->nodes = (struct nodes){.n = n,
	                             .band = LOBATTO_ORDER,
	                             .inert = mesh->bottom,
	                             .capacity = capacity,
	                             .conductance = conductance,
	                             .loss = loss,
	                             .inflow = inflow,
	                             .rise_k = rise_k,
	                             .cure = &heat->resin.cure,
	                             .outside_k = heat->ambient_degc + CURE_ZERO_DEGC_K};
	return 0;
}

void mesh_done(struct mesh *mesh)
{
	free(mesh->memory);
	mesh->memory = NULL;
}

void mesh_start(const struct mesh *mesh, const struct heat_case *heat, double *t_k, double *a)
{
	double share = border_share(mesh, heat);

	for (size_t i = 0; i < mesh->nodes.n; i++) {
		t_k[i] =
		        (i < mesh->bottom ? heat->below_degc : heat->start_degc) + CURE_ZERO_DEGC_K;
		a[i] = i < mesh->bottom ? 0.0 : heat->start_conversion;
	}
	t_k[mesh->bottom] =
	        share * heat->start_degc + (1.0 - share) * heat->below_degc + CURE_ZERO_DEGC_K;
}

void mesh_carry(const struct mesh *coarse, const bool *halved, const double *values, double *ret)
{
	const struct lobatto *l = &coarse->lobatto;

	*ret++ = values[0];
	for (size_t e = 0; e < coarse->below + coarse->fresh; e++, values += LOBATTO_ORDER) {
		for (size_t i = 1; i < LOBATTO_NODES && halved[e]; i++)
			*ret++ = lobatto_at(l, values, (l->x[i] - 1.0) / 2.0);
		for (size_t i = 1; i < LOBATTO_NODES && halved[e]; i++)
			*ret++ = lobatto_at(l, values, (l->x[i] + 1.0) / 2.0);
		for (size_t i = 1; i < LOBATTO_NODES && !halved[e]; i++)
			*ret++ = values[i];
	}
}

double mesh_tail(const struct mesh *mesh, const double *values, size_t element)
{
	double worst = 0.0;

	values += element * LOBATTO_ORDER;
	for (int row = 0; row < 2; row++) {
		double sum = 0.0;

		/* From the first node on: the sum of a row is zero but for rounding. */
		for (size_t i = 1; i < LOBATTO_NODES; i++)
			sum += mesh->lobatto.tail[row][i] * (values[i] - values[0]);
		worst = fmax(worst, fabs(sum));
	}
	return worst;
}
