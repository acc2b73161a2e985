/* SPDX-License-Identifier: MIT */
#include "checks.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

#include "air.h"

/* Colder, part A may have crystallised (practice). */
#define CRYSTALS_DEGC 18.0
#define WARMED_K      2.0
/* Bubbles need a while to rise to where they can be seen again (design choice). */
#define LOOK_AGAIN_S 300.0

const char *layer_check_name(enum layer_check_id check)
{
	switch (check) {
	case CHECK_CLEAN:
		return "clean";
	case CHECK_LEAK:
		return "leak-test";
	case CHECK_LEVEL:
		return "level";
	case CHECK_LAYOUT:
		return "layout-photo";
	case CHECK_CRYSTALS:
		return "crystals";
	case CHECK_BOTTLES:
		return "bottles-dry";
	case CHECK_SAND:
		return "sand";
	case CHECK_TAPE_ON:
		return "edge-tape-on";
	case CHECK_DRY:
		return "inclusions-dry";
	case CHECK_BUBBLES:
		return "bubbles";
	case CHECK_COVER:
		return "cover";
	case CHECK_BUBBLES_AGAIN:
		return "bubbles-again";
	case CHECK_TAPE_OFF:
		return "edge-tape-off";
	case CHECK_AIR:
		return "air";
	}
	return "";
}

const char *layer_check_when(enum layer_check_when when)
{
	switch (when) {
	case CHECK_BEFORE_WEIGHING:
		return "before weighing";
	case CHECK_BEFORE_POUR:
		return "before the pour";
	case CHECK_AFTER_POUR:
		return "after the pour";
	case CHECK_BEFORE_GEL:
		return "before it gels";
	case CHECK_WHILE_GELLED:
		return "while gelled, not yet hard";
	}
	return "";
}

struct list {
	struct layer_check *at;
	size_t n;
};

__attribute__((format(printf, 4, 5))) static void add(struct list *list, enum layer_check_id check,
                                                      enum layer_check_when when,
                                                      const char *format, ...)
{
	struct layer_check *one = &list->at[list->n++];
	va_list arguments;

	one->check = check;
	one->when = when;
	va_start(arguments, format);
	vsnprintf(one->sentence, sizeof(one->sentence), format, arguments);
	va_end(arguments);
}

/* Once for the piece. */
static void first_layer(const struct piece *piece, struct list *list)
{
	add(list, CHECK_CLEAN, CHECK_BEFORE_WEIGHING,
	    "the cavity is clean and dry, holes and seams are taped");
	add(list, CHECK_LEAK, CHECK_BEFORE_WEIGHING,
	    "leak test: weigh the mould dry; off the scale, on blocks over dry paper, fill it with "
	    "water to %.0f mm and wait an hour: the paper is the judge; then dry the mould and "
	    "pour "
	    "nothing until it weighs what it weighed dry",
	    piece_filled_mm(piece));
	add(list, CHECK_LEVEL, CHECK_BEFORE_WEIGHING,
	    "it is level both ways, where it will stay until it is hard");
	if (piece->n_inclusions > 0)
		add(list, CHECK_LAYOUT, CHECK_BEFORE_WEIGHING,
		    "lay the inclusions out dry, photograph them and attach the photo before they "
		    "are lifted out");
}

static void parts(const struct piece *piece, struct list *list)
{
	const double resin = isnan(piece->resin_degc) ? piece->room_degc : piece->resin_degc;

	if (resin > piece->room_degc + WARMED_K)
		add(list, CHECK_BOTTLES, CHECK_BEFORE_WEIGHING,
		    "the bottles are wiped dry after the warm bath: water spoils the mix");
	else if (resin < CRYSTALS_DEGC)
		add(list, CHECK_CRYSTALS, CHECK_BEFORE_WEIGHING,
		    "both parts are clear, without crystals or clouds: warm a cloudy one until it "
		    "is clear, let it cool");
}

static void air(const struct piece *piece, struct list *list)
{
	const double resin = isnan(piece->resin_degc) ? piece->room_degc : piece->resin_degc;
	const int bits =
	        air_warnings(piece->room_degc, piece->humidity_pct, fmin(piece->room_degc, resin));

	if (bits <= 0)
		return; /* dry enough, or nobody knows */
	add(list, CHECK_AIR, CHECK_BEFORE_WEIGHING,
	    "the air has %.0f %% humidity, its dew point is %.1f C: %s", piece->humidity_pct,
	    air_dew_point_degc(piece->room_degc, piece->humidity_pct),
	    bits & AIR_NEAR_DEW    ? "water would settle on the resin; warm it or dry the air first"
	    : bits & AIR_TOO_HUMID ? "too humid to pour; wait or dry it"
	                           : "a clear surface may blush; drier is better");
}

/* The inclusions that this layer is the first to cover. */
static void inclusions(const struct piece *piece, const struct plan_layer *layer, struct list *list)
{
	const double filled = piece_filled_mm(piece);
	bool any = false, above = false;

	for (size_t i = 0; i < piece->n_inclusions; i++) {
		const struct piece_inclusion *it = &piece->inclusions[i];

		if (it->rests_on_mm < layer->from_mm - 1e-6 ||
		    it->rests_on_mm >= layer->from_mm + layer->depth_mm - 1e-6)
			continue;
		any = true;
		above = above || it->rests_on_mm + it->height_mm > filled;
	}
	if (any && !layer->top_coat)
		add(list, CHECK_DRY, CHECK_BEFORE_POUR,
		    "the inclusions are in place, dry to constant mass%s",
		    above ? "; what is meant to stand out does"
		          : ", and none is taller than the layers will cover");
}

size_t layer_checks(const struct piece *piece, const struct plan *plan, size_t i,
                    struct layer_check *ret)
{
	const struct plan_layer *layer = &plan->layers[i];

	return layer_checks_of(piece, layer, i == 0 && layer->from_mm == 0.0, ret);
}

size_t layer_checks_of(const struct piece *piece, const struct plan_layer *layer, bool first,
                       struct layer_check *ret)
{
	struct list list = {.at = ret};

	if (first)
		first_layer(piece, &list);
	if (layer->sand_first)
		add(&list, CHECK_SAND, CHECK_BEFORE_WEIGHING,
		    "sand the surface dull, wet or with a respirator, wipe off the dust, and let "
		    "the "
		    "solvent go: no flame near it");
	parts(piece, &list);
	air(piece, &list);
	if (layer->edge_tape)
		add(&list, CHECK_TAPE_ON, CHECK_BEFORE_POUR, "the edge is taped");
	inclusions(piece, layer, &list);
	add(&list, CHECK_BUBBLES, CHECK_AFTER_POUR,
	    "bubbles out with one short pass, never over bare petals or near alcohol");
	add(&list, CHECK_COVER, CHECK_AFTER_POUR, "covered against dust");
	add(&list, CHECK_BUBBLES_AGAIN, CHECK_BEFORE_GEL,
	    "look for bubbles once more, within %.0f minutes", PLAN_WATCH_S / 60.0);
	if (layer->edge_tape)
		add(&list, CHECK_TAPE_OFF, CHECK_WHILE_GELLED,
		    "pull the edge tape off now: later it tears the coat");
	return list.n;
}

bool layer_check_due(const struct layer_check *check, double age_s, const double *at_s)
{
	const double sticky_s = at_s[CLOCK_STICKY];

	switch (check->when) {
	case CHECK_BEFORE_WEIGHING:
	case CHECK_BEFORE_POUR:
		return false; /* it is poured */
	case CHECK_AFTER_POUR:
		return age_s < fmin(PLAN_WATCH_S, sticky_s);
	case CHECK_BEFORE_GEL:
		return age_s >= LOOK_AGAIN_S && age_s < fmin(PLAN_WATCH_S, sticky_s);
	case CHECK_WHILE_GELLED:
		return age_s >= at_s[LAYER_TAPE_OFF] && !(age_s >= at_s[CLOCK_BOND_CLOSES]);
	}
	return false;
}
