/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdio.h>

#include "draw.h"

/* The cues: how loud, or not at all; whether they are heard; whose reactions lead them. */

/* A ruler from silent to loud, filled as far as it is set. */
static void dial(const struct draw *draw, struct box box)
{
	const struct settings *settings = &draw->ui->settings;
	struct box fill = box, words = box;
	struct scene_style style = draw_style(draw, draw->palette->ink, draw->palette->raised);
	char number[WORDS_NUMBER_MAX], text[SAY_MAX];

	scene_rect(draw->scene, box, 2.0, draw->palette->raised);
	fill.h = 6.0;
	fill.w = fmax(box.w * settings->sound_level, 0.1);
	if (draw->scene->rtl)
		fill.x = box.x + box.w - fill.w;
	scene_rect(draw->scene, fill, 2.0, draw->palette->poured);
	words.y += 7.0;
	words.h -= 8.0;
	style.align = ALIGN_CENTRE;
	say_number(settings->sound_level * 100.0, 0, number);
	say_fill(text, sizeof text, _("loudness {number} of 100"), "number", number, NULL);
	scene_text(draw->scene, words, &style, text);
	scene_target(draw->scene, box, (struct act){ACT_SOUND, SOUND_ACT_LEVEL});
}

static struct box cell(const struct draw *draw, struct box box, int i)
{
	return draw->layout.portrait ? layout_row(box, i, 3) : layout_column(box, i, 3);
}

void screen_sound(const struct draw *draw)
{
	const struct settings *settings = &draw->ui->settings;
	struct box body = draw->layout.body;
	bool open = ui_batch_open(draw->model);
	char person[WORDS_NUMBER_MAX], who[SAY_MAX];
	const struct strip_button strip[2] = {
	        {open ? _("PRESS: back to the batch") : _("PRESS: back"),
	         {ACT_GO, open ? SCREEN_BATCH : SCREEN_SETTINGS},
	         TONE_MUST_ACT},
	        {_("Forget stops"), {ACT_SOUND, SOUND_ACT_FORGET}, TONE_PLAIN},
	};

	dial(draw, layout_cut_top(&body, LAYOUT_TARGET_MM, LAYOUT_GAP_MM));
	body.h = fmin(body.h, draw->layout.portrait ? 84.0 : 26.0);
	draw_button_two(draw, cell(draw, body, 0), (struct act){ACT_SOUND, SOUND_ACT_QUIET},
	                _("Cues"), settings->quiet ? _("seen and felt only") : _("heard too"));
	draw_button_two(draw, cell(draw, body, 1), (struct act){ACT_SOUND, SOUND_ACT_SPEECH},
	                _("Sentences"), settings->speech ? _("spoken") : _("not spoken"));
	snprintf(person, sizeof person, "%d", settings->person);
	say_fill(who, sizeof who, _("person {number}"), "number", person, NULL);
	draw_button_two(draw, cell(draw, body, 2), (struct act){ACT_SOUND, SOUND_ACT_PERSON},
	                _("Who pours"), who);
	draw_strip(draw, strip, 2);
}

void screen_heard(const struct draw *draw)
{
	struct box body = draw->layout.body;
	const struct strip_button strip[3] = {
	        {_("PRESS: I heard it"), {ACT_SOUND, SOUND_ACT_HEARD}, TONE_MUST_ACT},
	        {_("Louder"), {ACT_SOUND, SOUND_ACT_LOUDER}, TONE_PLAIN},
	        {_("No sound"), {ACT_SOUND, SOUND_ACT_SILENT}, TONE_PLAIN},
	};

	draw_headline(draw, layout_cut_top(&body, draw_headline_mm(draw, _("HEARD IT?")), 2.5),
	              TONE_MUST_ACT, _("HEARD IT?"));
	draw_sentence(draw, body,
	              _("Two notes play again and again. While you pour a quiet pulse is heard "
	                "all the time; when it drops to one low note, tip back. Without sound "
	                "the edge of the screen and the lamp say the same."));
	draw_strip(draw, strip, 3);
}
