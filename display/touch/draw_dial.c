/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "draw.h"

/* A number by hand: a ruler from little to much, filled as far as it is set, and
 * buttons that add and take away. */

struct dial draw_dial_of(const struct draw *draw, struct ui *ret_copy)
{
	*ret_copy = *draw->ui; /* the dial points into it */
	return ui_dial(ret_copy, draw->model);
}

static void mark(const struct draw *draw, struct box box, double share, double value)
{
	double half = 8.0, x = box.x + box.w * (draw->scene->rtl ? 1.0 - share : share);
	const double tick[] = {x, box.y + 7.0, x, box.y + 10.0};
	struct scene_style style = draw_style(draw, draw->palette->ink, draw->palette->raised);
	char text[WORDS_NUMBER_MAX];

	style.align = ALIGN_CENTRE;
	style.cap_mm = draw->layout.small_cap_mm;
	scene_line(draw->scene, tick, 2, 0.5, draw->palette->ink);
	say_number(value, value < 1.95 && value != 1.0 ? 1 : 0, text);
	scene_text(draw->scene, (struct box){x - half, box.y + 11.0, 2.0 * half, 7.0}, &style,
	           text);
}

/* 1, 2, 5, 10 ... where the ruler is long; every tenth of a whole where it is short. */
static void marks(const struct draw *draw, struct box box, const struct dial *dial)
{
	static const double steps[] = {1.0, 2.0, 5.0};
	bool narrow = dial->most / dial->least < 8.0;
	double last_x = -1e3, by = dial->most > 3.0 ? 5.0 : 0.2;

	for (int i = 0; i < 60; i++) {
		double value = narrow ? by * ceil(dial->least / by + i)
		                      : steps[i % 3] * pow(10.0, floor(i / 3.0) - 1.0);
		double share, x;

		if (value < dial->least || value > dial->most)
			continue;
		share = log(value / dial->least) / log(dial->most / dial->least);
		x = box.w * share;
		if (x < 8.0 || x > box.w - 8.0 || x - last_x < 13.0)
			continue;
		last_x = x;
		mark(draw, box, share, value);
	}
}

void draw_dial(const struct draw *draw, struct box box, const struct dial *dial)
{
	struct box fill = box;

	scene_rect(draw->scene, box, 2.0, draw->palette->raised);
	fill.h = 6.0;
	fill.w = box.w * dial_at(dial);
	if (draw->scene->rtl)
		fill.x = box.x + box.w - fill.w;
	scene_rect(draw->scene, fill, 2.0, draw->palette->poured);
	marks(draw, box, dial);
	scene_target(draw->scene, box, (struct act){ACT_DIAL, 0});
}

void draw_steps(const struct draw *draw, struct box box, const struct dial *dial)
{
	const double per = dial->decimals > 1 ? 100.0 : 10.0;

	for (int i = 0; i < 6; i++) {
		struct box button = draw->layout.portrait ? layout_column(layout_row(box, i / 3, 2),
		                                                          i < 3 ? i : 5 - i, 3)
		                                          : layout_column(box, i, 6);
		double by = dial->by[i < 3 ? 2 - i : i - 3];
		char number[WORDS_NUMBER_MAX], text[64];
		double y = button.y + 5.5, x = button.x + button.w / 2.0;
		int up = i >= 3 ? -1 : 1;
		const double arrow[] = {x - 4.0, y - 1.8 * up, x + 4.0, y - 1.8 * up,
		                        x,       y + 2.4 * up};
		struct scene_style style =
		        draw_style(draw, draw->palette->ink, draw->palette->raised);

		say_number(by, by >= 1.0 ? 0 : dial->decimals, number);
		snprintf(text, sizeof text, "%s %s", number,
		         strlen(dial->unit) <= 3 ? dial->unit : "");
		draw_button(draw, button, TONE_PLAIN,
		            (struct act){ACT_AMOUNT, (int32_t)lround(-up * by * per)}, "");
		scene_shape(draw->scene, arrow, 3, draw->palette->ink);
		style.align = ALIGN_CENTRE;
		style.face = FACE_BOLD;
		button.y += 8.0;
		button.h -= 9.0;
		scene_text(draw->scene, button, &style, text);
	}
}

void draw_dial_number(const struct draw *draw, struct box box, const struct dial *dial)
{
	struct scene_style style = {.face = FACE_NARROW,
	                            .align = ALIGN_END,
	                            .cap_mm = fmin(20.0, box.h / 1.6),
	                            .cap_min_mm = layout_letter_mm(20.0, LAYOUT_FAR_MM),
	                            .colour = draw->palette->ink,
	                            .on = draw->palette->ground};
	char number[WORDS_NUMBER_MAX], text[64];

	say_number(*dial->value, *dial->value == round(*dial->value) ? 0 : dial->decimals, number);
	snprintf(text, sizeof text, "%s%s%s", number, *dial->unit ? " " : "", dial->unit);
	scene_text(draw->scene, box, &style, text);
}
