/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "draw.h"

/* The batch: while pouring four things at most (headline, number, beam, strip), else
 * headline, sentence, caution, and the clock that runs. */

static bool is(const char *text, const char *value)
{
	return strcmp(text, value) == 0;
}

static enum tone tone_of(const struct model *model)
{
	const struct model_batch *batch = &model->batch;
	const char *cue = model_cue(model);

	if (is(cue, "hazard") || is(cue, "silent"))
		return TONE_DANGER;
	/* Whichever of reading and message comes first. */
	if (is(cue, "tip-back") || (is(batch->message, "tip-back") && !is(cue, "too-much")))
		return TONE_MUST_ACT;
	if (is(cue, "too-much") || is(cue, "held") || is(batch->step, "held"))
		return TONE_ABNORMAL;
	if (is(cue, "in-band") || (is(batch->step, "done") && is(batch->verdict, "within")))
		return TONE_GOOD;
	if (is(batch->step, "done") || is(batch->step, "discarded"))
		return TONE_ABNORMAL;
	return TONE_PLAIN;
}

/* Is there something left to pour that a number should tell? */
static bool pouring(const struct model *model)
{
	const char *message = model->batch.message;

	return ui_live(model) && isfinite(model_remaining_g(model)) &&
	       (is(message, "add") || is(message, "tip-back") || is(message, "add-powder") ||
	        is(message, "top-up") || is(message, "not-yet") || is(message, "relabelled") ||
	        is(message, "wait-settle"));
}

static const char *press_words_of(const char *press)
{
	static const struct say_word rows[] = {
	        {"start", N_("PRESS: the label agrees")},
	        {"next", N_("PRESS: next bottle in hand")},
	        {"top-up", N_("PRESS to set it right")},
	        {"is-resin", N_("PRESS if it was resin")},
	        {"go-on", N_("PRESS to go on")},
	        {"stir", N_("PRESS to stir")},
	        {"stirred", N_("PRESS when stirred")},
	        {"poured", N_("PRESS when poured")},
	        {"accept", N_("PRESS to accept the doubt")},
	};

	return say_word(rows, sizeof rows / sizeof *rows, press, NULL);
}

static const char *press_words(const struct model *model)
{
	/* What is accepted there is no doubt about a ratio. */
	if (is(model->batch.message, "life-over") && is(model->batch.press, "accept"))
		return _("PRESS: I have seen it");
	return press_words_of(model->batch.press);
}

static void draw_batch_strip(const struct draw *draw)
{
	const struct model_batch *batch = &draw->model->batch;
	const char *press = press_words(draw->model);
	bool over = is(batch->step, "done") || is(batch->step, "discarded");
	struct strip_button buttons[4] = {
	        {press ? press : _("no press needed now"),
	         {press ? ACT_PRESS : ACT_NONE, 0},
	         press ? TONE_MUST_ACT : TONE_PLAIN},
	};
	int n = 1;

	if (over) {
		buttons[0] = (struct strip_button){
		        _("PRESS for the next"), {ACT_FINISH, 0}, TONE_MUST_ACT};
		buttons[n++] = (struct strip_button){_("Record"), {ACT_RECORD, -1}, TONE_PLAIN};
	} else if (is(batch->step, "held")) {
		if (!is(batch->message, "read-back"))
			buttons[n++] = (struct strip_button){
			        _("Other part"), {ACT_OTHER_PART, 0}, TONE_PLAIN};
		buttons[n++] =
		        (struct strip_button){_("Discard"), {ACT_DISCARD_ASK, 0}, TONE_PLAIN};
	} else {
		if (is(batch->message, "charge-done") || is(batch->message, "too-much"))
			buttons[n++] = (struct strip_button){
			        _("Other part"), {ACT_OTHER_PART, 0}, TONE_PLAIN};
		if (!ui_live(draw->model) && !is(batch->step, "ready") && !is(batch->step, "cup"))
			buttons[n++] =
			        (struct strip_button){_("Menu"), {ACT_GO, SCREEN_HOME}, TONE_PLAIN};
		buttons[n++] = (struct strip_button){_("Hold"), {ACT_HOLD, 0}, TONE_PLAIN};
	}
	draw_strip(draw, buttons, n);
}

/* The remaining mass, and how much "too much" when it is. */
static void draw_number(const struct draw *draw, struct box box)
{
	double cap = draw->layout.number_cap_mm, shown_g = draw->ui->shown_g;
	struct scene_style style = {.face = FACE_NARROW,
	                            .align = draw->scene->rtl ? ALIGN_START : ALIGN_END,
	                            .cap_mm = cap,
	                            .colour = draw->palette->ink,
	                            .on = draw->palette->ground};
	char number[WORDS_NUMBER_MAX];
	struct box unit = {box.x + box.w - 7.0, box.y, 7.0, box.h};

	if (!isfinite(shown_g))
		return;
	/* A narrow glass is as wide as the number: the unit stands under it. */
	if (draw->layout.portrait)
		box.h -= 7.0;
	else
		box.w -= 8.0;
	say_number(shown_g, fabs(shown_g) >= 999.95 ? 0 : 1, number);
	scene_text(draw->scene, box, &style, number);
	unit.y = box.y + (box.h + cap) / 2.0 - (draw->layout.portrait ? 0.0 : 8.0);
	unit.h = 8.0;
	style.cap_mm = 6.5;
	style.align = draw->scene->rtl ? ALIGN_END : ALIGN_START;
	scene_text(draw->scene, unit, &style, "g");
}

/* Inside the last tenth of the charge, what the ratio would be now. */
static bool draw_deviation(const struct draw *draw, struct box box)
{
	const struct model_batch *batch = &draw->model->batch;
	double remaining_g = model_remaining_g(draw->model);
	char text[SAY_MAX], mass[WORDS_NUMBER_MAX], label[SAY_MAX];

	if (!isfinite(remaining_g))
		return false;
	if (remaining_g < 0.0 && fabs(draw->ui->shown_g) >= 0.05) {
		say_mass(remaining_g, true, mass);
		say_component(draw->model, label, sizeof label);
		say_fill(text, sizeof text, _("{mass} too much {label}"), "mass", mass, "label",
		         label, NULL);
	} else if (isfinite(batch->deviation_pct) && remaining_g <= 0.1 * batch->target_g) {
		say_deviation(draw->model, batch->system, batch->deviation_pct, text, sizeof text);
	} else {
		return false;
	}
	draw_line_of_text(draw, box, ALIGN_CENTRE, draw->palette->ink, text);
	return true;
}

static void draw_pouring(const struct draw *draw)
{
	const struct layout *layout = &draw->layout;
	struct box body = layout->body, number, headline;
	char text[SAY_MAX];
	enum tone tone = tone_of(draw->model);
	bool told;

	say_headline(draw->model, text, sizeof text);
	if (layout->portrait) {
		headline = layout_cut_top(&body, draw_headline_mm(draw, text), 2.0);
		number = layout_cut_top(&body, layout->number_cap_mm + 8.5, 2.0);
	} else {
		headline = layout_cut_top(&body, layout->number_cap_mm + 2.2, 0.4);
		number = layout_cut_away(&headline, layout->number_cap_mm * 3.6, 2.0, layout->hand);
	}
	draw_headline(draw, headline, tone, text);
	draw_number(draw, number);
	/* Between the weights, where it has the place of the labels: four things at most. */
	if (layout->portrait)
		told = draw_deviation(draw, layout_cut_bottom(&body, 6.0, 1.0));
	else
		told = draw_deviation(draw, (struct box){body.x + 19.0, body.y + body.h - 5.5,
		                                         body.w - 38.0, 5.5});
	draw_beam(draw, body, layout->portrait || !told);
}

/* Seconds that run, when the step has some; NAN else. */
static double clock_s(const struct model_batch *batch)
{
	if (is(batch->step, "stir") && isfinite(batch->stir_left_s) && batch->stir_left_s > 0.0)
		return batch->stir_left_s;
	/* A clock that has run out tells nothing that the headline does not. */
	if ((is(batch->step, "stir") || is(batch->step, "pour")) && batch->life_left_s > 0.0)
		return batch->life_left_s;
	return NAN;
}

static void draw_clock(const struct draw *draw, struct box box, double seconds)
{
	struct scene_style style = {.face = FACE_NARROW,
	                            .align = ALIGN_CENTRE,
	                            .cap_mm = draw->layout.headline_cap_mm,
	                            .cap_min_mm = layout_letter_mm(16.0, LAYOUT_FAR_MM),
	                            .colour = draw->palette->ink,
	                            .on = draw->palette->panel};
	char text[WORDS_NUMBER_MAX];

	say_clock(seconds, text);
	scene_rect(draw->scene, box, 2.0, draw->palette->panel);
	scene_text(draw->scene, box, &style, text);
}

/* Where the headline has no room for the shape it stands with the sentence. */
static void draw_told_sentence(const struct draw *draw, struct box box, enum tone tone,
                               const char *sentence)
{
	if (draw->layout.portrait && tone != TONE_PLAIN) {
		struct box shape =
		        layout_cut_away(&box, 11.0, 3.0, draw->scene->rtl ? HAND_LEFT : HAND_RIGHT);

		shape.h = 11.0;
		draw_tone_shape(draw, shape, tone, draw->palette->tone[tone].edge,
		                draw->palette->ground);
	}
	draw_sentence(draw, box, sentence);
}

static void draw_told(const struct draw *draw)
{
	const struct layout *layout = &draw->layout;
	const struct model_batch *batch = &draw->model->batch;
	struct box body = layout->body;
	char text[SAY_MAX], sentence[SAY_MAX], caution[SAY_MAX];
	double running_s = clock_s(batch), beam_mm, sentence_mm;
	enum tone tone = tone_of(draw->model);
	struct box headline;
	size_t n, n_caution;

	say_headline(draw->model, text, sizeof text);
	headline = layout_cut_top(&body, draw_headline_mm(draw, text), 2.5);

	if (isfinite(running_s) && layout->portrait)
		draw_clock(draw, layout_cut_top(&body, layout->headline_cap_mm + 4.5, 2.5),
		           running_s);
	else if (isfinite(running_s))
		draw_clock(draw, layout_cut_away(&headline, 42.0, 3.0, layout->hand), running_s);
	draw_headline(draw, headline, tone, text);
	n = say_sentence(draw->model, sentence, sizeof sentence);
	n_caution = say_caution(draw->model, caution, sizeof caution);
	if (n_caution == 0) {
		/* What room the sentence leaves belongs to the beam. */
		beam_mm = body.h - fmax(14.0, body.h * 0.3);
		if (isfinite(model_remaining_g(draw->model)) && beam_mm >= 17.0)
			draw_beam(draw, layout_cut_bottom(&body, fmin(beam_mm, 64.0), 2.0), true);
		draw_told_sentence(draw, body, tone, sentence);
		return;
	}
	sentence_mm = (body.h - 5.0) * (double)(n + 30) / (double)(n + n_caution + 60);
	draw_told_sentence(draw, layout_cut_top(&body, sentence_mm, 1.5), tone, sentence);
	if (body.h > 45.0)
		body.h = 45.0;
	draw_caution(draw, body, caution);
}

/* Someone else began it on a scale that nobody calibrated: what it says is no mass. */
static void draw_uncalibrated(const struct draw *draw)
{
	struct box body = draw->layout.body;
	const char *headline = _("NO GRAMS");

	draw_headline(draw, layout_cut_top(&body, draw_headline_mm(draw, headline), 2.5),
	              TONE_ABNORMAL, headline);
	draw_sentence(draw, body,
	              _("This scale is not calibrated: hold this batch, discard it, calibrate."));
}

void screen_batch(const struct draw *draw)
{
	enum tone tone = tone_of(draw->model);

	draw_batch_strip(draw);
	if (!model_calibrated(draw->model))
		draw_uncalibrated(draw);
	else if (pouring(draw->model))
		draw_pouring(draw);
	else
		draw_told(draw);
	draw_edge(draw, tone, tone != TONE_GOOD);
}

void screen_discard(const struct draw *draw)
{
	struct box body = draw->layout.body, yes;
	const struct strip_button keep = {
	        _("PRESS: keep the batch"), {ACT_GO, SCREEN_BATCH}, TONE_MUST_ACT};

	draw_headline(draw, layout_cut_top(&body, draw_headline_mm(draw, _("DISCARD?")), 2.5),
	              TONE_ABNORMAL, _("DISCARD?"));
	/* Not where the first touch was: that one was on the strip. */
	yes = layout_cut_bottom(&body, LAYOUT_TARGET_MM, 3.0);
	draw_button(draw, layout_cut_away(&yes, yes.w / 2.0 - 1.5, 3.0, draw->layout.hand),
	            TONE_PLAIN, (struct act){ACT_DISCARD, 0}, _("Discard it"));
	draw_sentence(draw, body,
	              _("The batch ends here. What was weighed stays on record. Mixed resin in the "
	                "cup still heats."));
	draw_strip(draw, &keep, 1);
}
