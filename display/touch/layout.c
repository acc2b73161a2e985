/* SPDX-License-Identifier: MIT */
#include "layout.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>

double layout_letter_mm(double arc_minutes, double distance_mm)
{
	return 6.283 * distance_mm * arc_minutes / 21600.0;
}

double layout_arc_minutes(double letter_mm, double distance_mm)
{
	return letter_mm * 21600.0 / (6.283 * distance_mm);
}

int layout_check(double width_mm, double height_mm, char *ret_sentence, size_t size)
{
	double longer = fmax(width_mm, height_mm), shorter = fmin(width_mm, height_mm);

	if (longer >= LAYOUT_LONG_MM - LAYOUT_SLACK_MM &&
	    shorter >= LAYOUT_SHORT_MM - LAYOUT_SLACK_MM)
		return 0;
	snprintf(ret_sentence, size,
	         "the screen is %.0f x %.0f mm; gloves need at least %.0f x %.0f mm: use a larger "
	         "one, or correct its size with --mm WIDTHxHEIGHT",
	         longer, shorter, LAYOUT_LONG_MM, LAYOUT_SHORT_MM);
	return -ERANGE;
}

void layout_make(double width_mm, double height_mm, enum hand hand, struct layout *ret)
{
	/* A larger glass is not further away: what is larger on it is the far-off part. */
	double grow = fmin(1.35, fmax(1.0, fmin(width_mm, height_mm) / LAYOUT_SHORT_MM));
	struct box rest = box_inset((struct box){0.0, 0.0, width_mm, height_mm}, LAYOUT_MARGIN_MM);

	*ret = (struct layout){.page = {0.0, 0.0, width_mm, height_mm},
	                       .portrait = height_mm > width_mm,
	                       .hand = hand,
	                       .headline_cap_mm = layout_letter_mm(20.0, LAYOUT_FAR_MM) * grow,
	                       .number_cap_mm = 25.0 * grow,
	                       .text_cap_mm = layout_letter_mm(22.0, LAYOUT_ARM_MM) * grow,
	                       .text_least_mm = layout_letter_mm(16.0, LAYOUT_ARM_MM),
	                       .small_cap_mm = layout_letter_mm(18.0, LAYOUT_ARM_MM)};
	ret->strip = layout_cut_bottom(&rest, LAYOUT_TARGET_MM * fmin(grow, 1.2), LAYOUT_GAP_MM);
	ret->corner = layout_cut_top(&rest, ret->portrait ? 9.6 : 4.6, 1.2);
	ret->body = rest;
}

struct box layout_column(struct box box, int i, int n)
{
	double w = (box.w - LAYOUT_GAP_MM * (n - 1)) / n;

	return (struct box){box.x + i * (w + LAYOUT_GAP_MM), box.y, w, box.h};
}

struct box layout_row(struct box box, int i, int n)
{
	double h = (box.h - LAYOUT_GAP_MM * (n - 1)) / n;

	return (struct box){box.x, box.y + i * (h + LAYOUT_GAP_MM), box.w, h};
}

struct box layout_cut_top(struct box *box, double mm, double gap_mm)
{
	struct box cut = {box->x, box->y, box->w, fmin(mm, box->h)};
	double taken = fmin(mm + gap_mm, box->h);

	box->y += taken;
	box->h -= taken;
	return cut;
}

struct box layout_cut_bottom(struct box *box, double mm, double gap_mm)
{
	double h = fmin(mm, box->h);
	struct box cut = {box->x, box->y + box->h - h, box->w, h};

	box->h -= fmin(mm + gap_mm, box->h);
	return cut;
}

static struct box cut_left(struct box *box, double mm, double gap_mm)
{
	struct box cut = {box->x, box->y, fmin(mm, box->w), box->h};
	double taken = fmin(mm + gap_mm, box->w);

	box->x += taken;
	box->w -= taken;
	return cut;
}

static struct box cut_right(struct box *box, double mm, double gap_mm)
{
	double w = fmin(mm, box->w);
	struct box cut = {box->x + box->w - w, box->y, w, box->h};

	box->w -= fmin(mm + gap_mm, box->w);
	return cut;
}

struct box layout_cut_away(struct box *box, double mm, double gap_mm, enum hand hand)
{
	return hand == HAND_RIGHT ? cut_left(box, mm, gap_mm) : cut_right(box, mm, gap_mm);
}

struct box layout_cut_near(struct box *box, double mm, double gap_mm, enum hand hand)
{
	return hand == HAND_RIGHT ? cut_right(box, mm, gap_mm) : cut_left(box, mm, gap_mm);
}
