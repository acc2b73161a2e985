/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_WINDOW_H
#define AMBO_TOUCH_WINDOW_H

#include "painter.h"
#include "touch.h"

/* The window, or the bare screen: a picture of the glass in memory, of which what has
 * changed goes to the screen. With app.c the only one that knows SDL's video. */
struct window;

struct window_wish {
	int width_px, height_px;    /* of the window; not with full */
	double width_mm, height_mm; /* 0: as the screen says */
	int turn_deg;
	bool full;
};

#define WINDOW_SENTENCE_MAX 512

/* SDL is up from here on. -errno with a sentence that says what is missing and what
 * to do: group, device, size. */
int window_new(const struct window_wish *wish, struct painter *painter, struct window **ret,
               char *ret_sentence);
void window_free(struct window *window);

const struct touch_frame *window_frame(const struct window *window);
void window_size_mm(const struct window *window, double *ret_width, double *ret_height);
/* Another turn, or the window has got another size: the next show paints all. */
int window_reshape(struct window *window, int turn_deg);

/* Paints what differs from the scene shown last and presents it. Returns how many
 * rectangles: 0, nothing moved, nothing was touched. */
uint32_t window_show(struct window *window, const struct scene *scene);
/* Becomes readable when a touch or key comes, for poll(). -1: this back end has none, it
 * must be looked at. */
int window_fd(const struct window *window);
/* The window was covered: present again what is there. */
/* Backlight where there is one, else dimmed. */
void window_brightness(struct window *window, int pct);
void window_again(struct window *window);
/* The picture as it is read, to a PNG. */
int window_shot(const struct window *window, const char *path);

/* Why SDL found no screen, from what it said and from what is missing on this system:
 * driver "x11", "kmsdrm" ... as asked for, or "". */
void window_refusal(const char *sdl_said, char *ret_sentence);

#endif
