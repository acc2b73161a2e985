/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_TOUCH_H
#define AMBO_TOUCH_TOUCH_H

#include <stdbool.h>
#include <stdint.h>

/* From what the glass reports to one tap. Mouse and finger are two sources of the same
 * pointer; where it is on the picture, and whether it was meant, is decided here. */

/* The picture lies on the window turned clockwise; touches are told unturned. */
struct touch_frame {
	int window_width_px, window_height_px;
	int turn_deg; /* 0, 90, 180, 270 */
	double px_per_mm;
};

/* x, y: shares of the window, 0..1, clamped (a glass reports a little outside of
 * itself; what is no number counts as 0). Gives mm on the picture as it is read. */
void touch_convert(const struct touch_frame *frame, double x, double y, double *ret_x_mm,
                   double *ret_y_mm);
/* The other way, for drawing and tests: mm to pixels of the window. */
void touch_to_window(const struct touch_frame *frame, double x_mm, double y_mm, double *ret_x_px,
                     double *ret_y_px);

#define TOUCH_SHORTEST_US 80000   /* below it a splash, a sleeve */
#define TOUCH_LONGEST_US  1500000 /* above it a hand that rests */
#define TOUCH_WET_US      5000000 /* a wet glove, a drop of resin */
#define TOUCH_FINGERS_MAX 8

enum touch_result {
	TOUCH_NOTHING,
	TOUCH_TAP, /* from where to where: ret */
	TOUCH_WET, /* no finger's: too long, or too large (three contacts at once) */
};

struct touch_finger {
	bool down, spoilt; /* spoilt: told as wet already, or never alone */
	int64_t id, since_us;
	double x_mm, y_mm; /* where it went down */
};

struct touch {
	struct touch_finger finger[TOUCH_FINGERS_MAX];
};

struct touch_tap {
	double from_x_mm, from_y_mm, to_x_mm, to_y_mm;
};

enum touch_result touch_down(struct touch *touch, int64_t id, double x_mm, double y_mm,
                             int64_t t_us);
enum touch_result touch_up(struct touch *touch, int64_t id, double x_mm, double y_mm, int64_t t_us,
                           struct touch_tap *ret);
/* Time passes: TOUCH_WET once for a contact that has been there too long. */
enum touch_result touch_tick(struct touch *touch, int64_t t_us);
bool touch_any_down(const struct touch *touch);

#endif
