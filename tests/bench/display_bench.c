/* SPDX-License-Identifier: MIT */
/* What drawing costs: a full redraw and one of the number alone, by Cairo and Pango as
 * the display does it (into memory, and what is dirty to the window), and the same scene by
 * plain SDL_ttf on SDL's software renderer. Prints ratios. */
#include <SDL.h>
#include <SDL_ttf.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "display/touch/painter.h"
#include "display/touch/say.h"
#include "tests/support/display_states.h"

#define ROUNDS 300
#define FONTS  64

static double now_ms(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (double)now.tv_sec * 1e3 + (double)now.tv_nsec * 1e-6;
}

static int by_size(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;

	return x < y ? -1 : x > y;
}

static double median(double *values, int n)
{
	qsort(values, (size_t)n, sizeof *values, by_size);
	return values[n / 2];
}

struct bench {
	SDL_Window *window;
	SDL_Renderer *renderer;
	SDL_Window *painted; /* Pango's */
	cairo_surface_t *surface;
	cairo_t *cr;
	struct painter *painter;
	double px_per_mm;
	int width_px, height_px;
	struct {
		int face, px;
		TTF_Font *font;
	} fonts[FONTS];
	int n_fonts;
};

static void by_pango(struct bench *bench, const struct scene *scene, const struct box *boxes,
                     uint32_t n)
{
	const struct box all = {0.0, 0.0, scene->page.w, scene->page.h};
	int stride = cairo_image_surface_get_stride(bench->surface);
	SDL_Surface *screen = SDL_GetWindowSurface(bench->painted);
	SDL_Rect rects[SCENE_DIRTY_MAX];
	SDL_Surface *from;

	painter_paint(bench->painter, bench->cr, scene, bench->px_per_mm, boxes, n);
	cairo_surface_flush(bench->surface);
	from = SDL_CreateRGBSurfaceWithFormatFrom(cairo_image_surface_get_data(bench->surface),
	                                          bench->width_px, bench->height_px, 32, stride,
	                                          SDL_PIXELFORMAT_RGB888);
	if (n == 0) {
		boxes = &all;
		n = 1;
	}
	for (uint32_t i = 0; i < n; i++) {
		double px = bench->px_per_mm;
		int x0 = (int)fmax(0.0, boxes[i].x * px), y0 = (int)fmax(0.0, boxes[i].y * px);
		int x1 = (int)fmin(bench->width_px, ceil((boxes[i].x + boxes[i].w) * px));
		int y1 = (int)fmin(bench->height_px, ceil((boxes[i].y + boxes[i].h) * px));
		SDL_Rect to = rects[i] = (SDL_Rect){x0, y0, x1 - x0, y1 - y0};

		SDL_BlitSurface(from, &rects[i], screen, &to);
	}
	SDL_UpdateWindowSurfaceRects(bench->painted, rects, (int)n);
	SDL_FreeSurface(from);
}

static TTF_Font *font_of(struct bench *bench, const struct scene_item *item, double cap_mm)
{
	static const char *const names[] = {"RobotoTTF/Roboto-Regular.ttf",
	                                    "RobotoTTF/Roboto-Bold.ttf",
	                                    "RobotoCondensed-Bold.ttf"};
	int px = (int)(cap_mm * bench->px_per_mm / 0.711);
	char path[256];

	for (int i = 0; i < bench->n_fonts; i++)
		if (bench->fonts[i].face == (int)item->face && bench->fonts[i].px == px)
			return bench->fonts[i].font;
	if (bench->n_fonts == FONTS)
		return bench->fonts[0].font;
	snprintf(path, sizeof path, "/usr/share/fonts/truetype/roboto/unhinted/%s",
	         names[item->face]);
	bench->fonts[bench->n_fonts].face = (int)item->face;
	bench->fonts[bench->n_fonts].px = px;
	bench->fonts[bench->n_fonts].font = TTF_OpenFont(path, px);
	if (!bench->fonts[bench->n_fonts].font) {
		fprintf(stderr, "display_bench: %s\n", TTF_GetError());
		exit(EXIT_FAILURE);
	}
	return bench->fonts[bench->n_fonts++].font;
}

static SDL_Color colour_of(uint32_t colour)
{
	return (SDL_Color){(Uint8)(colour >> 16), (Uint8)(colour >> 8), (Uint8)colour, 255};
}

static void ttf_text(struct bench *bench, const struct scene *scene, const struct scene_item *item)
{
	struct painter_text fit = painter_measure(bench->painter, scene, item, bench->px_per_mm);
	TTF_Font *font = font_of(bench, item, fit.cap_mm);
	double px = bench->px_per_mm;
	SDL_Surface *text;
	SDL_Texture *texture;
	SDL_Rect at;

	if (!font)
		return;
	text = item->wrap ? TTF_RenderUTF8_Blended_Wrapped(font, scene_item_text(scene, item),
	                                                   colour_of(item->colour),
	                                                   (Uint32)(item->box.w * px))
	                  : TTF_RenderUTF8_Blended(font, scene_item_text(scene, item),
	                                           colour_of(item->colour));
	if (!text)
		return;
	texture = SDL_CreateTextureFromSurface(bench->renderer, text);
	at = (SDL_Rect){(int)(item->box.x * px), (int)(item->box.y * px), text->w, text->h};
	SDL_RenderCopy(bench->renderer, texture, NULL, &at);
	SDL_DestroyTexture(texture);
	SDL_FreeSurface(text);
}

static void ttf_item(struct bench *bench, const struct scene *scene, const struct scene_item *item)
{
	double px = bench->px_per_mm;
	const SDL_Rect box = {(int)(item->box.x * px), (int)(item->box.y * px),
	                      (int)(item->box.w * px), (int)(item->box.h * px)};
	SDL_Color c = colour_of(item->colour);
	SDL_Vertex corner[16] = {0};
	int index[48], n = 0;

	SDL_SetRenderDrawColor(bench->renderer, c.r, c.g, c.b, 255);
	switch (item->kind) {
	case SCENE_TEXT:
		ttf_text(bench, scene, item);
		break;
	case SCENE_RECT:
	case SCENE_SOFT:
		SDL_RenderFillRect(bench->renderer, &box);
		break;
	case SCENE_FRAME:
		SDL_RenderDrawRect(bench->renderer, &box);
		break;
	case SCENE_SHAPE:
		for (uint32_t i = 0; i < item->n_points && i < 16; i++) {
			corner[i].position.x = (float)(scene->point[item->points + 2 * i] * px);
			corner[i].position.y = (float)(scene->point[item->points + 2 * i + 1] * px);
			corner[i].color = c;
			if (i >= 2) {
				index[n++] = 0;
				index[n++] = (int)i - 1;
				index[n++] = (int)i;
			}
		}
		SDL_RenderGeometry(bench->renderer, NULL, corner, (int)item->n_points, index, n);
		break;
	case SCENE_LINE:
		for (uint32_t i = 0; i + 1 < item->n_points; i++) {
			const double *p = &scene->point[item->points + 2 * i];

			for (int w = 0; w < (int)fmax(1.0, item->width_mm * px); w++)
				SDL_RenderDrawLine(bench->renderer, (int)(p[0] * px),
				                   (int)(p[1] * px) + w, (int)(p[2] * px),
				                   (int)(p[3] * px) + w);
		}
		break;
	case SCENE_TARGET:
		break;
	}
}

static void by_ttf(struct bench *bench, const struct scene *scene, const struct box *boxes,
                   uint32_t n)
{
	const struct box all = {-1, -1, 1e4, 1e4};

	for (uint32_t b = 0; b < (n ? n : 1); b++) {
		struct box box = n ? boxes[b] : all;
		double px = bench->px_per_mm;
		const SDL_Rect clip = {(int)(box.x * px), (int)(box.y * px), (int)(box.w * px),
		                       (int)(box.h * px)};
		SDL_Color c = colour_of(scene->ground);

		SDL_RenderSetClipRect(bench->renderer, n ? &clip : NULL);
		SDL_SetRenderDrawColor(bench->renderer, c.r, c.g, c.b, 255);
		SDL_RenderFillRect(bench->renderer, NULL);
		for (uint32_t i = 0; i < scene->n_items; i++)
			if (box_meets(scene_bounds(&scene->item[i]), box))
				ttf_item(bench, scene, &scene->item[i]);
	}
	SDL_RenderSetClipRect(bench->renderer, NULL);
	SDL_RenderPresent(bench->renderer);
}

typedef void (*painting)(struct bench *, const struct scene *, const struct box *, uint32_t);

static double time_of(struct bench *bench, painting paint, const struct scene *scene,
                      const struct box *boxes, uint32_t n)
{
	static double took[ROUNDS];

	for (int i = 0; i < 20; i++)
		paint(bench, scene, boxes, n);
	for (int i = 0; i < ROUNDS; i++) {
		double start = now_ms();

		paint(bench, scene, boxes, n);
		took[i] = now_ms() - start;
	}
	return median(took, ROUNDS);
}

static int open_bench(struct bench *bench)
{
	setenv("SDL_VIDEODRIVER", "dummy", 0);
	if (SDL_Init(SDL_INIT_VIDEO) < 0 || TTF_Init() < 0 || painter_new(&bench->painter) < 0)
		return -1;
	bench->width_px = 800;
	bench->height_px = 480;
	bench->px_per_mm = 800 / 154.0;
	bench->window = SDL_CreateWindow("bench", 0, 0, 800, 480, 0);
	bench->renderer =
	        bench->window ? SDL_CreateRenderer(bench->window, -1, SDL_RENDERER_SOFTWARE) : NULL;
	SDL_SetHint(SDL_HINT_FRAMEBUFFER_ACCELERATION, "0");
	bench->painted = SDL_CreateWindow("painted", 0, 0, 800, 480, 0);
	bench->surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, 800, 480);
	bench->cr = cairo_create(bench->surface);
	return bench->renderer && bench->painted ? 0 : -1;
}

int main(void)
{
	static struct bench bench;
	static struct scene scene, next;
	static struct model model;
	static const char *const names[] = {"add-b-near", "ready", "home"};
	struct box dirty[SCENE_DIRTY_MAX], number;
	struct ui ui;
	char sentence[256];

	if (open_bench(&bench) < 0) {
		fprintf(stderr, "display_bench: %s\n", SDL_GetError());
		return EXIT_FAILURE;
	}
	say_language("/nowhere", "en", sentence, sizeof sentence);
	printf("800 x 480, software renderer, median of %d, ms\n", ROUNDS);
	printf("%-28s %10s %10s %8s\n", "", "pango", "SDL_ttf", "ratio");
	for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
		double a, b;

		display_load(names[i], &model, &ui);
		screens_draw(&model, &ui, 154.0, 92.4, &scene);
		a = time_of(&bench, by_pango, &scene, NULL, 0);
		b = time_of(&bench, by_ttf, &scene, NULL, 0);
		printf("full redraw, %-15s %10.3f %10.3f %8.2f\n", names[i], a, b, a / b);
	}
	display_load("add-b-near", &model, &ui);
	screens_draw(&model, &ui, 154.0, 92.4, &scene);
	for (uint32_t i = 0; i < scene.n_items; i++)
		if (strcmp(scene_item_text(&scene, &scene.item[i]), "5.3") == 0)
			number = scene_bounds(&scene.item[i]);
	printf("%-28s %10.3f %10.3f\n", "number only",
	       time_of(&bench, by_pango, &scene, &number, 1),
	       time_of(&bench, by_ttf, &scene, &number, 1));
	model.reading.remaining_g -= 0.4;
	ui_follow(&ui, &model);
	screens_draw(&model, &ui, 154.0, 92.4, &next);
	{
		uint32_t n = scene_differs(&scene, &next, dirty);

		printf("%-28s %10.3f %10.3f   (%u rectangles)\n", "number, beam, deviation",
		       time_of(&bench, by_pango, &next, dirty, n),
		       time_of(&bench, by_ttf, &next, dirty, n), n);
	}
	{
		double start = now_ms();

		for (int i = 0; i < 2000; i++)
			screens_draw(&model, &ui, 154.0, 92.4, &next);
		printf("%-28s %10.3f\n", "making the list", (now_ms() - start) / 2000);
		start = now_ms();
		for (int i = 0; i < 2000; i++)
			scene_differs(&scene, &next, dirty);
		printf("%-28s %10.4f\n", "comparing two lists", (now_ms() - start) / 2000);
	}
	return EXIT_SUCCESS;
}
