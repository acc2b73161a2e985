/* SPDX-License-Identifier: MIT */
#include "plan_print.h"

#include <math.h>
#include <stdio.h>

#include "daemon/casting/checks.h"
#include "output.h"

static const char *coat_name(const struct plan_case *of, const struct plan_layer *layer)
{
	return of->piece.coats[layer->coat].name;
}

/* "2 h 36 min", "3.2 days"; "-" where it never comes. */
static const char *duration(double s, char buffer[24])
{
	if (!isfinite(s))
		snprintf(buffer, 24, "-");
	else if (s < 5400.0)
		snprintf(buffer, 24, "%.0f min", s / 60.0);
	else if (s < 48.0 * 3600.0)
		snprintf(buffer, 24, "%d h %02d min", (int)(s / 3600.0),
		         (int)(fmod(s, 3600.0) / 60.0));
	else
		snprintf(buffer, 24, "%.1f days", s / 86400.0);
	return buffer;
}

static const char *moment(double at_s, char buffer[PLAN_TIME_MAX])
{
	if (isfinite(at_s))
		plan_time_text(at_s, buffer);
	else
		snprintf(buffer, PLAN_TIME_MAX, "-");
	return buffer;
}

static void print_weights(const struct plan_case *of, size_t i)
{
	const struct plan_layer *layer = &of->plan.layers[i];
	const struct piece_coat *coat = &of->piece.coats[layer->coat];

	printf("\nLayer %zu, %s: %.1f mm", i + 1, coat_name(of, layer), layer->depth_mm);
	if (layer->top_coat)
		printf(" over the rim (%.0f %% runs off)", coat->run_off_pct);
	else
		printf(" (from %.1f to %.1f)", layer->from_mm, layer->from_mm + layer->depth_mm);
	printf(", %.0f ml\n", layer->volume_ml);
	printf("  weigh      A %.1f g, B %.1f g", layer->a_g, layer->b_g);
	if (layer->tint_g > 0.0)
		printf(", %s %.2f g", coat->tint[0] ? coat->tint : "tint", layer->tint_g);
	if (layer->batches > 1)
		printf(", in %d batches of %.1f g", layer->batches, layer->batch_g);
	printf(" of %s (%.0f g stay in the cup%s)\n", layer->system, layer->loss_g,
	       layer->batches > 1 ? "s" : "");
}

static void print_layer(const struct plan_case *of, size_t i)
{
	const struct plan_layer *layer = &of->plan.layers[i];
	char one[PLAN_TIME_MAX], other[PLAN_TIME_MAX];
	const double poured = layer->pour_at_s + layer->session_s;

	print_weights(of, i);
	printf("  warm       %.0f C at its peak, %.0f to %.0f C by what is not known (5 to 95 %%); "
	       "at "
	       "most %.0f (%s)\n",
	       layer->peak_degc, layer->peak_band_degc.p5, layer->peak_band_degc.p95,
	       layer->heat_limit_degc, layer->heat_limit_of);
	printf("  depth set  by %s; what would change it: %s\n", plan_rule_name(layer->rule),
	       plan_rule_change(layer->rule));
	printf("  cup        gels after %s\n", duration(layer->cup_gel_s, one));
	printf("  pour       %s%s, about %s\n", moment(layer->pour_at_s, one),
	       layer->sand_first ? " (sand first, wipe off the dust, let the solvent go)" : "",
	       duration(layer->session_s, other));
	if (isfinite(layer->holds_s))
		printf("  inclusions hold from %s\n", moment(poured + layer->holds_s, one));
	printf("  next pour  from %s", moment(poured + layer->opens_s, one));
	if (isfinite(layer->closes_s))
		printf(", until %s without sanding", moment(poured + layer->closes_s, one));
	if (layer->opens_p95_s > layer->opens_s)
		printf("; the gel may keep one waiting until %s: feel it",
		       moment(poured + layer->opens_p95_s, one));
	printf("\n");
	if (layer->edge_tape)
		printf("  edge tape  off from %s\n", moment(poured + layer->opens_s, one));
	printf("  handle     %s, cured through %s\n", moment(poured + layer->handle_s, one),
	       moment(poured + layer->full_cure_s, other));
}

static void print_checks(const struct plan_case *of)
{
	struct layer_check checks[LAYER_CHECKS_MAX];

	for (size_t i = 0; i < of->plan.n_layers; i++) {
		size_t n = layer_checks(&of->piece, &of->plan, i, checks);

		printf("\nCheck, layer %zu\n", i + 1);
		for (size_t c = 0; c < n; c++)
			printf("  [ ] %s: %s\n", layer_check_when(checks[c].when),
			       checks[c].sentence);
	}
}

static void print_seen(const struct plan_case *of)
{
	const struct plan *plan = &of->plan;
	char share[32];

	if (isnan(plan->seen_high))
		return;
	snprintf(share, sizeof(share), "%.0f %%", 100.0 * plan->seen_high);
	if (plan->seen_high - plan->seen_low > 0.005)
		snprintf(share, sizeof(share), "%.0f to %.0f %%", 100.0 * plan->seen_low,
		         100.0 * plan->seen_high);
	printf("Of the light on %s, the lowest inclusion, %s comes back through the tint above "
	       "it\n",
	       of->piece.inclusions[plan->seen_inclusion].name, share);
}

void plan_print_person(const struct plan_case *of)
{
	const struct plan *plan = &of->plan;
	char one[PLAN_TIME_MAX], other[24];

	printf("%s: %zu layers, %.0f ml, %.0f g to weigh; the room at %.1f C\n", of->piece.name,
	       plan->n_layers, plan->volume_ml, plan->total_g, of->piece.room_degc);
	printf("from %s, ", moment(plan->first_pour_at_s, one));
	printf("cured through %s (%s)\n", moment(plan->done_at_s, one),
	       duration(plan->total_s, other));
	for (size_t i = 0; i < plan->n_layers; i++)
		print_layer(of, i);
	printf("\nNeeded");
	for (size_t i = 0; i < plan->n_stock; i++)
		printf("%s %s: A %.0f g, B %.0f g", i ? ";" : "", plan->stock[i].system,
		       plan->stock[i].a_g, plan->stock[i].b_g);
	printf("\n");
	print_seen(of);
	for (size_t i = 0; i < plan->n_warnings; i++)
		printf("Note: %s\n", plan->warnings[i]);
	print_checks(of);
	printf("\nGloves, sleeves, eye protection, fresh air; the safety data sheet comes "
	       "first.\n");
}

static void layer_json(struct json *json, const struct plan_case *of, size_t i)
{
	const struct plan_layer *layer = &of->plan.layers[i];
	const double poured = layer->pour_at_s + layer->session_s;
	struct layer_check checks[LAYER_CHECKS_MAX];
	char text[PLAN_TIME_MAX];
	size_t n;

	json_open(json, NULL, '{');
	json_whole(json, "layer", (int64_t)i + 1);
	json_text(json, "coat", coat_name(of, layer));
	json_text(json, "system", layer->system);
	json_bool(json, "top_coat", layer->top_coat);
	json_number(json, "from_mm", layer->from_mm);
	json_number(json, "depth_mm", layer->depth_mm);
	json_text(json, "rule", plan_rule_name(layer->rule));
	json_text(json, "change", plan_rule_change(layer->rule));
	json_number(json, "label_depth_mm", layer->label_depth_mm);
	json_number(json, "model_p5_depth_mm", layer->model_depth_mm);
	json_number(json, "heat_limit_degc", layer->heat_limit_degc);
	json_text(json, "heat_limit_of", layer->heat_limit_of);
	json_number(json, "volume_ml", layer->volume_ml);
	json_number(json, "in_piece_g", layer->in_piece_g);
	json_number(json, "loss_g", layer->loss_g);
	json_number(json, "total_g", layer->total_g);
	json_number(json, "a_g", layer->a_g);
	json_number(json, "b_g", layer->b_g);
	json_number(json, "tint_g", layer->tint_g);
	json_whole(json, "batches", layer->batches);
	json_number(json, "batch_g", layer->batch_g);
	json_number(json, "cup_gel_s", layer->cup_gel_s);
	json_number(json, "cup_peak_degc", layer->cup_peak_degc);
	json_number(json, "peak_degc", layer->peak_degc);
	json_number(json, "peak_p5_degc", layer->peak_band_degc.p5);
	json_number(json, "peak_p50_degc", layer->peak_band_degc.p50);
	json_number(json, "peak_p95_degc", layer->peak_band_degc.p95);
	json_number(json, "runaway_share", layer->runaway_share);
	json_number(json, "gel_middle_s", layer->gel_middle_s);
	json_number(json, "gel_top_s", layer->gel_top_s);
	json_number(json, "sticky_s", layer->sticky_s);
	json_number(json, "holds_s", layer->holds_s);
	json_number(json, "next_pour_opens_s", layer->opens_s);
	json_number(json, "next_pour_opens_p95_s", layer->opens_p95_s);
	json_number(json, "bond_closes_s", layer->closes_s);
	json_number(json, "bond_closes_p5_s", layer->closes_p5_s);
	json_number(json, "handle_s", layer->handle_s);
	json_number(json, "full_cure_s", layer->full_cure_s);
	json_number(json, "session_at_s", layer->pour_at_s);
	json_number(json, "session_s", layer->session_s);
	json_number(json, "poured_at_s", poured);
	json_text(json, "session_at", moment(layer->pour_at_s, text));
	json_bool(json, "sand_first", layer->sand_first);
	json_open(json, "checks", '[');
	n = layer_checks(&of->piece, &of->plan, i, checks);
	for (size_t c = 0; c < n; c++) {
		json_open(json, NULL, '{');
		json_text(json, "check", layer_check_name(checks[c].check));
		json_text(json, "when", layer_check_when(checks[c].when));
		json_text(json, "sentence", checks[c].sentence);
		json_close(json, '}');
	}
	json_close(json, ']');
	json_close(json, '}');
}

void plan_print_json(const struct plan_case *of)
{
	const struct plan *plan = &of->plan;
	struct json json;

	json_init(&json, stdout, true);
	json_open(&json, NULL, '{');
	json_text(&json, "piece", of->piece.name);
	json_number(&json, "room_degc", of->piece.room_degc);
	json_number(&json, "resin_degc",
	            isnan(of->piece.resin_degc) ? of->piece.room_degc : of->piece.resin_degc);
	json_number(&json, "cavity_height_mm", cavity_height_mm(&of->piece.cavity));
	json_number(&json, "cavity_ml",
	            cavity_volume_ml(&of->piece.cavity, 0.0, cavity_height_mm(&of->piece.cavity)));
	json_whole(&json, "samples", of->request.samples ? of->request.samples : BAND_SAMPLES);
	json_open(&json, "layers", '[');
	for (size_t i = 0; i < plan->n_layers; i++)
		layer_json(&json, of, i);
	json_close(&json, ']');
	json_open(&json, "stock", '[');
	for (size_t i = 0; i < plan->n_stock; i++) {
		json_open(&json, NULL, '{');
		json_text(&json, "system", plan->stock[i].system);
		json_number(&json, "a_g", plan->stock[i].a_g);
		json_number(&json, "b_g", plan->stock[i].b_g);
		if (plan->stock[i].available_a_g >= 0.0)
			json_number(&json, "available_a_g", plan->stock[i].available_a_g);
		if (plan->stock[i].available_b_g >= 0.0)
			json_number(&json, "available_b_g", plan->stock[i].available_b_g);
		json_close(&json, '}');
	}
	json_close(&json, ']');
	json_number(&json, "volume_ml", plan->volume_ml);
	json_number(&json, "total_g", plan->total_g);
	json_number(&json, "first_session_at_s", plan->first_pour_at_s);
	json_number(&json, "done_at_s", plan->done_at_s);
	json_number(&json, "total_s", plan->total_s);
	json_number(&json, "seen_low", plan->seen_low);
	json_number(&json, "seen_high", plan->seen_high);
	json_open(&json, "warnings", '[');
	for (size_t i = 0; i < plan->n_warnings; i++)
		json_text(&json, NULL, plan->warnings[i]);
	json_close(&json, ']');
	json_close(&json, '}');
	printf("\n");
}

void plan_print_refused_json(const struct plan_case *of)
{
	struct json json;

	json_init(&json, stdout, true);
	json_open(&json, NULL, '{');
	json_text(&json, "piece", of->piece.name);
	json_text(&json, "refused", of->sentence);
	json_bool(&json, "runaway", of->plan.runaway);
	json_close(&json, '}');
	printf("\n");
}
