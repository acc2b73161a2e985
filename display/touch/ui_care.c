/* SPDX-License-Identifier: MIT */
/* The scale's care: a calibration led through, the daily check, the keypad. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ui_inside.h"

const char *const ui_classes[] = {"M1", "F2", "F1", "E2", "E1", "M2", "M3", NULL};
#define N_CLASSES 7

void ui_care_init(struct ui *ui)
{
	ui->check = (struct ui_check){.weight_g = 1000.0};
	ui->load_g = 0.0;
}

bool ui_needs_word(const struct model *model)
{
	return !(model->scale.approved_s > 0.0) && !(model->scale.calibrating > 0.0);
}

static bool step_is(const struct model *model, const char *step)
{
	return strcmp(model->scale.run.step, step) == 0;
}

/* A fifth of Max, as a load that people have, then twice as much each time. */
void ui_care_suggest(struct ui *ui, const struct model *model)
{
	double max_g = isfinite(model->scale.max_g) ? model->scale.max_g : 5000.0;
	double ten = pow(10.0, floor(log10(max_g * 0.2)));
	double first_g = max_g * 0.2 / ten >= 5.0   ? 5.0 * ten
	                 : max_g * 0.2 / ten >= 2.0 ? 2.0 * ten
	                                            : ten;

	ui->load_g = first_g;
	for (int i = 0; i < (int)model->scale.run.loads && ui->load_g * 2.0 <= max_g; i++)
		ui->load_g *= 2.0;
	ui->digits[0] = '\0';
}

static struct order press(struct ui *ui, const struct model *model, bool enough)
{
	struct order order = {.kind = ORDER_TAKE};

	if (step_is(model, "rising") && !enough)
		order.mass_g = ui->load_g;
	return order;
}

static void digit(struct ui *ui, int32_t key)
{
	size_t n = strlen(ui->digits);
	double mass_g;

	if (key == KEY_RUBOUT) {
		if (n > 0)
			ui->digits[n - 1] = '\0';
	} else if (n + 1 < sizeof ui->digits &&
	           (key != KEY_POINT || (n > 0 && !strchr(ui->digits, '.')))) {
		ui->digits[n] = key == KEY_POINT ? '.' : (char)('0' + key);
		ui->digits[n + 1] = '\0';
	}
	mass_g = strtod(ui->digits, NULL);
	if (mass_g > 0.0)
		ui->load_g = mass_g;
}

/* 1, 2, 5, 10 ... g, the next one up or down: weights come in these. */
static double next_weight_g(double weight_g, bool up, double max_g)
{
	static const double row[] = {10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000};
	int n = sizeof row / sizeof *row, at = 0;

	while (at + 1 < n && row[at] < weight_g - 0.5)
		at++;
	at += up ? 1 : -1;
	if (at < 0 || at >= n || row[at] > max_g)
		return weight_g;
	return row[at];
}

void ui_checked(struct ui *ui, const char *verdict, double error_g, double limit_g)
{
	snprintf(ui->check.verdict, sizeof ui->check.verdict, "%s", verdict);
	ui->check.error_g = error_g;
	ui->check.limit_g = limit_g;
	ui->check.step = CHECK_TOLD;
}

void ui_accepted(struct ui *ui)
{
	if (ui->screen != SCREEN_CALIBRATE)
		return;
	if (!ui->settings.first_run_done) {
		ui_first_next(ui);
	} else {
		ui->check.step = CHECK_ZERO;
		ui->screen = SCREEN_CHECK; /* a calibration that nobody checked is a claim */
	}
}

static struct order check_act(struct ui *ui, const struct model *model, struct act act)
{
	struct ui_check *check = &ui->check;
	double max_g = isfinite(model->scale.max_g) ? model->scale.max_g : 5000.0;

	switch (act.kind) {
	case ACT_NEXT:
		if (check->step == CHECK_TOLD) {
			ui_go(ui, model, SCREEN_HOME);
			break;
		}
		check->step = CHECK_WEIGHT;
		return (struct order){.kind = ORDER_ZERO};
	case ACT_BACK:
		check->step = CHECK_ZERO;
		break;
	case ACT_CHOOSE:
		if (act.value == 2)
			check->weight_class = (check->weight_class + 1) % N_CLASSES;
		else
			check->weight_g = next_weight_g(check->weight_g, act.value == 1, max_g);
		break;
	case ACT_CHECK:
		return (struct order){.kind = ORDER_CHECK};
	default:
		break;
	}
	return (struct order){.kind = ORDER_NONE};
}

static bool calibrate_act(struct ui *ui, const struct model *model, struct act act,
                          struct order *ret)
{
	*ret = (struct order){.kind = ORDER_NONE};
	switch (act.kind) {
	case ACT_APPROVE:
		ret->kind = ORDER_APPROVE;
		break;
	case ACT_CALIBRATE:
		ret->kind = ORDER_CALIBRATE;
		break;
	case ACT_TAKE:
		*ret = press(ui, model, act.value == 1);
		break;
	case ACT_ACCEPT:
		ret->kind = ORDER_ACCEPT;
		break;
	case ACT_GIVE_UP:
		ret->kind = ORDER_GIVE_UP;
		break;
	case ACT_DIGIT:
		digit(ui, act.value);
		break;
	default:
		return false;
	}
	return true;
}

bool ui_care_act(struct ui *ui, const struct model *model, struct act act, struct order *ret)
{
	if (calibrate_act(ui, model, act, ret))
		return true;
	if (ui->screen != SCREEN_CHECK || (act.kind != ACT_NEXT && act.kind != ACT_BACK &&
	                                   act.kind != ACT_CHOOSE && act.kind != ACT_CHECK))
		return false;
	*ret = check_act(ui, model, act);
	return true;
}

/* Going up ends by itself where twice the load would be over Max. */
static bool enough(const struct ui *ui, const struct model *model)
{
	return model->scale.run.loads >= 3.0 ||
	       (model->scale.run.loads >= 1.0 && isfinite(model->scale.max_g) &&
	        ui->load_g > model->scale.max_g);
}

static struct act calibrate_main(const struct ui *ui, const struct model *model)
{
	if (!(model->scale.calibrating > 0.0))
		return (struct act){ui_needs_word(model) ? ACT_APPROVE : ACT_CALIBRATE, 0};
	if (step_is(model, "done"))
		return (struct act){ACT_ACCEPT, 0};
	if (step_is(model, "refused"))
		return (struct act){ACT_GIVE_UP, 0};
	if (step_is(model, "repeat") || step_is(model, "places"))
		return (struct act){ACT_NONE, 0};
	return (struct act){ACT_TAKE, step_is(model, "rising") && enough(ui, model)};
}

bool ui_care_main(const struct ui *ui, const struct model *model, struct act *ret)
{
	if (ui->screen == SCREEN_CALIBRATE)
		*ret = calibrate_main(ui, model);
	else if (ui->screen == SCREEN_LOAD)
		*ret = (struct act){ACT_GO, SCREEN_CALIBRATE};
	else if (ui->screen == SCREEN_CHECK)
		*ret = (struct act){ui->check.step == CHECK_WEIGHT ? ACT_CHECK : ACT_NEXT, 0};
	else
		return false;
	return true;
}
