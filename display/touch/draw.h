/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_DRAW_H
#define AMBO_TOUCH_DRAW_H

#include "say.h"
#include "ui.h"

/* What every screen draws with: the scene it writes, where things stand, the colours,
 * and the pieces that look the same everywhere. */
struct draw {
	struct scene *scene;
	const struct palette *palette;
	struct layout layout;
	const struct model *model;
	const struct ui *ui;
};

/* Text on `on`, at arm's length. */
struct scene_style draw_style(const struct draw *draw, uint32_t colour, uint32_t on);
void draw_sentence(const struct draw *draw, struct box box, const char *text);
void draw_line_of_text(const struct draw *draw, struct box box, enum scene_align align,
                       uint32_t colour, const char *text);

/* What can be touched: a raised panel with its word. */
void draw_button(const struct draw *draw, struct box box, enum tone tone, struct act act,
                 const char *text);
/* The same, with a smaller line under it. */
void draw_button_two(const struct draw *draw, struct box box, struct act act, const char *text,
                     const char *below);

/* The strip: the first button is what a press and the foot do, wide, away from the
 * pouring hand; up to three narrow ones beside it. */
struct strip_button {
	const char *text;
	struct act act; /* ACT_NONE: says that nothing is to be pressed */
	enum tone tone;
};
void draw_strip(const struct draw *draw, const struct strip_button *buttons, int n);

/* "Back", to the batch where one is open. */
void draw_back_button(const struct draw *draw, struct strip_button *ret);

/* A line in bold at the top of what is left. */
void draw_title(const struct draw *draw, struct box *body, const char *text);
/* A grid of targets that fits the body: how many columns and rows a page has. */
void draw_grid(struct box body, int *ret_columns, int *ret_rows);
struct box draw_cell(struct box body, int i, int columns, int rows);
/* The page that is open, of n rows at most @each a page: its first row, and how many pages
 * there are. */
int draw_page(const struct draw *draw, int n, int each, int *ret_first);

/* draw_dial.c. The screen's dial, on a copy of the ui that must outlive it. */
struct dial draw_dial_of(const struct draw *draw, struct ui *ret_copy);
void draw_dial(const struct draw *draw, struct box box, const struct dial *dial);
void draw_steps(const struct draw *draw, struct box box, const struct dial *dial);
void draw_dial_number(const struct draw *draw, struct box box, const struct dial *dial);

/* How high a headline's box is: two lines where one would not hold it. */
double draw_headline_mm(const struct draw *draw, const char *text);
/* A headline on its tone, where it is wide with the tone's shape: tick, arrow,
 * triangle, octagon. */
void draw_headline(const struct draw *draw, struct box box, enum tone tone, const char *text);
void draw_tone_shape(const struct draw *draw, struct box box, enum tone tone, uint32_t colour,
                     uint32_t on);
/* The edge of the glass, seen from the corner of the eye. */
void draw_edge(const struct draw *draw, enum tone tone, bool strong);
/* A caution: a triangle and its sentence. */
void draw_caution(const struct draw *draw, struct box box, const char *text);

/* The screens, one a file. */
void screen_first(const struct draw *draw);
void screen_home(const struct draw *draw);
void screen_amount(const struct draw *draw);
void screen_batch(const struct draw *draw);
void screen_discard(const struct draw *draw);
void screen_records(const struct draw *draw);
void screen_record(const struct draw *draw);
void screen_scale(const struct draw *draw);
void screen_settings(const struct draw *draw);
void screen_bench(const struct draw *draw);
void screen_enter(const struct draw *draw);
void screen_calibrate(const struct draw *draw);
void screen_load(const struct draw *draw);
void screen_check(const struct draw *draw);
/* Asks for a keeper's word: the whole screen. */
void draw_word_asked(const struct draw *draw);
void screen_pieces(const struct draw *draw);
void screen_piece(const struct draw *draw);
void screen_clocks(const struct draw *draw);
void screen_layer_checks(const struct draw *draw);
void screen_drying(const struct draw *draw);
/* The section of the piece that is open, poured solid and planned as ghosts. */
void draw_section(const struct draw *draw, struct box box);
/* A pan from above with a load at a place (-1: the middle, -2: none). */
void draw_pan(const struct draw *draw, struct box box, int place);
void screen_sound(const struct draw *draw);
void screen_heard(const struct draw *draw);

/* The beam of the batch in a box; the parts' labels beside the weights or not. */
void draw_beam(const struct draw *draw, struct box box, bool with_labels);

#endif
