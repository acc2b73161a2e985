/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_SCENE_H
#define AMBO_TOUCH_SCENE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "act.h"

/* A screen as a list of drawing calls, in millimetres of the glass: what the screens
 * make, what the painter paints, what a touch is looked up in, and what the tests
 * measure. Two lists compared give the rectangles that must be painted again. */

struct box {
	double x, y, w, h; /* mm, from the upper left */
};

enum scene_kind {
	SCENE_RECT,  /* filled, rounded; hatched on top where hatch says so */
	SCENE_FRAME, /* outline inside the box; dashed: a ghost */
	SCENE_TEXT,
	SCENE_LINE,   /* points, width_mm */
	SCENE_SHAPE,  /* points, filled */
	SCENE_SOFT,   /* filled, fading out to both sides */
	SCENE_TARGET, /* nothing to see: here a touch does act */
};

enum scene_align { ALIGN_START, ALIGN_CENTRE, ALIGN_END }; /* START: where reading starts */
enum scene_face { FACE_PLAIN, FACE_BOLD, FACE_NARROW };    /* NARROW: bold and narrow */
enum scene_hatch { HATCH_NONE, HATCH_FALLING };

struct scene_item {
	enum scene_kind kind;
	struct box box;
	uint32_t colour, on; /* 0xRRGGBB; on: what a text stands on */
	double radius_mm, width_mm;
	bool dashed;
	enum scene_hatch hatch;
	enum scene_face face;
	enum scene_align align;
	double cap_mm, cap_min_mm;       /* height of a capital: wished, and the least */
	bool wrap, top;                  /* more than one line; at the top, not in the middle */
	uint32_t text, points, n_points; /* where in the pools */
	struct act act;
	uint64_t hash; /* of all of the above and what the pools hold for it */
};

#define SCENE_ITEMS_MAX  192u
#define SCENE_TEXT_MAX   8192u
#define SCENE_POINTS_MAX 4096u

struct scene {
	struct box page;
	bool rtl; /* the language reads from right to left */
	uint32_t ground;
	uint32_t n_items, n_text, n_points;
	struct scene_item item[SCENE_ITEMS_MAX];
	char text[SCENE_TEXT_MAX];
	double point[SCENE_POINTS_MAX]; /* x, y, x, y ... */
};

void scene_clear(struct scene *scene, double width_mm, double height_mm, bool rtl, uint32_t ground);

/* What does not fit into the list is left out; a test hits the limit. */
void scene_rect(struct scene *scene, struct box box, double radius_mm, uint32_t colour);
void scene_hatched(struct scene *scene, struct box box, double radius_mm, uint32_t colour,
                   uint32_t hatching);
void scene_frame(struct scene *scene, struct box box, double radius_mm, double width_mm,
                 bool dashed, uint32_t colour);
void scene_soft(struct scene *scene, struct box box, uint32_t colour);
void scene_line(struct scene *scene, const double *xy, uint32_t n_points, double width_mm,
                uint32_t colour);
void scene_shape(struct scene *scene, const double *xy, uint32_t n_points, uint32_t colour);
void scene_target(struct scene *scene, struct box box, struct act act);

struct scene_style {
	enum scene_face face;
	enum scene_align align;
	double cap_mm, cap_min_mm;
	bool wrap, top;
	uint32_t colour, on;
};
void scene_text(struct scene *scene, struct box box, const struct scene_style *style,
                const char *text);

const char *scene_item_text(const struct scene *scene, const struct scene_item *item);

/* What a touch at this place does; kind ACT_NONE where nothing is live. */
struct act scene_hit(const struct scene *scene, double x_mm, double y_mm, struct box *ret_box);

/* What must be painted again to get from old to now, at most max boxes; 0: nothing
 * moved. Boxes hold all that the items paint. */
#define SCENE_DIRTY_MAX 12u
uint32_t scene_differs(const struct scene *old, const struct scene *now,
                       struct box ret[SCENE_DIRTY_MAX]);

/* The box with what its item may paint outside of it: overshoots, antialiasing. */
struct box scene_bounds(const struct scene_item *item);
struct box box_inset(struct box box, double by_mm);
bool box_meets(struct box a, struct box b);

#endif
