/* SPDX-License-Identifier: MIT */
#include "draw.h"

#include <math.h>
#include <string.h>

#define RADIUS_MM 2.0

struct scene_style draw_style(const struct draw *draw, uint32_t colour, uint32_t on)
{
	return (struct scene_style){.face = FACE_PLAIN,
	                            .cap_mm = draw->layout.text_cap_mm,
	                            .cap_min_mm = draw->layout.text_least_mm,
	                            .colour = colour,
	                            .on = on};
}

void draw_sentence(const struct draw *draw, struct box box, const char *text)
{
	struct scene_style style = draw_style(draw, draw->palette->ink, draw->palette->ground);

	style.wrap = style.top = true;
	scene_text(draw->scene, box, &style, text);
}

void draw_line_of_text(const struct draw *draw, struct box box, enum scene_align align,
                       uint32_t colour, const char *text)
{
	struct scene_style style = draw_style(draw, colour, draw->palette->ground);

	style.align = align;
	scene_text(draw->scene, box, &style, text);
}

void draw_button(const struct draw *draw, struct box box, enum tone tone, struct act act,
                 const char *text)
{
	bool plain = tone == TONE_PLAIN;
	uint32_t ground = plain ? draw->palette->raised : draw->palette->tone[tone].ground;
	uint32_t ink = plain ? draw->palette->ink : draw->palette->tone[tone].ink;
	struct scene_style style = draw_style(draw, ink, ground);

	style.face = draw->layout.portrait ? FACE_NARROW : FACE_BOLD;
	style.align = ALIGN_CENTRE;
	style.wrap = true;
	style.cap_mm *= 1.15;
	scene_rect(draw->scene, box, RADIUS_MM, ground);
	scene_text(draw->scene, box_inset(box, 1.5), &style, text);
	scene_target(draw->scene, box, act);
}

void draw_button_two(const struct draw *draw, struct box box, struct act act, const char *text,
                     const char *below)
{
	struct scene_style style = draw_style(draw, draw->palette->ink, draw->palette->raised);
	struct box inner = box_inset(box, 2.5), upper = layout_row(inner, 0, 2);

	scene_rect(draw->scene, box, RADIUS_MM, draw->palette->raised);
	style.face = FACE_BOLD;
	scene_text(draw->scene, upper, &style, text);
	style.face = FACE_PLAIN;
	style.cap_mm = draw->layout.small_cap_mm;
	style.colour = draw->palette->quiet;
	scene_text(draw->scene, layout_row(inner, 1, 2), &style, below);
	scene_target(draw->scene, box, act);
}

void draw_strip(const struct draw *draw, const struct strip_button *buttons, int n)
{
	struct box rest = draw->layout.strip;
	/* Four do not fit side by side on a narrow glass: the small ones stand above. */
	if (n > 3 && draw->layout.portrait) {
		struct box above = rest;

		above.y -= rest.h + LAYOUT_GAP_MM;
		for (int i = 1; i < n; i++)
			draw_button(draw, layout_column(above, i - 1, n - 1), buttons[i].tone,
			            buttons[i].act, buttons[i].text);
		n = 1;
	}
	/* Letters grow with the glass, and what holds them. */
	const double most = 34.0 * draw->layout.text_cap_mm / layout_letter_mm(22.0, LAYOUT_ARM_MM);
	double narrow = fmin(most, (rest.w - LAYOUT_GAP_MM * (n - 1)) / n);

	/* Never narrower than a glove needs; the wide one takes what is left. */
	narrow = fmax(narrow * 0.8, LAYOUT_TARGET_MM);
	for (int i = n - 1; i > 0; i--)
		draw_button(draw, layout_cut_near(&rest, narrow, LAYOUT_GAP_MM, draw->layout.hand),
		            buttons[i].tone, buttons[i].act, buttons[i].text);
	if (buttons[0].act.kind != ACT_NONE) {
		draw_button(draw, rest, buttons[0].tone, buttons[0].act, buttons[0].text);
	} else {
		/* Flat: there is nothing to press. */
		struct scene_style style =
		        draw_style(draw, draw->palette->quiet, draw->palette->ground);

		scene_frame(draw->scene, rest, RADIUS_MM, 0.4, false, draw->palette->raised);
		style.align = ALIGN_CENTRE;
		style.wrap = true;
		scene_text(draw->scene, box_inset(rest, 1.5), &style, buttons[0].text);
	}
}

void draw_grid(struct box body, int *ret_columns, int *ret_rows)
{
	*ret_columns = body.w >= 2.0 * 65.0 + LAYOUT_GAP_MM ? 2 : 1;
	*ret_rows = (int)((body.h + LAYOUT_GAP_MM) / (LAYOUT_TARGET_MM + LAYOUT_GAP_MM));
	if (*ret_rows < 1)
		*ret_rows = 1;
}

struct box draw_cell(struct box body, int i, int columns, int rows)
{
	struct box row = layout_row(body, i / columns, rows);

	row.h = fmin(row.h, 26.0);
	return layout_column(row, i % columns, columns);
}

int draw_page(const struct draw *draw, int n, int each, int *ret_first)
{
	const int pages = each > 0 ? (n + each - 1) / each : 0;

	*ret_first = pages > 0 ? draw->ui->page % pages * each : 0;
	return pages;
}

void draw_title(const struct draw *draw, struct box *body, const char *text)
{
	struct scene_style style = draw_style(draw, draw->palette->ink, draw->palette->ground);

	style.face = FACE_BOLD;
	style.cap_mm *= 1.15;
	/* Not into the corner's line above, nor the list's below. */
	scene_text(draw->scene, layout_cut_top(body, 1.5 * style.cap_mm, 1.2), &style, text);
}

void draw_back_button(const struct draw *draw, struct strip_button *ret)
{
	bool open = ui_batch_open(draw->model);

	*ret = (struct strip_button){open ? _("PRESS: back to the batch") : _("PRESS: back"),
	                             {ACT_GO, open ? SCREEN_BATCH : SCREEN_HOME},
	                             TONE_MUST_ACT};
}

static void shape_tick(const struct draw *draw, struct box b, uint32_t colour)
{
	const double xy[] = {b.x + 0.12 * b.w, b.y + 0.55 * b.h, b.x + 0.40 * b.w,
	                     b.y + 0.84 * b.h, b.x + 0.90 * b.w, b.y + 0.18 * b.h};

	scene_line(draw->scene, xy, 3, b.w * 0.15, colour);
}

static void mark(const struct draw *draw, struct box b, double top, double bottom, uint32_t colour)
{
	const double stem[] = {b.x + b.w / 2.0, b.y + top * b.h, b.x + b.w / 2.0,
	                       b.y + bottom * b.h};
	const double dot[] = {b.x + b.w / 2.0, b.y + (bottom + 0.17) * b.h, b.x + b.w / 2.0,
	                      b.y + (bottom + 0.175) * b.h};

	scene_line(draw->scene, stem, 2, b.w * 0.11, colour);
	scene_line(draw->scene, dot, 2, b.w * 0.13, colour);
}

static void shape_triangle(const struct draw *draw, struct box b, uint32_t colour, uint32_t on)
{
	const double xy[] = {b.x + b.w / 2.0,  b.y, b.x + b.w,
	                     b.y + 0.92 * b.h, b.x, b.y + 0.92 * b.h};

	scene_shape(draw->scene, xy, 3, colour);
	mark(draw, b, 0.36, 0.60, on);
}

static void shape_octagon(const struct draw *draw, struct box b, uint32_t colour, uint32_t on)
{
	double xy[16];

	for (int i = 0; i < 8; i++) {
		xy[2 * i] = b.x + b.w * (0.5 + 0.54 * cos((i + 0.5) * M_PI / 4.0));
		xy[2 * i + 1] = b.y + b.h * (0.5 + 0.54 * sin((i + 0.5) * M_PI / 4.0));
	}
	scene_shape(draw->scene, xy, 8, colour);
	mark(draw, b, 0.22, 0.58, on);
}

/* An arrow: do it now. */
static void shape_arrow(const struct draw *draw, struct box b, uint32_t colour)
{
	const double xy[] = {b.x,
	                     b.y + 0.32 * b.h,
	                     b.x + 0.5 * b.w,
	                     b.y + 0.32 * b.h,
	                     b.x + 0.5 * b.w,
	                     b.y + 0.08 * b.h,
	                     b.x + b.w,
	                     b.y + 0.5 * b.h,
	                     b.x + 0.5 * b.w,
	                     b.y + 0.92 * b.h,
	                     b.x + 0.5 * b.w,
	                     b.y + 0.68 * b.h,
	                     b.x,
	                     b.y + 0.68 * b.h};

	scene_shape(draw->scene, xy, 7, colour);
}

void draw_tone_shape(const struct draw *draw, struct box b, enum tone tone, uint32_t colour,
                     uint32_t on)
{

	switch (tone) {
	case TONE_GOOD:
		shape_tick(draw, b, colour);
		break;
	case TONE_MUST_ACT:
		shape_arrow(draw, b, colour);
		break;
	case TONE_ABNORMAL:
		shape_triangle(draw, b, colour, on);
		break;
	case TONE_DANGER:
		shape_octagon(draw, b, colour, on);
		break;
	case TONE_PLAIN:
	case TONE_COUNT:
		break;
	}
}

double draw_headline_mm(const struct draw *draw, const char *text)
{
	double cap = draw->layout.headline_cap_mm;

	return draw->layout.portrait && words_characters(text) > 9 && strchr(text, ' ') ? 2.5 * cap : cap + 4.5;
}

void draw_headline(const struct draw *draw, struct box box, enum tone tone, const char *text)
{
	uint32_t ground = draw->palette->tone[tone].ground, ink = draw->palette->tone[tone].ink;
	double cap = draw->layout.headline_cap_mm;
	struct box inner = {box.x + 1.5, box.y, box.w - 3.0, box.h}, panel = box;
	/* Tall: more than one line, each word on its own where it must. */
	bool tall = box.h > 2.2 * cap;
	struct scene_style style = {.face = FACE_NARROW,
	                            .align = ALIGN_START,
	                            .cap_mm = cap,
	                            .cap_min_mm = layout_letter_mm(16.0, LAYOUT_FAR_MM),
	                            .wrap = tall,
	                            .colour = ink,
	                            .on = ground};

	/* Two lines fill their box: the panel goes beyond it. */
	if (tall && !draw->layout.portrait)
		panel = (struct box){box.x, box.y - 0.7, box.w, box.h + 1.4};
	scene_rect(draw->scene, panel, RADIUS_MM, ground);
	if (tone != TONE_PLAIN && !tall && !draw->layout.portrait) {
		struct box shape =
		        draw->scene->rtl
		                ? (struct box){inner.x + inner.w - cap,
		                               inner.y + (inner.h - cap) / 2.0, cap, cap}
		                : (struct box){inner.x, inner.y + (inner.h - cap) / 2.0, cap, cap};

		draw_tone_shape(draw, shape, tone, ink, ground);
		inner.w -= cap + 3.0;
		inner.x += draw->scene->rtl ? 0.0 : cap + 3.0;
	}
	scene_text(draw->scene, inner, &style, text);
}

void draw_edge(const struct draw *draw, enum tone tone, bool strong)
{
	if (tone == TONE_PLAIN)
		return;
	scene_frame(draw->scene, draw->layout.page, 0.0, strong ? 1.7 : 0.9, false,
	            draw->palette->tone[tone].edge);
}

void draw_caution(const struct draw *draw, struct box box, const char *text)
{
	struct scene_style style = draw_style(draw, draw->palette->ink, draw->palette->panel);
	struct box inner = box_inset(box, 1.2);
	struct box shape = {inner.x, inner.y + 0.3, 7.0, 7.0};

	if (!*text)
		return;
	scene_rect(draw->scene, box, RADIUS_MM, draw->palette->panel);
	if (draw->scene->rtl)
		shape.x = inner.x + inner.w - 7.0;
	else
		inner.x += 9.0;
	inner.w -= 9.0;
	shape_triangle(draw, shape, draw->palette->tone[TONE_ABNORMAL].ground,
	               draw->palette->tone[TONE_ABNORMAL].ink);
	style.wrap = style.top = true;
	scene_text(draw->scene, inner, &style, text);
}
