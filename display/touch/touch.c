/* SPDX-License-Identifier: MIT */
#include "touch.h"

#include <math.h>
#include <stddef.h>

#define WET_CONTACTS 3

static double clamped(double share)
{
	return share >= 0.0 ? fmin(share, 1.0) : 0.0; /* NAN too */
}

void touch_convert(const struct touch_frame *frame, double x, double y, double *ret_x_mm,
                   double *ret_y_mm)
{
	double wx = clamped(x) * frame->window_width_px, wy = clamped(y) * frame->window_height_px;
	double px = wx, py = wy;

	switch (frame->turn_deg) {
	case 90:
		px = wy;
		py = frame->window_width_px - wx;
		break;
	case 180:
		px = frame->window_width_px - wx;
		py = frame->window_height_px - wy;
		break;
	case 270:
		px = frame->window_height_px - wy;
		py = wx;
		break;
	default:
		break;
	}
	*ret_x_mm = px / frame->px_per_mm;
	*ret_y_mm = py / frame->px_per_mm;
}

void touch_to_window(const struct touch_frame *frame, double x_mm, double y_mm, double *ret_x_px,
                     double *ret_y_px)
{
	double px = x_mm * frame->px_per_mm, py = y_mm * frame->px_per_mm;

	switch (frame->turn_deg) {
	case 90:
		*ret_x_px = frame->window_width_px - py;
		*ret_y_px = px;
		return;
	case 180:
		*ret_x_px = frame->window_width_px - px;
		*ret_y_px = frame->window_height_px - py;
		return;
	case 270:
		*ret_x_px = py;
		*ret_y_px = frame->window_height_px - px;
		return;
	default:
		*ret_x_px = px;
		*ret_y_px = py;
	}
}

static int count_down(const struct touch *touch)
{
	int n = 0;

	for (int i = 0; i < TOUCH_FINGERS_MAX; i++)
		n += touch->finger[i].down;
	return n;
}

bool touch_any_down(const struct touch *touch)
{
	return count_down(touch) > 0;
}

static struct touch_finger *find(struct touch *touch, int64_t id, bool down)
{
	for (int i = 0; i < TOUCH_FINGERS_MAX; i++)
		if (touch->finger[i].down == down && (!down || touch->finger[i].id == id))
			return &touch->finger[i];
	return NULL;
}

enum touch_result touch_down(struct touch *touch, int64_t id, double x_mm, double y_mm,
                             int64_t t_us)
{
	struct touch_finger *finger = find(touch, id, true);
	int n;

	if (!finger)
		finger = find(touch, id, false);
	if (!finger)
		return TOUCH_WET;
	*finger = (struct touch_finger){true, false, id, t_us, x_mm, y_mm};
	n = count_down(touch);
	/* Two at once: which one was meant is a guess, so neither. */
	for (int i = 0; n > 1 && i < TOUCH_FINGERS_MAX; i++)
		touch->finger[i].spoilt = true;
	return n == WET_CONTACTS ? TOUCH_WET : TOUCH_NOTHING;
}

enum touch_result touch_up(struct touch *touch, int64_t id, double x_mm, double y_mm, int64_t t_us,
                           struct touch_tap *ret)
{
	struct touch_finger *finger = find(touch, id, true);
	int64_t held_us;

	if (!finger)
		return TOUCH_NOTHING;
	finger->down = false;
	held_us = t_us - finger->since_us;
	if (finger->spoilt)
		return TOUCH_NOTHING;
	if (held_us > TOUCH_WET_US)
		return TOUCH_WET;
	if (held_us < TOUCH_SHORTEST_US || held_us > TOUCH_LONGEST_US)
		return TOUCH_NOTHING;
	*ret = (struct touch_tap){finger->x_mm, finger->y_mm, x_mm, y_mm};
	return TOUCH_TAP;
}

enum touch_result touch_tick(struct touch *touch, int64_t t_us)
{
	for (int i = 0; i < TOUCH_FINGERS_MAX; i++) {
		struct touch_finger *finger = &touch->finger[i];

		if (!finger->down || finger->spoilt || t_us - finger->since_us <= TOUCH_WET_US)
			continue;
		finger->spoilt = true;
		return TOUCH_WET;
	}
	return TOUCH_NOTHING;
}
