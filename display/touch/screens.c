/* SPDX-License-Identifier: MIT */
#include "screens.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "draw.h"

/* What hinders weighing, what stands first most; NULL: nothing. */
static const char *hindrance(const struct model *model)
{
	static const struct {
		const char *condition, *words;
	} rows[] = {
	        {"silent", N_("scale silent")},      {"overload", N_("scale overloaded")},
	        {"rail", N_("scale fault")},         {"ended", N_("recording ended")},
	        {"warming", N_("scale warming up")}, {"resting", N_("scale resting")},
	        {"", N_("scale not ready")},
	};
	const char *condition = model->scale.condition;
	const bool is_check = strncmp(condition, "check-", 6) == 0;

	if (model->link != LINK_UP)
		return _("no station");
	for (size_t i = 0; condition[0] && !is_check && i < sizeof rows / sizeof *rows; i++)
		if (strncmp(condition, rows[i].condition, strlen(rows[i].condition)) == 0)
			return _(rows[i].words);
	if (!model_calibrated(model))
		return _("scale not calibrated");
	if (strcmp(condition, "check-failed") == 0 || model_finding(model, "check-failed"))
		return _("daily check failed");
	if (is_check || model_finding(model, "check-overdue"))
		return _("not checked today");
	return NULL;
}

/* More than a draught's worth lies on the pan, and no batch or calibration put it there. */
static bool pan_not_empty(const struct model *model)
{
	double interval_g = isfinite(model->scale.interval_g) ? model->scale.interval_g : 0.1;

	return !ui_batch_open(model) && !(model->scale.calibrating > 0.0) &&
	       model->scale.gross_g > fmax(1.0, 10.0 * interval_g);
}

static const char *bench_words(const struct model *model, enum tone *ret_tone)
{
	const char *hinders = hindrance(model);

	*ret_tone = hinders ? TONE_ABNORMAL : TONE_PLAIN;
	if (hinders)
		return hinders;
	if (pan_not_empty(model))
		return _("pan not empty");
	if (strcmp(model->scale.driver, "simulated") == 0)
		return _("scale ready, simulated");
	if (strcmp(model->scale.driver, "replay") == 0)
		return _("scale ready, a recording");
	return _("scale ready");
}

/* Clocks in any case; of the rest what still has room. */
struct told {
	char text[256];
	size_t length, characters, room;
};

static void tell(struct told *told, bool always, const char *what)
{
	size_t characters = words_characters(what);

	if (told->length > 0)
		characters += 5;
	if ((!always && told->characters + characters > told->room) ||
	    told->length + strlen(what) + 8 > sizeof told->text)
		return;
	told->length +=
	        (size_t)snprintf(told->text + told->length, sizeof told->text - told->length,
	                         "%s%s", told->length ? "  ·  " : "", what);
	told->characters += characters;
}

static void tell_clocks(struct told *told, const struct model *model)
{
	for (uint32_t i = 0; i < model->n_open; i++) {
		char number[WORDS_NUMBER_MAX], left[WORDS_NUMBER_MAX], one[128];
		/* Whole minutes, down: a clock that steps once a minute disturbs nobody. */
		double unit_s = model->open[i].life_left_s >= 120.0 ? 60.0 : 10.0;

		if (!isfinite(model->open[i].life_left_s))
			continue;
		snprintf(number, sizeof number, "%.0f", model->open[i].id);
		say_duration(floor(model->open[i].life_left_s / unit_s) * unit_s, left);
		say_fill(one, sizeof one, _("batch {number}: {time} left"), "number", number,
		         "time", left, NULL);
		tell(told, true, one);
	}
}

static void tell_bench(struct told *told, const struct model *model,
                       const struct settings *settings)
{
	/* As measured; else as last told. */
	const double room_degc =
	        isfinite(model->scale.air_degc) ? model->scale.air_degc : model->shop.room_degc;
	char degrees[WORDS_NUMBER_MAX], humidity[WORDS_NUMBER_MAX];

	if (model->scale.synchronised == 0.0)
		tell(told, false, _("clock not synchronised"));
	if (isfinite(room_degc)) {
		say_degrees(room_degc, settings->units, degrees);
		tell(told, false, degrees);
	}
	if (isfinite(model->scale.air_pct)) {
		snprintf(humidity, sizeof humidity, "%.0f %%", model->scale.air_pct);
		tell(told, false, humidity);
	}
}

static void draw_corner(const struct draw *draw)
{
	struct box box = draw->layout.corner;
	struct scene_style style = draw_style(draw, draw->palette->quiet, draw->palette->ground);
	struct told told = {.length = 0};
	enum tone tone;
	const char *state = bench_words(draw->model, &tone);
	struct box left = draw->layout.portrait ? layout_cut_top(&box, 4.6, 0.4)
	                                        : layout_cut_away(&box, box.w * 0.40, LAYOUT_GAP_MM,
	                                                          draw->layout.hand);

	/* Each at its own outer edge, whichever hand pours and way the language reads. */
	const bool at_start =
	        draw->layout.portrait || (draw->layout.hand == HAND_RIGHT) != draw->scene->rtl;

	style.cap_mm = draw->layout.small_cap_mm;
	style.align = at_start ? ALIGN_START : ALIGN_END;
	if (tone != TONE_PLAIN) {
		style.colour = draw->palette->tone[TONE_ABNORMAL].ink;
		style.on = draw->palette->tone[TONE_ABNORMAL].ground;
		style.align = ALIGN_CENTRE;
		scene_rect(draw->scene, left, 1.0, style.on);
	}
	scene_text(draw->scene, left, &style, state);
	/* A letter is about as wide as two thirds of a capital is high. */
	told.room = (size_t)(box.w / (0.68 * draw->layout.small_cap_mm));
	tell_clocks(&told, draw->model);
	tell_bench(&told, draw->model, &draw->ui->settings);
	style = draw_style(draw, draw->palette->quiet, draw->palette->ground);
	style.cap_mm = draw->layout.small_cap_mm;
	style.align = draw->layout.portrait || !at_start ? ALIGN_START : ALIGN_END;
	scene_text(draw->scene, box, &style, told.text);
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
	             : _("Waiting for the station to answer."));
	draw_strip(draw, &none, 1);
	draw_edge(draw, lost ? TONE_DANGER : TONE_PLAIN, true);
}

/* The cue's own rhythm in the corner of the eye, on any screen: what is not heard is seen. */
static void draw_lit(const struct draw *draw)
{
	static const enum tone tone_of_sound[SOUND_COUNT] = {
	        [SOUND_TIP_BACK] = TONE_MUST_ACT, [SOUND_IN_BAND] = TONE_GOOD,
	        [SOUND_TOO_MUCH] = TONE_ABNORMAL, [SOUND_HELD] = TONE_ABNORMAL,
	        [SOUND_SILENT] = TONE_DANGER,     [SOUND_HAZARD] = TONE_DANGER,
	};
	enum tone tone = tone_of_sound[draw->ui->sound];

	/* Calm: as long as it means something, and not in flashes. */
	if (draw->ui->settings.less_motion ? tone != TONE_PLAIN : draw->ui->lit)
		scene_frame(draw->scene, draw->layout.page, 0.0, LAYOUT_MARGIN_MM, false,
		            tone == TONE_PLAIN ? draw->palette->ink
		                               : draw->palette->tone[tone].edge);
}

/* As wide a text as there is: the words of one line do not fill it. */
#define NOTICE_PER_MM  0.42 /* characters */
#define NOTICE_LINE_MM 5.0

/* Over the corner, on any screen: what was refused; a touch that was no finger's. */
static void draw_notice(const struct draw *draw)
{
	const char *text = draw->ui->wipe ? _("That was no finger: wipe the screen and the glove.")
	                                  : draw->ui->notice;
	struct box box = draw->layout.corner;
	double lines;
	struct scene_style style = draw_style(draw, draw->palette->tone[TONE_ABNORMAL].ink,
	                                      draw->palette->tone[TONE_ABNORMAL].ground);

	if (!*text)
		return;
	/* On a narrow glass it takes more lines, and covers the line below as a whole. What the
	 * station has to say of a batch that begins may be four sentences. */
	lines = ceil((double)words_characters(text) / (NOTICE_PER_MM * (box.w - 2.0)));
	box.h = fmax(draw->layout.portrait ? 17.6 : 13.0, NOTICE_LINE_MM * lines + 3.0);
	box.h = fmin(box.h, draw->layout.strip.y - LAYOUT_GAP_MM - box.y);
	scene_rect(draw->scene, box, 2.0, style.on);
	style.wrap = true;
	style.align = ALIGN_CENTRE;
	scene_text(draw->scene, box_inset(box, 1.0), &style, text);
}

static void draw_screen(const struct draw *draw)
{
	switch (draw->ui->screen) {
	case SCREEN_FIRST:
		screen_first(draw);
		break;
	case SCREEN_HOME:
		screen_home(draw);
		break;
	case SCREEN_AMOUNT:
		screen_amount(draw);
		break;
	case SCREEN_BATCH:
		screen_batch(draw);
		break;
	case SCREEN_DISCARD:
		screen_discard(draw);
		break;
	case SCREEN_RECORDS:
		screen_records(draw);
		break;
	case SCREEN_RECORD:
		screen_record(draw);
		break;
	case SCREEN_SCALE:
		screen_scale(draw);
		break;
	case SCREEN_SETTINGS:
		screen_settings(draw);
		break;
	case SCREEN_BENCH:
		screen_bench(draw);
		break;
	case SCREEN_ENTER:
		screen_enter(draw);
		break;
	case SCREEN_CALIBRATE:
		screen_calibrate(draw);
		break;
	case SCREEN_LOAD:
		screen_load(draw);
		break;
	case SCREEN_CHECK:
		screen_check(draw);
		break;
	case SCREEN_PIECES:
		screen_pieces(draw);
		break;
	case SCREEN_PIECE:
		screen_piece(draw);
		break;
	case SCREEN_CLOCKS:
		screen_clocks(draw);
		break;
	case SCREEN_LAYER_CHECKS:
		screen_layer_checks(draw);
		break;
	case SCREEN_DRYING:
		screen_drying(draw);
		break;
	case SCREEN_SOUND:
		screen_sound(draw);
		break;
	case SCREEN_HEARD:
		screen_heard(draw);
		break;
	case SCREEN_COUNT:
		break;
	}
}

/* Under a finger: how much of the longest touch that counts is used up. */
static void draw_progress(const struct draw *draw, struct box box, double share)
{
	struct box bar = {box.x + 2.0, box.y + box.h - 3.4, (box.w - 4.0) * fmin(1.0, share), 2.0};

	scene_frame(draw->scene, box_inset(box, 0.4), 2.0, 0.8, false, draw->palette->ink);
	if (draw->scene->rtl)
		bar.x = box.x + box.w - 2.0 - bar.w;
	if (bar.w > 0.1)
		scene_rect(draw->scene, bar, 1.0, draw->palette->ink);
}

static void draw_down(const struct draw *draw)
{
	const struct ui *ui = draw->ui;

	for (uint32_t i = 0; ui->down.kind != ACT_NONE && i < draw->scene->n_items; i++) {
		const struct scene_item *item = &draw->scene->item[i];

		if (item->kind != SCENE_TARGET || item->act.kind != ui->down.kind ||
		    item->act.value != ui->down.value)
			continue;
		draw_progress(draw, item->box, ui->down_share);
		break;
	}
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
		draw_lit(&draw);
		return;
	}
	draw_screen(&draw);
	draw_down(&draw);
	draw_notice(&draw);
	draw_lit(&draw);
}
