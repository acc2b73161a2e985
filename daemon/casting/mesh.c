/* SPDX-License-Identifier: MIT */
#include "mesh.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

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
	double of_fresh = fresh->density_kg_per_m3 * fresh->cp_j_per_kgk * mesh->fresh_m;

	if (mesh->below == 0)
		return 1.0;
	return of_fresh / (of_fresh + heat->below.density_kg_per_m3 * heat->below.cp_j_per_kgk *
	                                      mesh->below_m);
}

int mesh_init(struct mesh *mesh, const struct heat_case *heat, size_t below, size_t fresh)
{
	size_t n = (below + fresh) * LOBATTO_ORDER + 1, width = LOBATTO_ORDER + 1;
	double *capacity, *conductance, *inflow, *rise_k;
	double rise = heat->resin.cure.heat_j_per_kg / heat->resin.material.cp_j_per_kgk;

	mesh->memory = calloc(n * (3 + width) + STEPPER_WORK(n, LOBATTO_ORDER), sizeof(double));
	if (!mesh->memory)
		return -ENOMEM;
	capacity = mesh->memory;
	inflow = capacity + n;
	rise_k = inflow + n;
	conductance = rise_k + n;
	mesh->work = conductance + n * width;
	lobatto_init(&mesh->lobatto);
	mesh->below = below;
	mesh->fresh = fresh;
	mesh->bottom = below * LOBATTO_ORDER;
	mesh->top = n - 1;
	mesh->below_m = below > 0 ? heat->below_mm / 1000.0 / (double)below : 0.0;
	mesh->fresh_m = heat->depth_mm / 1000.0 / (double)fresh;
	for (size_t e = 0; e < below; e++)
		assemble(mesh, e * LOBATTO_ORDER, mesh->below_m, &heat->below, capacity,
		         conductance);
	for (size_t e = below; e < below + fresh; e++)
		assemble(mesh, e * LOBATTO_ORDER, mesh->fresh_m, &heat->resin.material, capacity,
		         conductance);
	for (size_t i = mesh->bottom; i < n; i++)
		rise_k[i] = rise;
	rise_k[mesh->bottom] = rise * border_share(mesh, heat);
	conductance[LOBATTO_ORDER] += heat->bottom_w_per_m2k;
	inflow[0] += heat->bottom_w_per_m2k * (heat->ambient_degc + CURE_ZERO_DEGC_K);
	conductance[(n - 1) * width + LOBATTO_ORDER] += heat->top_w_per_m2k;
	inflow[n - 1] += heat->top_w_per_m2k * (heat->ambient_degc + CURE_ZERO_DEGC_K);
	mesh->nodes = (struct nodes){.n = n,
	                             .band = LOBATTO_ORDER,
	                             .inert = mesh->bottom,
	                             .capacity = capacity,
	                             .conductance = conductance,
	                             .inflow = inflow,
	                             .rise_k = rise_k,
	                             .cure = &heat->resin.cure};
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

double mesh_tail_k(const struct mesh *mesh, const double *t_k, size_t first, size_t n)
{
	double worst = 0.0;

	for (size_t e = first; e < first + n; e++) {
		const double *values = t_k + e * LOBATTO_ORDER;

		for (int row = 0; row < 2; row++) {
			double sum = 0.0;

			/* From the first node on: the sum of a row is zero but for rounding. */
			for (size_t i = 1; i < LOBATTO_NODES; i++)
				sum += mesh->lobatto.tail[row][i] * (values[i] - values[0]);
			worst = fmax(worst, fabs(sum));
		}
	}
	return worst;
}
