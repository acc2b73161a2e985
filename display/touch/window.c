/* SPDX-License-Identifier: MIT */
#include "window.h"

#include <SDL.h>
#include <errno.h>
#include <glob.h>
#include <grp.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "layout.h"

struct window {
	SDL_Window *window;
	SDL_Renderer *renderer;
	SDL_Texture *texture;
	cairo_surface_t *surface;
	cairo_t *cr;
	struct painter *painter;
	struct touch_frame frame;
	double width_mm; /* of the glass, unturned, as wished; 0 as the screen says */
	int picture_width_px, picture_height_px;
	struct scene *shown;
	bool has_shown;
};

static bool in_group(const char *name)
{
	gid_t groups[64];
	int n = getgroups(64, groups);
	struct group *group = getgrnam(name);

	if (!group || getuid() == 0 || getegid() == group->gr_gid)
		return true;
	for (int i = 0; i < n; i++)
		if (groups[i] == group->gr_gid)
			return true;
	return false;
}

void window_refusal(const char *sdl_said, char *ret_sentence)
{
	static const char *const groups[] = {"video", "render", "input"};
	char missing[64] = "";
	glob_t cards = {0};
	bool card;

	if (getenv("DISPLAY") || getenv("WAYLAND_DISPLAY")) {
		snprintf(ret_sentence, WINDOW_SENTENCE_MAX,
		         "no window could be opened (%.200s): is the desktop that DISPLAY or "
		         "WAYLAND_DISPLAY names running?",
		         sdl_said);
		return;
	}
	card = glob("/dev/dri/card*", 0, NULL, &cards) == 0 && cards.gl_pathc > 0;
	globfree(&cards);
	for (size_t i = 0; i < sizeof groups / sizeof *groups; i++)
		if (!in_group(groups[i]))
			snprintf(missing + strlen(missing), sizeof missing - strlen(missing),
			         "%s%s", *missing ? ", " : "", groups[i]);
	if (!card)
		snprintf(ret_sentence, WINDOW_SENTENCE_MAX,
		         "no screen: there is no desktop and no /dev/dri/card*; is the screen's "
		         "driver loaded? (%.200s)",
		         sdl_said);
	else if (*missing)
		snprintf(ret_sentence, WINDOW_SENTENCE_MAX,
		         "the bare screen needs this user in the group(s) %s: usermod -aG, then "
		         "log in again (%.200s)",
		         missing, sdl_said);
	else
		snprintf(ret_sentence, WINDOW_SENTENCE_MAX,
		         "the bare screen could not be taken (%.200s): does a desktop or another "
		         "program hold it?",
		         sdl_said);
}

/* Pixels a millimetre: as declared, else as the screen says, else for 7 inches. */
static double density(const struct window *window, int width_px)
{
	float dpi = 0.0f;
	int display = SDL_GetWindowDisplayIndex(window->window);

	if (window->width_mm > 0.0)
		return width_px / window->width_mm;
	if (display >= 0 && SDL_GetDisplayDPI(display, NULL, &dpi, NULL) == 0 && dpi > 20.0f &&
	    width_px / (dpi / 25.4) >= LAYOUT_SHORT_MM)
		return dpi / 25.4;
	return width_px / LAYOUT_LONG_MM;
}

int window_reshape(struct window *window, int turn_deg)
{
	int w, h;
	bool across = turn_deg == 90 || turn_deg == 270;

	SDL_GetRendererOutputSize(window->renderer, &w, &h);
	if (w <= 0 || h <= 0)
		return -EINVAL;
	window->frame = (struct touch_frame){w, h, turn_deg, density(window, w)};
	window->picture_width_px = across ? h : w;
	window->picture_height_px = across ? w : h;
	cairo_destroy(window->cr);
	cairo_surface_destroy(window->surface);
	if (window->texture)
		SDL_DestroyTexture(window->texture);
	window->surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, window->picture_width_px,
	                                             window->picture_height_px);
	window->cr = cairo_create(window->surface);
	/* Cairo's RGB24 is 0xXXRRGGBB in a word, whatever the machine's byte order. */
	window->texture = SDL_CreateTexture(window->renderer, SDL_PIXELFORMAT_RGB888,
	                                    SDL_TEXTUREACCESS_STREAMING, window->picture_width_px,
	                                    window->picture_height_px);
	window->has_shown = false;
	return window->texture && cairo_status(window->cr) == CAIRO_STATUS_SUCCESS ? 0 : -ENOMEM;
}

/* Where SDL finds no screen it may paint into nothing: only who asks for that wants it. */
static bool is_a_screen(void)
{
	const char *driver = SDL_GetCurrentVideoDriver();

	if (getenv("SDL_VIDEODRIVER") || !driver)
		return driver != NULL;
	if (strcmp(driver, "offscreen") != 0 && strcmp(driver, "dummy") != 0 &&
	    strcmp(driver, "evdev") != 0)
		return true;
	SDL_SetError("only the video driver \"%s\" is left", driver);
	return false;
}

static int open_window(const struct window_wish *wish, struct window *window)
{
	Uint32 flags = wish->full ? SDL_WINDOW_FULLSCREEN_DESKTOP : SDL_WINDOW_RESIZABLE;
	const char *driver = SDL_GetCurrentVideoDriver();

	if (driver && strcmp(driver, "kmsdrm") == 0)
		flags = SDL_WINDOW_FULLSCREEN_DESKTOP;
	window->window = SDL_CreateWindow("Ambo", SDL_WINDOWPOS_UNDEFINED, SDL_WINDOWPOS_UNDEFINED,
	                                  wish->width_px, wish->height_px, flags);
	if (!window->window)
		return -ENODEV;
	if (wish->full || flags == SDL_WINDOW_FULLSCREEN_DESKTOP)
		SDL_ShowCursor(SDL_DISABLE);
	window->renderer = SDL_CreateRenderer(window->window, -1, SDL_RENDERER_SOFTWARE);
	if (!window->renderer)
		window->renderer = SDL_CreateRenderer(window->window, -1, 0);
	return window->renderer ? 0 : -ENODEV;
}

int window_new(const struct window_wish *wish, struct painter *painter, struct window **ret,
               char *ret_sentence)
{
	struct window *window = calloc(1, sizeof *window);
	double w, h;
	int r;

	if (!window || !(window->shown = calloc(1, sizeof *window->shown))) {
		free(window);
		snprintf(ret_sentence, WINDOW_SENTENCE_MAX, "out of memory");
		return -ENOMEM;
	}
	window->painter = painter;
	window->width_mm = wish->width_mm;
	/* One tap is one event, whether of a finger or of a mouse. */
	SDL_SetHint(SDL_HINT_TOUCH_MOUSE_EVENTS, "0");
	SDL_SetHint(SDL_HINT_MOUSE_TOUCH_EVENTS, "0");
	/* A click on a window without the focus counts: there is but this one. */
	SDL_SetHint(SDL_HINT_MOUSE_FOCUS_CLICKTHROUGH, "1");
	SDL_SetHint(SDL_HINT_VIDEO_ALLOW_SCREENSAVER, "0");
	SDL_SetHint(SDL_HINT_NO_SIGNAL_HANDLERS, "1");
	if (SDL_Init(SDL_INIT_VIDEO) < 0 || !is_a_screen() || open_window(wish, window) < 0) {
		window_refusal(SDL_GetError(), ret_sentence);
		window_free(window);
		return -ENODEV;
	}
	r = window_reshape(window, wish->turn_deg);
	if (r < 0) {
		snprintf(ret_sentence, WINDOW_SENTENCE_MAX, "no picture can be made: %s",
		         SDL_GetError());
		window_free(window);
		return r;
	}
	window_size_mm(window, &w, &h);
	r = layout_check(w, h, ret_sentence, WINDOW_SENTENCE_MAX);
	if (r < 0) {
		window_free(window);
		return r;
	}
	*ret = window;
	return 0;
}

void window_free(struct window *window)
{
	if (!window)
		return;
	cairo_destroy(window->cr);
	cairo_surface_destroy(window->surface);
	if (window->texture)
		SDL_DestroyTexture(window->texture);
	if (window->renderer)
		SDL_DestroyRenderer(window->renderer);
	if (window->window)
		SDL_DestroyWindow(window->window);
	SDL_Quit();
	free(window->shown);
	free(window);
}

const struct touch_frame *window_frame(const struct window *window)
{
	return &window->frame;
}

void window_size_mm(const struct window *window, double *ret_width, double *ret_height)
{
	*ret_width = window->picture_width_px / window->frame.px_per_mm;
	*ret_height = window->picture_height_px / window->frame.px_per_mm;
}

static void upload(struct window *window, struct box box)
{
	double px = window->frame.px_per_mm;
	int x0 = (int)fmax(0.0, floor(box.x * px)), y0 = (int)fmax(0.0, floor(box.y * px));
	int x1 = (int)fmin(window->picture_width_px, ceil((box.x + box.w) * px));
	int y1 = (int)fmin(window->picture_height_px, ceil((box.y + box.h) * px));
	const SDL_Rect rect = {x0, y0, x1 - x0, y1 - y0};
	int stride = cairo_image_surface_get_stride(window->surface);
	const unsigned char *pixels = cairo_image_surface_get_data(window->surface);

	if (rect.w > 0 && rect.h > 0)
		SDL_UpdateTexture(window->texture, &rect, pixels + y0 * stride + x0 * 4, stride);
}

void window_again(struct window *window)
{
	const struct touch_frame *frame = &window->frame;
	const SDL_Rect at = {(frame->window_width_px - window->picture_width_px) / 2,
	                     (frame->window_height_px - window->picture_height_px) / 2,
	                     window->picture_width_px, window->picture_height_px};

	if (frame->turn_deg == 0)
		SDL_RenderCopy(window->renderer, window->texture, NULL, NULL);
	else
		SDL_RenderCopyEx(window->renderer, window->texture, NULL, &at, frame->turn_deg,
		                 NULL, SDL_FLIP_NONE);
	SDL_RenderPresent(window->renderer);
}

uint32_t window_show(struct window *window, const struct scene *scene)
{
	struct box dirty[SCENE_DIRTY_MAX];
	uint32_t n = 1;

	if (window->has_shown)
		n = scene_differs(window->shown, scene, dirty);
	else
		dirty[0] = (struct box){0.0, 0.0, scene->page.w + 1.0, scene->page.h + 1.0};
	if (n > 0) {
		painter_paint(window->painter, window->cr, scene, window->frame.px_per_mm, dirty,
		              n);
		cairo_surface_flush(window->surface);
		for (uint32_t i = 0; i < n; i++)
			upload(window, dirty[i]);
		window_again(window);
	}
	/* Also where nothing is to be seen: targets may have moved. */
	*window->shown = *scene;
	window->has_shown = true;
	return n;
}

int window_shot(const struct window *window, const char *path)
{
	return cairo_surface_write_to_png(window->surface, path) == CAIRO_STATUS_SUCCESS ? 0 : -EIO;
}
