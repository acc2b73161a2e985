/* SPDX-License-Identifier: MIT */
#include "screens.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "draw.h"

/* The bench's state in words: what stands first hinders most. */
static const char *bench_words(const struct model *model, enum tone *ret_tone)
{
	const char *condition = model->scale.condition;

	*ret_tone = TONE_ABNORMAL;
	if (model->link != LINK_UP)
		return _("no station");
	if (strncmp(condition, "silent", 6) == 0)
		return _("scale silent");
	if (strncmp(condition, "overload", 8) == 0)
		return _("scale overloaded");
	if (strncmp(condition, "rail", 4) == 0)
		return _("scale fault");
	if (strncmp(condition, "ended", 5) == 0)
		return _("recording ended");
	if (strncmp(condition, "warming", 7) == 0)
		return _("scale warming up");
	if (condition[0])
		return _("scale not ready");
	*ret_tone = TONE_PLAIN;
	if (strcmp(model->scale.driver, "simulated") == 0)
		return _("scale ready, simulated");
	if (strcmp(model->scale.driver, "replay") == 0)
		return _("scale ready, a recording");
	return _("scale ready");
}

static void clocks_words(const struct model *model, char *buffer, size_t size)
{
	size_t length = 0;

	buffer[0] = '\0';
	for (uint32_t i = 0; i < model->n_open && length + 1 < size; i++) {
		char number[WORDS_NUMBER_MAX], left[WORDS_NUMBER_MAX], one[128];

		if (!isfinite(model->open[i].life_left_s))
			continue;
		snprintf(number, sizeof number, "%.0f", model->open[i].id);
		/* Whole minutes, down: a clock that steps once a minute disturbs nobody. */
		if (model->open[i].life_left_s >= 120.0)
			say_duration(floor(model->open[i].life_left_s / 60.0) * 60.0, left);
		else
			say_duration(floor(model->open[i].life_left_s / 10.0) * 10.0, left);
		say_fill(one, sizeof one, _("batch {number}: {time} left"), "number", number,
		         "time", left, NULL);
		length += (size_t)snprintf(buffer + length, size - length, "%s%s",
		                           length ? "  ·  " : "", one);
	}
}

static void draw_corner(const struct draw *draw)
{
	struct box box = draw->layout.corner;
	struct scene_style style = draw_style(draw, draw->palette->quiet, draw->palette->ground);
	char clocks[256];
	enum tone tone;
	const char *state = bench_words(draw->model, &tone);
	struct box left = draw->layout.portrait ? layout_cut_top(&box, 4.6, 0.4)
	                                        : layout_cut_away(&box, box.w * 0.44, LAYOUT_GAP_MM,
	                                                          draw->layout.hand);

	style.cap_mm = draw->layout.small_cap_mm;
	if (tone != TONE_PLAIN) {
		style.colour = draw->palette->tone[TONE_ABNORMAL].ink;
		style.on = draw->palette->tone[TONE_ABNORMAL].ground;
		style.align = ALIGN_CENTRE;
		scene_rect(draw->scene, left, 1.0, style.on);
	}
	scene_text(draw->scene, left, &style, state);
	clocks_words(draw->model, clocks, sizeof clocks);
	style = draw_style(draw, draw->palette->quiet, draw->palette->ground);
	style.cap_mm = draw->layout.small_cap_mm;
	style.align = draw->layout.portrait ? ALIGN_START : ALIGN_END;
	scene_text(draw->scene, box, &style, clocks);
}

static void draw_lost(const struct draw *draw)
{
	struct box body = draw->layout.body;
	const struct strip_button none = {_("nothing to press"), {ACT_NONE, 0}, TONE_PLAIN};
	bool lost = draw->model->link == LINK_LOST;
	const char *headline = lost ? _("STATION GONE") : _("STARTING");

	draw_headline(draw, layout_cut_top(&body, draw_headline_mm(draw, headline), 2.5),
	              lost ? TONE_DANGER : TONE_PLAIN, headline);
	draw_sentence(
	        draw, body,
	        lost ? _("The station does not answer: stop pouring. It is looked for all the "
	                 "time, and the batch goes on where it was.")
	             : _("Waiting for the station on the bus."));
	draw_strip(draw, &none, 1);
	draw_edge(draw, lost ? TONE_DANGER : TONE_PLAIN, true);
}

/* Over the corner, on any screen: what was refused; a touch that was no finger's. */
static void draw_notice(const struct draw *draw)
{
	const char *text = draw->ui->wipe ? _("That was no finger: wipe the screen and the glove.")
	                                  : draw->ui->notice;
	struct box box = draw->layout.corner;
	struct scene_style style = draw_style(draw, draw->palette->tone[TONE_ABNORMAL].ink,
	                                      draw->palette->tone[TONE_ABNORMAL].ground);

	if (!*text)
		return;
	box.h = 13.0;
	scene_rect(draw->scene, box, 2.0, style.on);
	style.wrap = true;
	style.align = ALIGN_CENTRE;
	scene_text(draw->scene, box_inset(box, 1.0), &style, text);
}

void screens_draw(const struct model *model, const struct ui *ui, double width_mm, double height_mm,
                  struct scene *ret)
{
	struct draw draw = {
	        .scene = ret, .palette = palette_of(ui->settings.theme), .model = model, .ui = ui};

	scene_clear(ret, width_mm, height_mm, say_rtl(), draw.palette->ground);
	layout_make(width_mm, height_mm, ui->settings.hand, &draw.layout);
	if (ui->asleep) {
		ret->ground = 0x000000;
		return;
	}
	draw_corner(&draw);
	if (model->link != LINK_UP) {
		draw_lost(&draw);
		return;
	}
	switch (ui->screen) {
	case SCREEN_FIRST:
		screen_first(&draw);
		break;
	case SCREEN_HOME:
		screen_home(&draw);
		break;
	case SCREEN_AMOUNT:
		screen_amount(&draw);
		break;
	case SCREEN_BATCH:
		screen_batch(&draw);
		break;
	case SCREEN_DISCARD:
		screen_discard(&draw);
		break;
	case SCREEN_RECORDS:
		screen_records(&draw);
		break;
	case SCREEN_RECORD:
		screen_record(&draw);
		break;
	case SCREEN_SCALE:
		screen_scale(&draw);
		break;
	case SCREEN_SETTINGS:
		screen_settings(&draw);
		break;
	case SCREEN_COUNT:
		break;
	}
	draw_notice(&draw);
}
