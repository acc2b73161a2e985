/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "draw.h"

/* Of the piece that is open: its layers' check list, ticked off by hand, and what it embeds,
 * weighed day by day until it is dry. */

#define TICK_MM 9.0
#define DAY_S   86400.0

/* As short as a glance: what the station says of it in full stands in the terminal. */
static const char *check_words(const struct model_check *check)
{
	static const struct say_word rows[UI_LAYER_CHECKS] = {
	        {"clean", N_("Mould clean and dry, its holes taped")},
	        {"leak-test", N_("Leak test: water for an hour, then dried")},
	        {"level", N_("Level both ways, where it will stay")},
	        {"layout-photo", N_("Inclusions laid out, photo taken")},
	        {"crystals", N_("A and B clear, without crystals")},
	        {"bottles-dry", N_("Bottles wiped dry after their warm bath")},
	        {"sand", N_("Sanded with mask, dust wiped; no flame near")},
	        {"air", N_("The air is moist: warm or dry it first")},
	        {"edge-tape-on", N_("Edge taped")},
	        {"inclusions-dry", N_("Inclusions in their place, and dry")},
	        {"bubbles", N_("Bubbles out, never over petals or alcohol")},
	        {"cover", N_("Covered against dust")},
	        {"bubbles-again", N_("Looked for bubbles once more")},
	        {"edge-tape-off", N_("Edge tape off: later it tears the coat")},
	};

	return say_word(rows, UI_LAYER_CHECKS, check->check, check->sentence);
}

static const char *when_words(const char *when)
{
	static const struct say_word rows[] = {
	        {"before weighing", N_("before weighing")},
	        {"before the pour", N_("before the pour")},
	        {"after the pour", N_("after the pour")},
	        {"before it gels", N_("before it gels")},
	        {"while gelled, not yet hard", N_("while gelled")},
	};

	return say_word(rows, sizeof rows / sizeof *rows, when, when);
}

static void draw_tick(const struct draw *draw, struct box box, bool done, uint32_t on)
{
	const struct palette *palette = draw->palette;

	if (!done) {
		scene_frame(draw->scene, box, 1.5, 0.7, false, palette->ink);
		return;
	}
	scene_rect(draw->scene, box, 1.5, palette->tone[TONE_GOOD].ground);
	draw_tone_shape(draw, box_inset(box, 1.4), TONE_GOOD, palette->tone[TONE_GOOD].ink, on);
}

/* What is due can be touched; what comes later lies flat. */
static void draw_check(const struct draw *draw, struct box box, int32_t row)
{
	const struct model_check *check = &draw->model->checks[row];
	bool due = check->due > 0.0, known = isfinite(check->done);
	uint32_t ground = due ? draw->palette->raised : draw->palette->ground;
	struct scene_style style = draw_style(draw, draw->palette->ink, ground);
	struct box inner = box_inset(box, 2.0), tick, small;
	char layer[16], text[SAY_MAX];

	if (due)
		scene_rect(draw->scene, box, 2.0, ground);
	else
		scene_frame(draw->scene, box, 2.0, 0.4, false, draw->palette->raised);
	tick = layout_cut_away(&inner, TICK_MM, 3.0, draw->scene->rtl ? HAND_LEFT : HAND_RIGHT);
	tick = (struct box){tick.x, tick.y + (tick.h - TICK_MM) / 2.0, TICK_MM, TICK_MM};
	draw_tick(draw, tick, ui_check_done(draw->ui, check), ground);
	small = layout_cut_bottom(&inner, 4.4, 0.4);
	style.wrap = true;
	scene_text(draw->scene, inner, &style, check_words(check));
	snprintf(layer, sizeof layer, "%.0f", check->layer);
	say_fill(text, sizeof text, due ? _("layer {number}, {when}") : _("later: {when}"),
	         "number", layer, "when", when_words(check->when), NULL);
	style.wrap = false;
	style.cap_mm = draw->layout.small_cap_mm;
	style.colour = draw->palette->quiet;
	scene_text(draw->scene, small, &style, text);
	if (!due)
		return;
	/* The dryness is the scale's word, and had there. */
	if (known && strcmp(check->check, "inclusions-dry") == 0)
		scene_target(draw->scene, box, (struct act){ACT_GO, SCREEN_DRYING});
	else if (ui_layer_check(check->check) >= 0)
		scene_target(draw->scene, box, (struct act){ACT_CHOOSE, row});
}

/* Back to the piece, or to the batch where one is open. */
static void back_to_piece(const struct draw *draw, struct strip_button *ret)
{
	draw_back_button(draw, ret);
	if (!ui_batch_open(draw->model))
		ret->act.value = SCREEN_PIECE;
}

void screen_layer_checks(const struct draw *draw)
{
	const struct model *model = draw->model;
	struct strip_button strip[2] = {[1] = {_("More"), {ACT_MORE, 0}, TONE_PLAIN}};
	char done[16], all[16], text[SAY_MAX];
	int columns, rows, first, pages, n = (int)model->n_checks, n_done = 0;
	struct box body = draw->layout.body;

	back_to_piece(draw, &strip[0]);
	for (int i = 0; i < n; i++)
		n_done += ui_check_done(draw->ui, &model->checks[i]);
	snprintf(done, sizeof done, "%d", n_done);
	snprintf(all, sizeof all, "%d", n);
	say_fill(text, sizeof text, n > 0 ? _("{piece}: {done} of {all} done") : "{piece}", "piece",
	         draw->ui->piece, "done", done, "all", all, NULL);
	draw_title(draw, &body, text);
	draw_grid(body, &columns, &rows);
	pages = draw_page(draw, n, columns * rows, &first);
	for (int i = 0; i < columns * rows && first + i < n; i++)
		draw_check(draw, draw_cell(body, i, columns, rows), first + i);
	if (n == 0)
		draw_sentence(draw, body, _("Nothing is to be looked at now."));
	draw_strip(draw, strip, pages > 1 ? 2 : 1);
}

/* Without the piece, that stands above. */
static const char *name_of(const struct draw *draw, const struct model_drying *drying)
{
	size_t n = strlen(draw->ui->piece);

	return strncmp(drying->name, draw->ui->piece, n) == 0 && drying->name[n] == '/'
	               ? drying->name + n + 1
	               : drying->name;
}

/* "3 d", "20 h", "5 min": whole ones, as one tells days apart. */
static void say_ago(double seconds, char buffer[WORDS_NUMBER_MAX])
{
	const double unit_s = seconds >= 2.0 * DAY_S ? DAY_S : seconds >= 3600.0 ? 3600.0 : 60.0;

	snprintf(buffer, WORDS_NUMBER_MAX, "%.0f %s", floor(fmax(0.0, seconds) / unit_s),
	         unit_s == DAY_S    ? "d"
	         : unit_s == 3600.0 ? "h"
	                            : "min");
}

/* "7.9 g, 20 h ago: about 9 d to go" */
static void drying_words(const struct model_drying *drying, char *buffer, size_t size)
{
	const bool dry = strcmp(drying->verdict, "dry") == 0;
	const bool stale = strcmp(drying->verdict, "stale") == 0;
	char mass[WORDS_NUMBER_MAX], ago[WORDS_NUMBER_MAX], days[WORDS_NUMBER_MAX];
	const char *words = dry     ? _("{mass}, {time} ago: dry")
	                    : stale ? _("{mass}, {time} ago: was dry, weigh again")
	                    : drying->dry_in_s > 0.0
	                            ? _("{mass}, {time} ago: about {days} d to go")
	                            : _("{mass}, {time} ago: weigh again tomorrow");

	if (!(drying->weighings > 0.0)) {
		snprintf(buffer, size, "%s", _("not weighed yet"));
		return;
	}
	say_mass(drying->last_g, false, mass);
	say_ago(drying->since_s, ago);
	say_number(ceil(drying->dry_in_s / DAY_S), 0, days);
	say_fill(buffer, size, words, "mass", mass, "time", ago, "days", days, NULL);
}

static void draw_drying(const struct draw *draw, struct box box, int32_t row)
{
	const struct model_drying *drying = &draw->model->drying[row];
	char text[SAY_MAX];

	drying_words(drying, text, sizeof text);
	draw_button_two(draw, box, (struct act){ACT_CHOOSE, row}, name_of(draw, drying), text);
	if (row == draw->ui->drying)
		scene_frame(draw->scene, box, 2.0, 1.2, false,
		            draw->palette->tone[TONE_MUST_ACT].edge);
}

static void draw_on_the_pan(const struct draw *draw, struct box *body)
{
	char mass[WORDS_NUMBER_MAX], text[SAY_MAX];

	say_mass(fmax(0.0, draw->model->scale.net_g), false, mass);
	say_fill(text, sizeof text, _("{piece}. On the pan: {mass}"), "piece", draw->ui->piece,
	         "mass", model_calibrated(draw->model) ? mass : "?", NULL);
	draw_title(draw, body, text);
}

void screen_drying(const struct draw *draw)
{
	const struct model *model = draw->model;
	struct strip_button strip[3] = {[1] = {_("Back"), {ACT_GO, SCREEN_PIECE}, TONE_PLAIN},
	                                [2] = {_("More"), {ACT_MORE, 0}, TONE_PLAIN}};
	int columns, rows, first, pages, n = (int)model->n_drying;
	struct box body = draw->layout.body;
	char press[SAY_MAX];
	bool may = !ui_batch_open(model) && draw->ui->drying < n;

	back_to_piece(draw, &strip[0]);
	if (may) {
		say_fill(press, sizeof press, _("PRESS: weigh {name}"), "name",
		         name_of(draw, &model->drying[draw->ui->drying]), NULL);
		strip[0] = (struct strip_button){press, {ACT_WEIGH, 0}, TONE_MUST_ACT};
	}
	draw_on_the_pan(draw, &body);
	draw_grid(body, &columns, &rows);
	pages = draw_page(draw, n, rows, &first);
	for (int i = 0; i < rows && first + i < n; i++)
		draw_drying(draw, draw_cell(body, i, 1, rows), first + i);
	if (n == 0)
		draw_sentence(draw, body, _("Nothing is embedded in this piece."));
	draw_strip(draw, strip, pages > 1 ? 3 : may || ui_batch_open(model) ? 2 : 1);
}
