/* SPDX-License-Identifier: MIT */
#include "window.h"

#include <SDL.h>
#include <SDL_syswm.h>
#include <errno.h>
#include <glob.h>
#include <grp.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "brightness.h"
#include "layout.h"

struct window {
	SDL_Window *window;
	SDL_Surface *turned; /* the picture as it lies on the window */
	cairo_surface_t *surface;
	cairo_t *cr;
	struct painter *painter;
	struct touch_frame frame;
	double width_mm; /* of the glass, unturned, as wished; 0 as the screen says */
	int picture_width_px, picture_height_px;
	struct scene *shown;
	bool has_shown;
	int dim; /* what channels are multiplied by, of 255 */
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
	const SDL_Surface *screen = SDL_GetWindowSurface(window->window);
	bool across = turn_deg == 90 || turn_deg == 270;

	if (!screen || screen->w <= 0 || screen->h <= 0)
		return -EINVAL;
	window->frame = (struct touch_frame){screen->w, screen->h, turn_deg,
	                                     density(window, screen->w)};
	window->picture_width_px = across ? screen->h : screen->w;
	window->picture_height_px = across ? screen->w : screen->h;
	cairo_destroy(window->cr);
	cairo_surface_destroy(window->surface);
	SDL_FreeSurface(window->turned);
	window->surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, window->picture_width_px,
	                                             window->picture_height_px);
	window->cr = cairo_create(window->surface);
	/* Cairo's RGB24 is 0xXXRRGGBB in a word, whatever the machine's byte order. */
	window->turned = SDL_CreateRGBSurfaceWithFormat(0, screen->w, screen->h, 32,
	                                                SDL_PIXELFORMAT_RGB888);
	if (window->turned && window->dim > 0)
		SDL_SetSurfaceColorMod(window->turned, (Uint8)window->dim, (Uint8)window->dim,
		                       (Uint8)window->dim);
	window->has_shown = false;
	return window->turned && cairo_status(window->cr) == CAIRO_STATUS_SUCCESS ? 0 : -ENOMEM;
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

	/* On a desktop's own window memory is quickest; SDL would else load all of OpenGL to
	 * find out. Other back ends have nothing but that. */
	if (driver && strcmp(driver, "x11") == 0)
		SDL_SetHint(SDL_HINT_FRAMEBUFFER_ACCELERATION, "0");
	if (driver && strcmp(driver, "kmsdrm") == 0)
		flags = SDL_WINDOW_FULLSCREEN_DESKTOP;
	window->window = SDL_CreateWindow("Ambo", SDL_WINDOWPOS_UNDEFINED, SDL_WINDOWPOS_UNDEFINED,
	                                  wish->width_px, wish->height_px, flags);
	if (!window->window)
		return -ENODEV;
	if (wish->full || flags == SDL_WINDOW_FULLSCREEN_DESKTOP)
		SDL_ShowCursor(SDL_DISABLE);
	return SDL_GetWindowSurface(window->window) ? 0 : -ENODEV;
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
	SDL_FreeSurface(window->turned);
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

/* Where the pixels of the picture lie on the window: the first one, and how far it is
 * from one to the next of a row and of a column. In pixels of the window. */
struct walk {
	ptrdiff_t first, along, down;
};

static struct walk walk_of(const struct window *window, ptrdiff_t pitch)
{
	ptrdiff_t w = window->picture_width_px, h = window->picture_height_px;

	switch (window->frame.turn_deg) {
	case 90:
		return (struct walk){h - 1, pitch, -1};
	case 180:
		return (struct walk){(h - 1) * pitch + w - 1, -1, -pitch};
	case 270:
		return (struct walk){(w - 1) * pitch, -pitch, 1};
	default:
		return (struct walk){0, 1, pitch};
	}
}

static SDL_Rect turned_rect(const struct window *window, SDL_Rect rect)
{
	int w = window->picture_width_px, h = window->picture_height_px;

	switch (window->frame.turn_deg) {
	case 90:
		return (SDL_Rect){h - rect.y - rect.h, rect.x, rect.h, rect.w};
	case 180:
		return (SDL_Rect){w - rect.x - rect.w, h - rect.y - rect.h, rect.w, rect.h};
	case 270:
		return (SDL_Rect){rect.y, w - rect.x - rect.w, rect.h, rect.w};
	default:
		return rect;
	}
}

/* One rectangle of the picture to where it lies on the window; returns which. */
static SDL_Rect turn_pixels(struct window *window, struct box box)
{
	double px = window->frame.px_per_mm;
	int x0 = (int)fmax(0.0, floor(box.x * px)), y0 = (int)fmax(0.0, floor(box.y * px));
	int x1 = (int)fmin(window->picture_width_px, ceil((box.x + box.w) * px));
	int y1 = (int)fmin(window->picture_height_px, ceil((box.y + box.h) * px));
	const SDL_Rect rect = {x0, y0, x1 > x0 ? x1 - x0 : 0, y1 > y0 ? y1 - y0 : 0};
	int stride = cairo_image_surface_get_stride(window->surface);
	const unsigned char *from = cairo_image_surface_get_data(window->surface);
	uint32_t *to = window->turned->pixels;
	struct walk walk = walk_of(window, window->turned->pitch / 4);

	for (int y = y0; y < y0 + rect.h; y++) {
		const uint32_t *row = (const uint32_t *)(const void *)(from + y * stride) + x0;
		uint32_t *at = to + walk.first + walk.along * x0 + walk.down * y;

		if (walk.along == 1)
			memcpy(at, row, (size_t)rect.w * sizeof *row);
		for (int x = 0; walk.along != 1 && x < rect.w; x++, at += walk.along)
			*at = row[x];
	}
	return turned_rect(window, rect);
}

/* Only what is dirty goes to the screen. */
static void present(struct window *window, const struct box *dirty, uint32_t n)
{
	SDL_Surface *screen = SDL_GetWindowSurface(window->window);
	SDL_Rect rects[SCENE_DIRTY_MAX];

	for (uint32_t i = 0; i < n; i++) {
		SDL_Rect to = rects[i] = turn_pixels(window, dirty[i]);

		if (screen)
			SDL_BlitSurface(window->turned, &rects[i], screen, &to);
	}
	if (screen)
		SDL_UpdateWindowSurfaceRects(window->window, rects, (int)n);
}

void window_brightness(struct window *window, int pct)
{
	const int dim = brightness_set(BRIGHTNESS_FOLDER, pct) > 0 ? 255 : brightness_factor(pct);

	if (dim == window->dim)
		return;
	window->dim = dim;
	SDL_SetSurfaceColorMod(window->turned, (Uint8)dim, (Uint8)dim, (Uint8)dim);
	window_again(window);
}

void window_again(struct window *window)
{
	SDL_Surface *screen = SDL_GetWindowSurface(window->window);

	if (screen) {
		SDL_BlitSurface(window->turned, NULL, screen, NULL);
		SDL_UpdateWindowSurface(window->window);
	}
}

int window_fd(const struct window *window)
{
#ifdef SDL_VIDEO_DRIVER_X11
	SDL_SysWMinfo info;

	SDL_VERSION(&info.version);
	if (SDL_GetWindowWMInfo(window->window, &info) && info.subsystem == SDL_SYSWM_X11)
		return ConnectionNumber(info.info.x11.display);
#endif
	(void)window;
	return -1;
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
		present(window, dirty, n);
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
