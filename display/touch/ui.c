/* SPDX-License-Identifier: MIT */
#include "say.h"
#include "ui_inside.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* The shown mass follows only past this share of its step: no digit flickers. */
#define STICKY_SHARE 0.8

static const char *const screen_names[SCREEN_COUNT] = {
        "first", "home",     "amount", "batch", "discard", "records",      "record",
        "scale", "settings", "sound",  "heard", "bench",   "enter",        "calibrate",
        "load",  "check",    "pieces", "piece", "clocks",  "layer-checks", "drying",
};

const char *screen_name(enum screen screen)
{
	return (unsigned)screen < SCREEN_COUNT ? screen_names[screen] : "home";
}

int screen_from_name(const char *name)
{
	for (int i = 0; i < SCREEN_COUNT; i++)
		if (strcmp(screen_names[i], name) == 0)
			return i;
	return -1;
}

void ui_init(struct ui *ui, const struct settings *settings)
{
	*ui = (struct ui){.settings = *settings,
	                  .screen = settings->first_run_done ? SCREEN_HOME : SCREEN_FIRST,
	                  .amount_g = 330.0,
	                  .shown_g = NAN,
	                  .weighed_g = NAN,
	                  .weighed_doubt_g = NAN,
	                  .held = NAN};
	ui_entry_init(ui);
	ui_care_init(ui);
}

static bool finished(const struct model *model)
{
	return strcmp(model->batch.step, "done") == 0 ||
	       strcmp(model->batch.step, "discarded") == 0;
}

bool ui_batch_open(const struct model *model)
{
	return model->batch.id > 0.0 && !finished(model);
}

bool ui_live(const struct model *model)
{
	return ui_batch_open(model) && (strcmp(model->batch.step, "charge") == 0 ||
	                                strcmp(model->batch.step, "top-up") == 0);
}

static void follow_charge(struct ui *ui, const struct model *model)
{
	const struct model_batch *batch = &model->batch;
	struct ui_charge *charge = &ui->charge;
	bool held = strcmp(batch->step, "held") == 0;

	if (!isfinite(batch->target_g) || !isfinite(batch->low_g) || !isfinite(batch->high_g) ||
	    batch->target_g <= 0.0)
		return;
	/* A hold does not end a charge; a new wish by more than a hair does (relabelled). */
	if (charge->id == batch->id && strcmp(charge->component, batch->component) == 0 &&
	    (held || strcmp(charge->step, batch->step) == 0) &&
	    fabs(charge->target_g - batch->target_g) <= 0.02 * charge->target_g)
		return;
	charge->id = batch->id;
	charge->target_g = batch->target_g;
	charge->low_g = batch->low_g;
	charge->high_g = batch->high_g;
	memcpy(charge->component, batch->component, sizeof charge->component);
	memcpy(charge->step, batch->step, sizeof charge->step);
	ui->shown_g = NAN;
}

static void follow_number(struct ui *ui, const struct model *model)
{
	double remaining_g = model_remaining_g(model);
	double step_g = fabs(remaining_g) >= 1000.0 ? 1.0 : 0.1;

	if (!isfinite(remaining_g)) {
		ui->shown_g = NAN;
		return;
	}
	if (isfinite(ui->shown_g) && fabs(remaining_g - ui->shown_g) < STICKY_SHARE * step_g)
		return;
	ui->shown_g = round(remaining_g / step_g) * step_g;
	if (ui->shown_g == 0.0)
		ui->shown_g = 0.0; /* never "-0" */
}

/* Before the first charge, once: a loudspeaker that is off is found out now. It hinders
 * nothing: a batch that goes on without a press goes on here too. */
static void follow_heard(struct ui *ui, const struct model *model)
{
	bool asks = ui->ask_heard && !ui->settings.quiet && ui->settings.sound_level > 0.0 &&
	            strcmp(model->batch.step, "ready") == 0;

	if (ui->screen == SCREEN_BATCH && asks)
		ui->screen = SCREEN_HEARD;
	else if (ui->screen == SCREEN_HEARD && !asks)
		ui->screen = SCREEN_BATCH;
}

bool ui_cue(struct ui *ui, const struct cues_out *out)
{
	bool changed = ui->lit != out->edge || ui->sound != out->sound;

	ui->lit = out->edge;
	ui->sound = out->sound;
	return changed;
}

bool ui_tests_sound(const struct ui *ui)
{
	return ui->screen == SCREEN_HEARD || ui->screen == SCREEN_SOUND ||
	       (ui->screen == SCREEN_FIRST && ui->first == FIRST_SOUND);
}

/* A load that was taken is not the one that comes next. */
static void follow_care(struct ui *ui, const struct model *model)
{
	double loads = model->scale.calibrating > 0.0 ? model->scale.run.loads : NAN;

	if (isfinite(loads) && (ui->loads_seen != loads || !(ui->load_g > 0.0)))
		ui_care_suggest(ui, model);
	ui->loads_seen = loads;
}

void ui_follow(struct ui *ui, const struct model *model)
{
	bool open = ui_batch_open(model);

	follow_charge(ui, model);
	follow_number(ui, model);
	if (open)
		ui->asleep = false;
	if (model->link != LINK_UP)
		return;
	follow_care(ui, model);
	/* A batch that begins, or comes back live, takes the screen. */
	if (open && (ui->away_id != model->batch.id || ui_live(model)) &&
	    ui->screen != SCREEN_BATCH && ui->screen != SCREEN_DISCARD &&
	    ui->screen != SCREEN_HEARD)
		ui->screen = SCREEN_BATCH;
	follow_heard(ui, model);
	if (ui->screen == SCREEN_DISCARD && !open)
		ui->screen = SCREEN_BATCH;
	if (ui->screen == SCREEN_BATCH && model->batch.id <= 0.0)
		ui->screen = ui->settings.first_run_done ? SCREEN_HOME : SCREEN_FIRST;
}

double ui_most_g(const struct model *model)
{
	double most = model->scale.max_g;

	return isfinite(most) && most > 2.0 * UI_LEAST_G ? fmin(most, UI_MOST_G) : 5000.0;
}

double ui_dial_g(double at, double most_g)
{
	double g = UI_LEAST_G * pow(most_g / UI_LEAST_G, fmin(1.0, fmax(0.0, at)));
	double step = g < 50.0 ? 1.0 : g < 200.0 ? 5.0 : g < 1000.0 ? 10.0 : 50.0;

	return fmin(most_g, fmax(UI_LEAST_G, round(g / step) * step));
}

double ui_dial_at(double mass_g, double most_g)
{
	double g = fmin(most_g, fmax(UI_LEAST_G, mass_g));

	return log(g / UI_LEAST_G) / log(most_g / UI_LEAST_G);
}

void ui_go(struct ui *ui, const struct model *model, int32_t screen)
{
	if (screen < 0 || screen >= SCREEN_COUNT)
		return;
	/* Until the first run is over it is where one comes home to. */
	ui->screen = screen == SCREEN_HOME && !ui->settings.first_run_done ? SCREEN_FIRST
	                                                                   : (enum screen)screen;
	ui->page = 0;
	ui->notice[0] = '\0';
	/* Away from the batch by one's own wish: it does not take the screen at once. */
	ui->away_id = ui->screen == SCREEN_BATCH ? -1.0 : model->batch.id;
}

static void next_language(struct ui *ui)
{
	const char *const *codes = ui->languages;
	size_t at = 0, n = 0;

	if (!codes)
		return;
	for (; codes[n]; n++)
		if (strcmp(codes[n], ui->settings.language) == 0)
			at = n;
	if (n > 0)
		snprintf(ui->settings.language, sizeof ui->settings.language, "%s",
		         codes[(at + 1) % n]);
}

static struct order order(enum order_kind kind)
{
	return (struct order){.kind = kind};
}

static struct order act_settings(struct ui *ui, struct act act)
{
	struct settings *settings = &ui->settings;

	switch (act.kind) {
	case ACT_THEME:
		settings->theme = (enum theme)((settings->theme + 1) % THEME_COUNT);
		break;
	case ACT_HAND:
		settings->hand = settings->hand == HAND_RIGHT ? HAND_LEFT : HAND_RIGHT;
		break;
	case ACT_TURN:
		settings->turn_deg = (settings->turn_deg + 90) % 360;
		break;
	case ACT_LANGUAGE:
		next_language(ui);
		break;
	case ACT_BRIGHTER:
		settings->brightness_pct = settings->brightness_pct >= 100
		                                   ? SETTINGS_DIMMEST_PCT
		                                   : settings->brightness_pct + 20;
		break;
	case ACT_UNITS:
		settings->units = settings->units == UNITS_METRIC ? UNITS_US : UNITS_METRIC;
		break;
	case ACT_MOTION:
		settings->less_motion = !settings->less_motion;
		break;
	default:
		return order(ORDER_NONE);
	}
	return order(ORDER_SETTINGS);
}

#define LOUDER_BY 0.2

static struct order act_sound(struct ui *ui, int32_t what, double at)
{
	struct settings *settings = &ui->settings;

	switch (what) {
	case SOUND_ACT_LEVEL:
		settings->sound_level = round(fmin(1.0, fmax(0.0, at)) * 20.0) / 20.0;
		settings->quiet = false;
		break;
	case SOUND_ACT_LOUDER:
		settings->sound_level = fmin(1.0, settings->sound_level + LOUDER_BY);
		settings->quiet = false;
		break;
	case SOUND_ACT_QUIET:
		settings->quiet = !settings->quiet;
		break;
	case SOUND_ACT_SPEECH:
		settings->speech = !settings->speech;
		break;
	case SOUND_ACT_PERSON:
		settings->person = settings->person % SETTINGS_PERSONS + 1;
		break;
	case SOUND_ACT_FORGET:
		return order(ORDER_FORGET);
	case SOUND_ACT_HEARD:
		ui->ask_heard = false;
		return order(ORDER_NONE);
	case SOUND_ACT_SILENT:
		ui->ask_heard = false;
		settings->quiet = true;
		break;
	default:
		return order(ORDER_NONE);
	}
	return order(ORDER_SETTINGS);
}

static struct order act_choose(struct ui *ui, const struct model *model, struct act act, double at)
{
	struct dial dial = ui_dial(ui, model);

	switch (act.kind) {
	case ACT_SYSTEM:
		if (act.value < 0 || (uint32_t)act.value >= model->n_systems)
			break;
		snprintf(ui->system, sizeof ui->system, "%s", model->systems[act.value].id);
		ui_go(ui, model, SCREEN_AMOUNT);
		break;
	case ACT_AMOUNT:
		if (dial.value)
			*dial.value = fmin(
			        dial.most,
			        fmax(dial.least,
			             *dial.value + act.value / (dial.decimals > 1 ? 100.0 : 10.0)));
		break;
	case ACT_DIAL:
		if (ui->screen == SCREEN_AMOUNT)
			ui->amount_g = ui_dial_g(at, dial.most);
		else if (dial.value)
			*dial.value = dial_value(&dial, at);
		break;
	case ACT_RECORD:
		if (act.value == -1) {
			int64_t id = (int64_t)model->batch.id;

			ui_go(ui, model, SCREEN_RECORD);
			return (struct order){.kind = ORDER_RECORD, .id = id};
		}
		if (act.value < 0 || (uint32_t)act.value >= model->n_records)
			break;
		ui_go(ui, model, SCREEN_RECORD);
		return (struct order){.kind = ORDER_RECORD,
		                      .id = (int64_t)model->records[act.value].id};
	case ACT_MORE:
		ui->page++;
		break;
	default:
		break;
	}
	return order(ORDER_NONE);
}

/* Until the scale is calibrated nothing is weighed out by it. */
static bool refused(struct ui *ui, const struct model *model, struct act act)
{
	bool weighs =
	        act.kind == ACT_BEGIN || act.kind == ACT_AGAIN || act.kind == ACT_POUR ||
	        (act.kind == ACT_WEIGH && ui->screen == SCREEN_DRYING) ||
	        (act.kind == ACT_NEXT && ui->screen == SCREEN_FIRST && ui->first == FIRST_WATER);

	if (!weighs || model_calibrated(model))
		return false;
	snprintf(ui->notice, sizeof ui->notice, "%s",
	         _("This scale is not calibrated: calibrate it first."));
	return true;
}

struct order ui_act(struct ui *ui, const struct model *model, struct act act, double at)
{
	struct order theirs;

	ui->wipe = false;
	ui->notice[0] = '\0';
	if (refused(ui, model, act))
		return order(ORDER_NONE);
	if (ui_first_act(ui, model, act, &theirs) || ui_care_act(ui, model, act, &theirs) ||
	    ui_piece_act(ui, model, act, &theirs))
		return theirs;
	switch (act.kind) {
	case ACT_NONE:
		break;
	case ACT_SOUND:
		theirs = act_sound(ui, act.value, at);
		if (ui->screen == SCREEN_FIRST &&
		    (act.value == SOUND_ACT_HEARD || act.value == SOUND_ACT_SILENT))
			ui_first_next(ui);
		return theirs;
	case ACT_PRESS:
		return order(ORDER_PRESS);
	case ACT_HOLD:
		return order(ORDER_HOLD);
	case ACT_OTHER_PART:
		return order(ORDER_OTHER_PART);
	case ACT_DISCARD_ASK:
		ui->screen = SCREEN_DISCARD;
		break;
	case ACT_DISCARD:
		ui->screen = SCREEN_BATCH;
		return order(ORDER_DISCARD);
	case ACT_GO:
		ui_go(ui, model, act.value);
		if (act.value == SCREEN_RECORDS)
			return order(ORDER_LIST);
		if (act.value == SCREEN_PIECES)
			return order(ORDER_PIECES);
		if (act.value == SCREEN_LAYER_CHECKS)
			return order(ORDER_CHECKS);
		if (act.value == SCREEN_DRYING)
			return order(ORDER_DRYING);
		if (act.value == SCREEN_CHECK)
			ui->check.step = CHECK_ZERO;
		break;
	case ACT_FINISH:
		ui_go(ui, model, SCREEN_HOME);
		if (ui->screen == SCREEN_FIRST && ui->first == FIRST_WATER &&
		    strcmp(model->batch.step, "done") == 0)
			return ui_first_next(ui);
		return order(ORDER_LIST);
	case ACT_BEGIN:
		ui->away_id = -1.0;
		return order(ORDER_BEGIN);
	case ACT_AGAIN:
		ui->away_id = -1.0;
		return order(ORDER_AGAIN);
	case ACT_ZERO:
		return order(ORDER_ZERO);
	case ACT_WEIGH:
		ui->weighed_g = ui->weighed_doubt_g = NAN;
		return order(ORDER_WEIGH);
	case ACT_SYSTEM:
	case ACT_AMOUNT:
	case ACT_DIAL:
	case ACT_RECORD:
	case ACT_MORE:
		return act_choose(ui, model, act, at);
	case ACT_THEME:
	case ACT_HAND:
	case ACT_TURN:
	case ACT_LANGUAGE:
	case ACT_BRIGHTER:
	case ACT_UNITS:
	case ACT_MOTION:
		return act_settings(ui, act);
	case ACT_NEXT:
	case ACT_BACK:
	case ACT_LATER:
	case ACT_CHOOSE:
	case ACT_APPROVE:
	case ACT_CALIBRATE:
	case ACT_TAKE:
	case ACT_ACCEPT:
	case ACT_GIVE_UP:
	case ACT_DIGIT:
	case ACT_CHECK:
	case ACT_PIECE:
	case ACT_POUR:
		break; /* taken above, where it has a meaning */
	}
	return order(ORDER_NONE);
}

struct act ui_main_act(const struct ui *ui, const struct model *model)
{
	bool open = ui_batch_open(model);
	struct act theirs;

	if (model->link != LINK_UP)
		return (struct act){ACT_NONE, 0};
	/* From any screen the running batch is one press away. */
	if (!open && (ui_first_main(ui, model, &theirs) || ui_care_main(ui, model, &theirs) ||
	              ui_piece_main(ui, model, &theirs)))
		return theirs;
	switch (ui->screen) {
	case SCREEN_BATCH:
		return (struct act){finished(model) ? ACT_FINISH : ACT_PRESS, 0};
	case SCREEN_AMOUNT:
		if (!open)
			return (struct act){ACT_BEGIN, 0};
		break;
	case SCREEN_HOME:
		if (!open && !model_calibrated(model))
			return (struct act){ACT_GO, SCREEN_CALIBRATE};
		if (!open && model->n_records > 0)
			return (struct act){ACT_AGAIN, 0};
		if (!open && model->n_systems > 0)
			return (struct act){ACT_SYSTEM, 0};
		break;
	case SCREEN_RECORD:
		if (!open)
			return (struct act){ACT_GO, SCREEN_RECORDS};
		break;
	case SCREEN_HEARD:
		return (struct act){ACT_SOUND, SOUND_ACT_HEARD};
	case SCREEN_SOUND:
		if (!open)
			return (struct act){ACT_GO, SCREEN_SETTINGS};
		break;
	case SCREEN_DISCARD:
	case SCREEN_RECORDS:
	case SCREEN_SCALE:
	case SCREEN_SETTINGS:
	case SCREEN_FIRST:
	case SCREEN_BENCH:
	case SCREEN_ENTER:
	case SCREEN_CALIBRATE:
	case SCREEN_LOAD:
	case SCREEN_CHECK:
	case SCREEN_PIECES:
	case SCREEN_PIECE:
	case SCREEN_CLOCKS:
	case SCREEN_LAYER_CHECKS:
	case SCREEN_DRYING:
	case SCREEN_COUNT:
		break;
	}
	return (struct act){ACT_GO, open ? SCREEN_BATCH : SCREEN_HOME};
}

struct order ui_foot(struct ui *ui, const struct model *model)
{
	struct act act = ui_main_act(ui, model);

	/* A keeper's word is held, not pressed: ui_held(). */
	return act.kind == ACT_APPROVE ? order(ORDER_NONE) : ui_act(ui, model, act, 0.0);
}
