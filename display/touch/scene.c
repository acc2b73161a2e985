/* SPDX-License-Identifier: MIT */
#include "scene.h"

#include <math.h>
#include <string.h>

struct box box_inset(struct box box, double by_mm)
{
	return (struct box){box.x + by_mm, box.y + by_mm, fmax(0.0, box.w - 2.0 * by_mm),
	                    fmax(0.0, box.h - 2.0 * by_mm)};
}

bool box_meets(struct box a, struct box b)
{
	return a.x < b.x + b.w && b.x < a.x + a.w && a.y < b.y + b.h && b.y < a.y + a.h;
}

static struct box box_union(struct box a, struct box b)
{
	double x = fmin(a.x, b.x), y = fmin(a.y, b.y);

	return (struct box){x, y, fmax(a.x + a.w, b.x + b.w) - x, fmax(a.y + a.h, b.y + b.h) - y};
}

void scene_clear(struct scene *scene, double width_mm, double height_mm, bool rtl, uint32_t ground)
{
	scene->page = (struct box){0.0, 0.0, width_mm, height_mm};
	scene->rtl = rtl;
	scene->ground = ground;
	scene->n_items = scene->n_text = scene->n_points = 0;
}

/* FNV-1a, 64 bits. */
static uint64_t hash_more(uint64_t hash, const void *data, size_t n)
{
	const unsigned char *byte = data;

	for (size_t i = 0; i < n; i++)
		hash = (hash ^ byte[i]) * UINT64_C(1099511628211);
	return hash;
}

#define HASH(member) hash = hash_more(hash, &item->member, sizeof item->member)
static uint64_t hash_item(const struct scene *scene, const struct scene_item *item)
{
	uint64_t hash = UINT64_C(14695981039346656037);

	HASH(kind), HASH(box), HASH(colour), HASH(on), HASH(radius_mm), HASH(width_mm);
	HASH(dashed), HASH(hatch), HASH(face), HASH(align), HASH(cap_mm), HASH(cap_min_mm);
	HASH(wrap), HASH(top), HASH(act.kind), HASH(act.value);
	hash = hash_more(hash, &scene->point[item->points],
	                 2u * item->n_points * sizeof *scene->point);
	if (item->kind == SCENE_TEXT)
		hash = hash_more(hash, &scene->text[item->text], strlen(&scene->text[item->text]));
	return hash;
}

static void add(struct scene *scene, struct scene_item *item)
{
	if (scene->n_items == SCENE_ITEMS_MAX)
		return;
	item->hash = hash_item(scene, item);
	scene->item[scene->n_items++] = *item;
}

void scene_rect(struct scene *scene, struct box box, double radius_mm, uint32_t colour)
{
	add(scene,
	    &(struct scene_item){
	            .kind = SCENE_RECT, .box = box, .radius_mm = radius_mm, .colour = colour});
}

void scene_hatched(struct scene *scene, struct box box, double radius_mm, uint32_t colour,
                   uint32_t hatching)
{
	add(scene, &(struct scene_item){.kind = SCENE_RECT,
	                                .box = box,
	                                .radius_mm = radius_mm,
	                                .colour = colour,
	                                .on = hatching,
	                                .hatch = HATCH_FALLING});
}

void scene_frame(struct scene *scene, struct box box, double radius_mm, double width_mm,
                 bool dashed, uint32_t colour)
{
	add(scene, &(struct scene_item){.kind = SCENE_FRAME,
	                                .box = box,
	                                .radius_mm = radius_mm,
	                                .width_mm = width_mm,
	                                .dashed = dashed,
	                                .colour = colour});
}

void scene_soft(struct scene *scene, struct box box, uint32_t colour)
{
	add(scene, &(struct scene_item){.kind = SCENE_SOFT, .box = box, .colour = colour});
}

static void add_points(struct scene *scene, enum scene_kind kind, const double *xy,
                       uint32_t n_points, double width_mm, uint32_t colour)
{
	struct scene_item item = {.kind = kind,
	                          .points = scene->n_points,
	                          .n_points = n_points,
	                          .width_mm = width_mm,
	                          .colour = colour};
	struct box point = {0};

	if (n_points == 0 || scene->n_points + 2u * n_points > SCENE_POINTS_MAX)
		return;
	memcpy(&scene->point[scene->n_points], xy, 2u * n_points * sizeof *xy);
	scene->n_points += 2u * n_points;
	for (uint32_t i = 0; i < n_points; i++) {
		point.x = xy[2u * i];
		point.y = xy[2u * i + 1u];
		item.box = i == 0 ? point : box_union(item.box, point);
	}
	add(scene, &item);
}

void scene_line(struct scene *scene, const double *xy, uint32_t n_points, double width_mm,
                uint32_t colour)
{
	add_points(scene, SCENE_LINE, xy, n_points, width_mm, colour);
}

void scene_shape(struct scene *scene, const double *xy, uint32_t n_points, uint32_t colour)
{
	add_points(scene, SCENE_SHAPE, xy, n_points, 0.0, colour);
}

void scene_target(struct scene *scene, struct box box, struct act act)
{
	add(scene, &(struct scene_item){.kind = SCENE_TARGET, .box = box, .act = act});
}

void scene_text(struct scene *scene, struct box box, const struct scene_style *style,
                const char *text)
{
	size_t n = strlen(text) + 1;

	if (n == 1 || scene->n_text + n > SCENE_TEXT_MAX)
		return;
	memcpy(&scene->text[scene->n_text], text, n);
	add(scene, &(struct scene_item){.kind = SCENE_TEXT,
	                                .box = box,
	                                .face = style->face,
	                                .align = style->align,
	                                .cap_mm = style->cap_mm,
	                                .cap_min_mm = style->cap_min_mm > 0.0 ? style->cap_min_mm
	                                                                      : style->cap_mm,
	                                .wrap = style->wrap,
	                                .top = style->top,
	                                .colour = style->colour,
	                                .on = style->on,
	                                .text = scene->n_text});
	scene->n_text += (uint32_t)n;
}

const char *scene_item_text(const struct scene *scene, const struct scene_item *item)
{
	return item->kind == SCENE_TEXT ? &scene->text[item->text] : "";
}

struct act scene_hit(const struct scene *scene, double x_mm, double y_mm, struct box *ret_box)
{
	for (uint32_t i = scene->n_items; i-- > 0;) {
		const struct scene_item *item = &scene->item[i];

		if (item->kind != SCENE_TARGET || x_mm < item->box.x || y_mm < item->box.y ||
		    x_mm >= item->box.x + item->box.w || y_mm >= item->box.y + item->box.h)
			continue;
		if (ret_box)
			*ret_box = item->box;
		return item->act;
	}
	return (struct act){.kind = ACT_NONE};
}

struct box scene_bounds(const struct scene_item *item)
{
	double across = 0.4, down = 0.4;

	if (item->kind == SCENE_TEXT) {
		across += 0.1 * item->cap_mm;
		down += 0.3 * item->cap_mm; /* descenders, accents on capitals */
	}
	if (item->kind == SCENE_LINE)
		across = down += item->width_mm;
	return (struct box){item->box.x - across, item->box.y - down, item->box.w + 2.0 * across,
	                    item->box.h + 2.0 * down};
}

static double area(struct box box)
{
	return box.w * box.h;
}

/* Adds a box to those that are dirty. Two become one where that is no more to paint;
 * full, the last one grows. */
static uint32_t spoil(struct box *boxes, uint32_t n, struct box box)
{
	for (uint32_t i = 0; i < n;) {
		struct box both = box_union(boxes[i], box);

		if (area(both) > area(boxes[i]) + area(box)) {
			i++;
			continue;
		}
		box = both;
		boxes[i] = boxes[--n];
		i = 0; /* grown, it may take in one that it did not */
	}
	if (n == SCENE_DIRTY_MAX)
		return spoil(boxes, n - 1, box_union(boxes[n - 1], box));
	boxes[n] = box;
	return n + 1;
}

/* A frame is its four sides: what it stands around need not be painted again. */
static uint32_t spoil_item(struct box *boxes, uint32_t n, const struct scene_item *item)
{
	struct box b = scene_bounds(item);
	double thick = item->radius_mm + item->width_mm + (item->box.x - b.x) * 2.0;

	if (item->kind != SCENE_FRAME || b.w < 4.0 * thick || b.h < 4.0 * thick)
		return spoil(boxes, n, b);
	n = spoil(boxes, n, (struct box){b.x, b.y, b.w, thick});
	n = spoil(boxes, n, (struct box){b.x, b.y + b.h - thick, b.w, thick});
	n = spoil(boxes, n, (struct box){b.x, b.y + thick, thick, b.h - 2.0 * thick});
	return spoil(boxes, n,
	             (struct box){b.x + b.w - thick, b.y + thick, thick, b.h - 2.0 * thick});
}

uint32_t scene_differs(const struct scene *old, const struct scene *now,
                       struct box ret[SCENE_DIRTY_MAX])
{
	uint32_t n = 0, most = old->n_items > now->n_items ? old->n_items : now->n_items;

	if (memcmp(&old->page, &now->page, sizeof old->page) != 0 || old->ground != now->ground ||
	    old->rtl != now->rtl) {
		ret[0] = now->page;
		return 1;
	}
	for (uint32_t i = 0; i < most; i++) {
		bool had = i < old->n_items, has = i < now->n_items;

		if (had && has && old->item[i].hash == now->item[i].hash)
			continue;
		if (had && old->item[i].kind != SCENE_TARGET)
			n = spoil_item(ret, n, &old->item[i]);
		if (has && now->item[i].kind != SCENE_TARGET)
			n = spoil_item(ret, n, &now->item[i]);
	}
	return n;
}
