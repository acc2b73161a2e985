/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <string.h>

#include "draw.h"

#define RAIL_MM   7.6  /* what pointer and notches take, above the beam */
#define WEIGHT_MM 17.0 /* a weight's width */
#define HEAD_ROOM 1.25 /* a weight may overshoot by this much and still show it */

/* One side of the balance: what hangs there, as shares of the plan. */
struct side {
	double plan, solid; /* 1: the plan as it should be in the end */
	bool blank;         /* a counterweight: no part of the batch */
	const char *letter;
	char label[SAY_MAX];
};

struct balance {
	struct beam_scale scale;
	double remaining_g, doubt_g, arm_a_share;
	struct side a, b;
};

static double known(double value, double otherwise)
{
	return isfinite(value) ? value : otherwise;
}

/* Tint, filler and mixed resin have no partner: even arms and a counterweight. */
static void weigh_single(const struct draw *draw, struct balance *balance)
{
	const struct model_batch *batch = &draw->model->batch;

	balance->arm_a_share = 0.5;
	balance->a.plan = balance->b.plan = balance->b.solid = 1.0;
	balance->a.solid = 1.0 - balance->remaining_g / batch->target_g;
	balance->b.blank = true;
	balance->a.letter = "";
	say_component(draw->model, balance->a.label, sizeof balance->a.label);
}

static void weigh_parts(const struct draw *draw, struct balance *balance)
{
	const struct model *model = draw->model;
	const struct model_batch *batch = &model->batch;
	const struct model_system *system = model_system_find(model, batch->system);
	double h_over_r = system && system->ratio > 0.0 ? system->ratio : 1.0;
	double b_over_a = system && strcmp(system->hardener, "a") == 0 ? 1.0 / h_over_r : h_over_r;
	double a_g = known(batch->before_a_g, 0.0), b_g = known(batch->before_b_g, 0.0);
	double done_g = batch->target_g - balance->remaining_g, plan_a_g;

	balance->arm_a_share = beam_arm_a_share(b_over_a);
	/* The growing side's wish sets the plan; the other is what it must balance. */
	if (balance->scale.side == BEAM_A) {
		plan_a_g = a_g + batch->target_g;
		a_g += done_g;
	} else {
		plan_a_g = (b_g + batch->target_g) / b_over_a;
		b_g += done_g;
	}
	balance->a.plan = balance->b.plan = 1.0;
	balance->a.solid = plan_a_g > 0.0 ? a_g / plan_a_g : 0.0;
	balance->b.solid = plan_a_g > 0.0 ? b_g / (plan_a_g * b_over_a) : 0.0;
	balance->a.letter = "A";
	balance->b.letter = "B";
	say_part(model, 0, balance->a.label, sizeof balance->a.label);
	say_part(model, 1, balance->b.label, sizeof balance->b.label);
}

static void draw_weight(const struct draw *draw, const struct side *side, struct box box,
                        double string_from_y, bool hatched)
{
	const struct palette *palette = draw->palette;
	const double string[] = {box.x + box.w / 2.0, string_from_y, box.x + box.w / 2.0, box.y};
	double plan_h = side->plan * box.h / HEAD_ROOM;
	double solid_h = fmin(box.h, fmax(0.0, side->solid) * box.h / HEAD_ROOM);
	struct box plan = {box.x, box.y + box.h - plan_h, box.w, plan_h};
	struct box solid = {box.x, box.y + box.h - solid_h, box.w, solid_h};
	struct scene_style style = {
	        .face = FACE_BOLD,
	        .align = ALIGN_CENTRE,
	        .cap_mm = fmax(draw->layout.text_least_mm,
	                       fmin(draw->layout.text_cap_mm * 1.4, plan_h * 0.62)),
	        .colour = palette->ink,
	        .on = palette->ground};

	scene_line(draw->scene, string, 2, 0.4, palette->line);
	if (side->blank) {
		scene_frame(draw->scene, solid, 0.8, 0.5, false, palette->line);
		return;
	}
	if (solid_h > 0.3) {
		if (hatched)
			scene_hatched(draw->scene, solid, 0.8, palette->poured, palette->hatching);
		else
			scene_rect(draw->scene, solid, 0.8, palette->poured);
	}
	scene_frame(draw->scene, plan, 0.8, 0.5, true, palette->ghost);
	if (!*side->letter)
		return;
	/* The letter on a plate of its own: readable on ghost, solid and hatching. */
	double r = style.cap_mm * 0.85;
	struct box plate = {box.x + box.w / 2.0 - r, plan.y + plan.h / 2.0 - r, 2.0 * r, 2.0 * r};

	scene_rect(draw->scene, plate, r, palette->ground);
	scene_text(draw->scene, plate, &style, side->letter);
}

/* Rail, band, notches, pointer. */
static void draw_rail(const struct draw *draw, const struct balance *balance, double x, double y)
{
	const struct palette *palette = draw->palette;
	const struct beam_scale *scale = &balance->scale;
	const double rail[] = {x - scale->full_mm, y, x + scale->full_mm, y};
	double at = x + beam_pointer_mm(scale, balance->remaining_g);
	double soft = fmax(0.6, beam_doubt_mm(scale, balance->remaining_g, balance->doubt_g));
	bool inside = fabs(at - x) <= scale->notch_mm;
	const double middle[] = {x, y - 1.2, x, y + 1.2};
	const double pointer[] = {at - 2.4, y - 5.0, at + 2.4, y - 5.0, at, y - 0.2};
	struct box band = {x - scale->notch_mm, y - 2.6, 2.0 * scale->notch_mm, 5.2};

	scene_rect(draw->scene, band, 0.0,
	           inside ? palette->tone[TONE_GOOD].ground : palette->raised);
	scene_line(draw->scene, rail, 2, 0.5, palette->line);
	scene_line(draw->scene, middle, 2, 0.5, palette->line);
	for (int side = -1; side <= 1; side += 2) {
		double nx = x + side * scale->notch_mm;
		const double notch[] = {nx, y - 4.4, nx, y + 3.0};

		scene_line(draw->scene, notch, 2, 1.1, palette->ink);
	}
	scene_soft(draw->scene, (struct box){at - 2.0 * soft, y - 3.6, 4.0 * soft, 6.4},
	           palette->poured);
	scene_shape(draw->scene, pointer, 3, palette->ink);
}

/* On both sides of a middle; they stay where they are while the beam moves. */
static void draw_labels(const struct draw *draw, const struct balance *balance, struct box box,
                        double middle_x, double apart)
{
	struct scene_style style = draw_style(draw, draw->palette->ink, draw->palette->ground);
	struct box left = box, right = box;

	left.w = middle_x - apart - box.x;
	right.x = middle_x + apart;
	right.w = box.x + box.w - right.x;
	style.wrap = style.top = true;
	style.align = draw->scene->rtl ? ALIGN_END : ALIGN_START;
	scene_text(draw->scene, left, &style, balance->a.label);
	style.align = draw->scene->rtl ? ALIGN_START : ALIGN_END;
	scene_text(draw->scene, right, &style, balance->b.label);
}

static void draw_balance(const struct draw *draw, const struct balance *balance, struct box box,
                         bool with_labels)
{
	const struct palette *palette = draw->palette;
	double weight_w = fmin(WEIGHT_MM, box.w * 0.2), length = box.w - weight_w;
	double x0 = box.x + weight_w / 2.0, x1 = x0 + length;
	double pivot_x = x0 + balance->arm_a_share * length;
	double longer = fmax(pivot_x - x0, x1 - pivot_x);
	/* The longer arm's end may sink by a fifth of what the height leaves. */
	double drop = fmin(0.17 * (box.h - RAIL_MM), longer * tan(BEAM_TILT_RAD));
	double tilt = atan(drop / longer) / BEAM_TILT_RAD *
	              beam_tilt_rad(&balance->scale, balance->remaining_g);
	double y = box.y + RAIL_MM + drop + 1.0;
	double ya = y - (pivot_x - x0) * tan(tilt), yb = y + (x1 - pivot_x) * tan(tilt);
	/* Where the arms are short, the labels stand under the weights. */
	double below = draw->layout.portrait ? 11.0 : 0.0;
	double hang = 1.7, h = fmin(box.y + box.h - below - y - drop - hang, 32.0);
	const double lever[] = {x0, ya, pivot_x, y, x1, yb};
	double foot = fmin(7.0, h);
	const double stand[] = {pivot_x, y, pivot_x + 3.2, y + foot, pivot_x - 3.2, y + foot};
	struct box a = {x0 - weight_w / 2.0, ya + hang, weight_w, h};
	struct box b = {x1 - weight_w / 2.0, yb + hang, weight_w, h};

	scene_shape(draw->scene, stand, 3, palette->line);
	draw_weight(draw, &balance->a, a, ya, false);
	draw_weight(draw, &balance->b, b, yb, true);
	scene_line(draw->scene, lever, 3, 1.6, palette->ink);
	draw_rail(draw, balance, pivot_x, box.y + RAIL_MM - 2.6);
	if (with_labels && below > 0.0)
		draw_labels(draw, balance,
		            (struct box){box.x, y + drop + hang + h + 2.0, box.w, 9.0},
		            box.x + box.w / 2.0, 2.0);
	else if (with_labels)
		draw_labels(draw, balance,
		            (struct box){a.x + a.w + 2.0, y + drop + hang + 1.5,
		                         box.w - 2.0 * weight_w - 4.0, 9.0},
		            pivot_x, 5.0);
}

void draw_beam(const struct draw *draw, struct box box, bool with_labels)
{
	const struct model_batch *batch = &draw->model->batch;
	const struct ui_charge *charge = &draw->ui->charge;
	bool single = strcmp(batch->component, "a") != 0 && strcmp(batch->component, "b") != 0;
	struct balance balance = {.doubt_g = known(draw->model->reading.doubt_g, 0.0)};
	double weight_w = fmin(WEIGHT_MM, box.w * 0.2), pivot_x;

	balance.remaining_g = model_remaining_g(draw->model);
	if (!isfinite(balance.remaining_g) || !isfinite(batch->target_g) || charge->target_g <= 0.0)
		return;
	balance.scale.side = strcmp(batch->component, "b") == 0 ? BEAM_B : BEAM_A;
	if (single)
		weigh_single(draw, &balance);
	else
		weigh_parts(draw, &balance);
	pivot_x = weight_w / 2.0 + balance.arm_a_share * (box.w - weight_w);
	beam_scale_begin(balance.scale.side, charge->target_g, charge->low_g, charge->high_g,
	                 fmin(pivot_x, box.w - pivot_x) - 3.0, &balance.scale);
	draw_balance(draw, &balance, box, with_labels);
}
