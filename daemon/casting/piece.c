/* SPDX-License-Identifier: MIT */
#include "piece.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "daemon/mixing/printable.h"
#include "heat.h"

/* A petal that ends a tenth of a millimetre under the surface is not worth a refusal. */
#define HEIGHT_SLACK_MM 0.05

void piece_defaults(struct piece *ret)
{
	*ret = (struct piece){.bottom_w_per_m2k = HEAT_BOTTOM_BENCH_W_PER_M2K,
	                      .mould_limit_degc = INFINITY,
	                      .room_degc = 23.0,
	                      .resin_degc = (double)NAN,
	                      .humidity_pct = (double)NAN,
	                      .cup_limit_g = INFINITY,
	                      .cup_loss_g = (double)NAN,
	                      .batches_max = 1,
	                      .pour_g_per_s = 5.0,
	                      .hours = {.opens_min = 8 * 60,
	                                .closes_min = 22 * 60,
	                                .days = PIECE_EVERY_DAY,
	                                .start_min = 8 * 60}};
}

struct answer {
	char *sentence;
	const char **key;
};

__attribute__((format(printf, 3, 4))) static int wrong(const struct answer *answer, const char *key,
                                                       const char *format, ...)
{
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(answer->sentence, PIECE_SENTENCE_MAX, format, arguments);
	va_end(arguments);
	*answer->key = key;
	return -EINVAL;
}

double piece_filled_mm(const struct piece *piece)
{
	double sum = 0.0;

	for (size_t i = 0; i < piece->n_coats; i++)
		if (!piece->coats[i].top_coat)
			sum += piece->coats[i].depth_mm;
	return sum;
}

double piece_coat_from_mm(const struct piece *piece, size_t coat)
{
	double from = 0.0;

	for (size_t i = 0; i < coat; i++)
		from += piece->coats[i].depth_mm;
	return from;
}

/* Coats in order, each with a system and a depth. */
static int complete_coats(struct piece *piece, const struct answer *answer)
{
	const double height = cavity_height_mm(&piece->cavity);
	double given = 0.0;
	struct piece_coat *rest = NULL;
	bool over = false;

	if (piece->n_coats == 0)
		return wrong(answer, "coats", "there is no coat; expected at least one");
	for (size_t i = 0; i < piece->n_coats; i++) {
		struct piece_coat *coat = &piece->coats[i];

		for (size_t j = 0; j < i; j++)
			if (strcmp(coat->name, piece->coats[j].name) == 0)
				return wrong(
				        answer, "coats",
				        "two coats are named \"%s\"; expected names that can be "
				        "told apart",
				        coat->name);
		if (coat->system[0] == '\0')
			snprintf(coat->system, sizeof(coat->system), "%s", piece->system);
		if (coat->system[0] == '\0')
			return wrong(
			        answer, "system",
			        "coat \"%s\" has no system; expected one of its own or one for "
			        "the piece",
			        coat->name);
		if (over && !coat->top_coat)
			return wrong(answer, "coats",
			             "coat \"%s\" comes after a top coat; expected top coats last",
			             coat->name);
		over = coat->top_coat;
		if (coat->top_coat && coat->depth_mm == 0.0 && coat->coverage_g_per_m2 == 0.0)
			return wrong(answer, "coats",
			             "top coat \"%s\" has neither depth_mm nor coverage_g_per_m2; "
			             "expected its thickness or the label's coverage",
			             coat->name);
		if (coat->top_coat)
			continue;
		if (coat->depth_mm == 0.0 && rest)
			return wrong(answer, "coats",
			             "coats \"%s\" and \"%s\" both have no depth_mm; expected at "
			             "most one that takes what is left",
			             rest->name, coat->name);
		if (coat->depth_mm == 0.0)
			rest = coat;
		given += coat->depth_mm;
	}
	if (given > height + HEIGHT_SLACK_MM || (rest && height - given < HEIGHT_SLACK_MM))
		return wrong(answer, "coats",
		             "the coats are %.4g mm deep together%s and the cavity %.4g mm; "
		             "expected coats that fit",
		             given, rest ? " without the one that takes the rest" : "", height);
	if (rest)
		rest->depth_mm = height - given;
	return 0;
}

/* The height on which a coat ends. NaN for a name that no coat in the cavity has. */
static double top_of(const struct piece *piece, const char *name)
{
	for (size_t i = 0; i < piece->n_coats; i++)
		if (strcmp(piece->coats[i].name, name) == 0 && !piece->coats[i].top_coat)
			return piece_coat_from_mm(piece, i) + piece->coats[i].depth_mm;
	return (double)NAN;
}

static int complete_inclusion(struct piece *piece, struct piece_inclusion *it,
                              const struct answer *answer)
{
	const double filled = piece_filled_mm(piece);
	double space_ml, top;

	it->rests_on_mm = it->rests_on[0] == '\0' ? 0.0 : top_of(piece, it->rests_on);
	if (isnan(it->rests_on_mm))
		return wrong(answer, "inclusions",
		             "\"%s\" rests on \"%s\", which is no coat in the cavity; expected the "
		             "name of one, or \"floor\"",
		             it->name, it->rests_on);
	top = it->rests_on_mm + it->height_mm;
	if (it->rests_on_mm >= filled - HEIGHT_SLACK_MM)
		return wrong(answer, "inclusions",
		             "\"%s\" rests on the last coat, at %.1f mm, where nothing is poured "
		             "over it; expected a lower coat",
		             it->name, it->rests_on_mm);
	if (top > filled + HEIGHT_SLACK_MM && !it->may_stand_out)
		return wrong(answer, "inclusions",
		             "\"%s\" reaches from %.1f to %.1f mm and the last layer ends at %.1f "
		             "mm: %.1f mm would stand out; expected a lower one, a deeper cavity, "
		             "or may_stand_out = true",
		             it->name, it->rests_on_mm, top, filled, top - filled);
	space_ml = cavity_volume_ml(&piece->cavity, it->rests_on_mm, top);
	if (it->volume_ml >= space_ml)
		return wrong(answer, "inclusions",
		             "\"%s\" takes up %.4g ml and there are %.4g ml from %.1f to %.1f mm; "
		             "expected less of it, or millilitres and grams checked",
		             it->name, it->volume_ml, space_ml, it->rests_on_mm, top);
	return 0;
}

/* All together, wherever any of them begins or ends: no more than the cavity there. */
static int inclusions_fit(const struct piece *piece, const struct answer *answer)
{
	struct inclusion all[PIECE_INCLUSIONS_MAX];
	size_t n = piece_displacing(piece, all);

	for (size_t i = 0; i < n; i++) {
		double top = all[i].rests_on_mm + all[i].height_mm;
		double from = all[i].rests_on_mm, to = fmin(top, piece_filled_mm(piece));
		double space = cavity_volume_ml(&piece->cavity, from, to);
		double taken = cavity_displaced_ml(all, n, from, to);

		if (taken >= space)
			return wrong(
			        answer, "inclusions",
			        "from %.1f to %.1f mm the inclusions take up %.4g ml together and "
			        "there are %.4g ml; expected fewer or smaller ones",
			        from, to, taken, space);
	}
	return 0;
}

static int check_hours(const struct piece_hours *hours, const struct answer *answer)
{
	if (hours->opens_min < 0 || hours->closes_min > 24 * 60 ||
	    hours->opens_min >= hours->closes_min)
		return wrong(answer, "hours",
		             "from %02d:%02d to %02d:%02d is no part of a day; expected an opening "
		             "before the closing",
		             hours->opens_min / 60, hours->opens_min % 60, hours->closes_min / 60,
		             hours->closes_min % 60);
	if ((hours->days & PIECE_EVERY_DAY) == 0)
		return wrong(answer, "hours",
		             "there is no day; expected at least one of mon to sun");
	return 0;
}

static int check_text(const char *text, const char *key, const struct answer *answer)
{
	const size_t fault = printable_fault(text, false);

	if (fault == 0)
		return 0;
	return wrong(answer, key,
	             "byte %zu (0x%02x) of a name is no printable character; expected UTF-8 text",
	             fault, (unsigned char)text[fault - 1]);
}

static int check_texts(const struct piece *piece, const struct answer *answer)
{
	int r = check_text(piece->name, "name", answer);

	if (r == 0)
		r = check_text(piece->system, "system", answer);
	for (size_t i = 0; r == 0 && i < piece->n_coats; i++) {
		r = check_text(piece->coats[i].name, "coats", answer);
		if (r == 0)
			r = check_text(piece->coats[i].system, "coats", answer);
		if (r == 0)
			r = check_text(piece->coats[i].tint, "coats", answer);
	}
	for (size_t i = 0; r == 0 && i < piece->n_inclusions; i++) {
		r = check_text(piece->inclusions[i].name, "inclusions", answer);
		if (r == 0)
			r = check_text(piece->inclusions[i].rests_on, "inclusions", answer);
	}
	return r;
}

/* What does not fit into a thimble is more likely in other units than too much. */
static void doubt_units(const struct cavity *cavity, char *sentence)
{
	const size_t used = strlen(sentence);
	char question[CAVITY_SENTENCE_MAX];

	if (cavity_question(cavity, question) > 0)
		snprintf(sentence + used, PIECE_SENTENCE_MAX - used, " (%s)", question);
}

int piece_complete(struct piece *piece, char *ret_sentence, const char **ret_key)
{
	const struct answer answer = {ret_sentence, ret_key};
	struct piece whole = *piece;
	char sentence[CAVITY_SENTENCE_MAX];
	int r;

	r = check_texts(&whole, &answer);
	if (r < 0)
		return r;
	if (cavity_check(&whole.cavity, sentence) < 0)
		return wrong(&answer, "cavity", "%s", sentence);
	r = complete_coats(&whole, &answer);
	for (size_t i = 0; r == 0 && i < whole.n_inclusions; i++)
		r = complete_inclusion(&whole, &whole.inclusions[i], &answer);
	if (r == 0)
		r = inclusions_fit(&whole, &answer);
	if (r < 0)
		doubt_units(&whole.cavity, ret_sentence);
	if (r == 0)
		r = check_hours(&whole.hours, &answer);
	if (r == 0)
		*piece = whole;
	return r;
}

/* A coat much deeper than its cavity is wide, or one as thin as paper, is most likely
 * centimetres. */
int piece_question(const struct piece *piece, char *ret_sentence)
{
	char sentence[CAVITY_SENTENCE_MAX];

	if (cavity_question(&piece->cavity, sentence) > 0) {
		snprintf(ret_sentence, PIECE_SENTENCE_MAX, "%s", sentence);
		return 1;
	}
	for (size_t i = 0; i < piece->n_coats; i++) {
		const struct piece_coat *coat = &piece->coats[i];

		if (coat->depth_mm > 0.0 && coat->depth_mm < 0.5 && !coat->top_coat) {
			snprintf(ret_sentence, PIECE_SENTENCE_MAX,
			         "coat \"%s\" is %.2f mm deep: did you mean %.1f mm (centimetres "
			         "given as millimetres)?",
			         coat->name, coat->depth_mm, 10.0 * coat->depth_mm);
			return 1;
		}
	}
	return 0;
}

size_t piece_displacing(const struct piece *piece, struct inclusion *ret)
{
	for (size_t i = 0; i < piece->n_inclusions; i++)
		ret[i] = (struct inclusion){.rests_on_mm = piece->inclusions[i].rests_on_mm,
		                            .height_mm = piece->inclusions[i].height_mm,
		                            .volume_ml = piece->inclusions[i].volume_ml};
	return piece->n_inclusions;
}
