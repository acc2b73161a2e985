/* SPDX-License-Identifier: MIT */
#include "panel_button.h"

void panel_button_init(struct panel_button *button, bool down, int64_t now_us)
{
	*button = (struct panel_button){
	        .down = down,
	        .raw = down,
	        .spent = down,
	        .approved = down,
	        .raw_since_us = now_us,
	        .down_since_us = now_us,
	};
}

static enum panel_event change(struct panel_button *button)
{
	const bool meant = button->down && !button->spent;

	button->down = button->raw;
	if (button->down) {
		button->down_since_us = button->raw_since_us;
		button->spent = button->approved = false;
		button->jammed = false;
		return PANEL_NOTHING;
	}
	/* Fed too late to have seen it grow long, it was long all the same. */
	if (meant && button->raw_since_us - button->down_since_us >= PANEL_LONG_US)
		return PANEL_HOLD;
	return meant ? PANEL_PRESS : PANEL_NOTHING;
}

enum panel_event panel_button_feed(struct panel_button *button, bool down, int64_t now_us)
{
	enum panel_event event = PANEL_NOTHING;

	/* What was seen before has lasted until now. */
	if (button->raw != button->down && now_us - button->raw_since_us >= PANEL_DEBOUNCE_US)
		event = change(button);
	if (down != button->raw) {
		button->raw = down;
		button->raw_since_us = now_us;
	}
	if (event != PANEL_NOTHING || !button->down || !button->raw)
		return event;
	if (!button->spent && now_us - button->down_since_us >= PANEL_LONG_US) {
		button->spent = true;
		return PANEL_HOLD;
	}
	if (!button->approved && now_us - button->down_since_us >= PANEL_APPROVE_US) {
		button->approved = true;
		return PANEL_APPROVE;
	}
	if (!button->jammed && now_us - button->down_since_us >= PANEL_JAMMED_US) {
		button->jammed = true;
		return PANEL_JAMMED;
	}
	return PANEL_NOTHING;
}

int64_t panel_button_due_us(const struct panel_button *button)
{
	if (button->raw != button->down)
		return button->raw_since_us + PANEL_DEBOUNCE_US;
	if (!button->down || button->jammed)
		return INT64_MAX;
	return button->down_since_us + (!button->spent      ? PANEL_LONG_US
	                                : !button->approved ? PANEL_APPROVE_US
	                                                    : PANEL_JAMMED_US);
}
