/* SPDX-License-Identifier: MIT */
#include "action_text.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/options.h"

static const char *const names[] = {
        [ACTION_BEGIN] = "begin",
        [ACTION_PRESS] = "press",
        [ACTION_OTHER_PART] = "other-part",
        [ACTION_HOLD] = "hold",
        [ACTION_DISCARD] = "discard",
        [ACTION_SCAN] = "scan",
        [ACTION_DIVIDE] = "divide",
        [ACTION_ZERO] = "zero",
        [ACTION_LIFE] = "life",
};
#define NAMES (sizeof(names) / sizeof(names[0]))

/* Where each key goes: a number or a text of SYSTEM_LABEL_MAX. */
struct place {
	const char *key;
	double *number;
	char *text;
	size_t size;
};
#define PLACES 16u

static size_t places_of(struct action *action, struct place *ret)
{
	struct recipe_request *recipe = &action->recipe;
	struct action_calibration *calibration = &action->calibration;
	const struct place begin[] = {
	        {"system", NULL, action->system_id, sizeof(action->system_id)},
	        {"total_g", &recipe->total_g, NULL, 0},
	        {"volume_ml", &recipe->volume_ml, NULL, 0},
	        {"cup_limit_g", &recipe->cup_limit_g, NULL, 0},
	        {"tint_pct", &recipe->tint_pct, NULL, 0},
	        {"tint_label", NULL, recipe->tint_label, sizeof(recipe->tint_label)},
	        {"resin_degc", &recipe->resin_degc, NULL, 0},
	        {"piece", NULL, recipe->piece, sizeof(recipe->piece)},
	        {"layer", NULL, recipe->layer, sizeof(recipe->layer)},
	        {"zero_g", &action->zero_g, NULL, 0},
	        {"cal_degree", &calibration->degree, NULL, 0},
	        {"cal_zero_counts", &calibration->zero_counts, NULL, 0},
	        {"cal_g_per_count", &calibration->g_per_count, NULL, 0},
	        {"cal_g_per_count2", &calibration->g_per_count2, NULL, 0},
	        {"cal_residual_sd_g", &calibration->residual_sd_g, NULL, 0},
	        {"cal_repeat_sd_g", &calibration->repeat_sd_g, NULL, 0},
	};
	const struct place divide[] = {
	        {"mass_g", &action->mass_g, NULL, 0},
	        {"tint_pct", &recipe->tint_pct, NULL, 0},
	        {"tint_label", NULL, recipe->tint_label, sizeof(recipe->tint_label)},
	};

	_Static_assert(sizeof(begin) / sizeof(begin[0]) == PLACES, "as many as there is room for");
	if (action->kind == ACTION_BEGIN) {
		memcpy(ret, begin, sizeof(begin));
		return PLACES;
	}
	if (action->kind == ACTION_LIFE) {
		ret[0] = (struct place){"left_s", &action->left_s, NULL, 0};
		return 1;
	}
	memcpy(ret, divide, sizeof(divide));
	return sizeof(divide) / sizeof(divide[0]);
}

static int hex(char c)
{
	return c >= '0' && c <= '9'   ? c - '0'
	       : c >= 'A' && c <= 'F' ? c - 'A' + 10
	       : c >= 'a' && c <= 'f' ? c - 'a' + 10
	                              : -1;
}

/* false when the text does not fit or a %XX is none. */
static bool decode(const char *from, size_t length, char *ret, size_t size)
{
	size_t n = 0;

	for (size_t i = 0; i < length; i++, n++) {
		if (n + 1 >= size)
			return false;
		ret[n] = from[i];
		if (from[i] != '%')
			continue;
		if (i + 2 >= length || hex(from[i + 1]) < 0 || hex(from[i + 2]) < 0)
			return false;
		ret[n] = (char)(hex(from[i + 1]) * 16 + hex(from[i + 2]));
		if (ret[n] == '\0')
			return false;
		i += 2;
	}
	ret[n] = '\0';
	return n > 0;
}

__attribute__((format(printf, 3, 4))) static int refuse(char *why, size_t size, const char *format,
                                                        ...)
{
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(why, size, format, arguments);
	va_end(arguments);
	return -EINVAL;
}

/* One "key=value". */
static int take_pair(const char *pair, size_t length, const struct place *places, size_t n_places,
                     char *why, size_t why_size)
{
	const char *equals = memchr(pair, '=', length);
	const size_t key = equals != NULL ? (size_t)(equals - pair) : length;
	char value[3u * SYSTEM_LABEL_MAX];
	size_t i = 0;

	if (equals == NULL)
		return refuse(why, why_size, "\"%.*s\" is no pair; expected key=value", (int)length,
		              pair);
	while (i < n_places && (strlen(places[i].key) != key || memcmp(places[i].key, pair, key)))
		i++;
	if (i == n_places)
		return refuse(why, why_size, "there is no key \"%.*s\" here", (int)key, pair);
	if (length - key - 1 >= sizeof(value))
		return refuse(why, why_size, "%s: the value is too long", places[i].key);
	memcpy(value, equals + 1, length - key - 1);
	value[length - key - 1] = '\0';
	if (places[i].number != NULL) {
		if (option_number(value, places[i].number) < 0)
			return refuse(why, why_size,
			              "%s: \"%s\" is no number; expected digits with a point",
			              places[i].key, value);
		return 0;
	}
	if (!decode(value, strlen(value), places[i].text, places[i].size))
		return refuse(why, why_size, "%s: \"%s\" is no text of 1 to %zu bytes",
		              places[i].key, value, places[i].size - 1);
	return 0;
}

static int take_pairs(const char *text, struct action *action, char *why, size_t why_size)
{
	struct place places[PLACES];
	const size_t n_places = places_of(action, places);

	while (*(text += strspn(text, " \t\r\n")) != '\0') {
		const size_t length = strcspn(text, " \t\r\n");
		int r = take_pair(text, length, places, n_places, why, why_size);

		if (r < 0)
			return r;
		text += length;
	}
	return 0;
}

int action_parse(const char *text, struct action *ret, char *why, size_t why_size)
{
	struct action action = {.recipe = {.resin_degc = NAN}, .zero_g = NAN, .left_s = NAN};
	size_t length, i = 0;
	int r = 0;

	text += strspn(text, " \t");
	length = strcspn(text, " \t\r\n");
	while (i < NAMES && (strlen(names[i]) != length || memcmp(names[i], text, length) != 0))
		i++;
	if (i == NAMES)
		return refuse(why, why_size,
		              "\"%.*s\" is no event; expected begin, press, other-part, hold, "
		              "discard, scan, divide, zero or life",
		              length > 40 ? 40 : (int)length, text);
	action.kind = (enum action_kind)i;
	text += length;
	switch (action.kind) {
	case ACTION_BEGIN:
	case ACTION_DIVIDE:
	case ACTION_LIFE:
		r = take_pairs(text, &action, why, why_size);
		break;
	case ACTION_SCAN:
		text += strspn(text, " \t");
		if (!decode(text, strcspn(text, " \t\r\n"), action.code, sizeof(action.code)))
			r = refuse(why, why_size, "scan: expected a code of 1 to %u bytes",
			           SYSTEM_LABEL_MAX - 1);
		break;
	case ACTION_PRESS:
	case ACTION_OTHER_PART:
	case ACTION_HOLD:
	case ACTION_DISCARD:
	case ACTION_ZERO:
		if (text[strspn(text, " \t\r\n")] != '\0')
			r = refuse(why, why_size, "%s takes nothing more", names[i]);
		break;
	}
	if (r < 0)
		return r;
	if (action.kind == ACTION_BEGIN && action.system_id[0] == '\0')
		return refuse(why, why_size, "begin: expected system=ID");
	if (action.kind == ACTION_LIFE && !(action.left_s >= 0.0))
		return refuse(why, why_size, "life: expected left_s=SECONDS, 0 or more");
	action.has_zero_g = !isnan(action.zero_g);
	if (!action.has_zero_g)
		action.zero_g = 0.0;
	action.has_calibration = action.calibration.g_per_count != 0.0;
	*ret = action;
	return 0;
}

struct writing {
	char *buffer;
	size_t size, length;
};

static void put(struct writing *writing, char c)
{
	if (writing->length + 1 < writing->size)
		writing->buffer[writing->length] = c;
	writing->length++;
}

static void put_text(struct writing *writing, const char *text)
{
	while (*text != '\0')
		put(writing, *text++);
}

static void put_encoded(struct writing *writing, const char *text)
{
	char code[4];

	for (; *text != '\0'; text++) {
		const unsigned char c = (unsigned char)*text;

		if ((c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
		    c == '-' || c == '.' || c == '_') {
			put(writing, (char)c);
			continue;
		}
		snprintf(code, sizeof(code), "%%%02X", c);
		put_text(writing, code);
	}
}

/* 0 stands for "none" everywhere but in a temperature and in what is left. */
static bool given(const struct place *place, const struct action *action)
{
	if (place->number == NULL)
		return place->text[0] != '\0';
	return !isnan(*place->number) &&
	       (*place->number != 0.0 || place->number == &action->recipe.resin_degc ||
	        place->number == &action->left_s);
}

size_t action_write(const struct action *action, char *buffer, size_t size)
{
	struct writing writing = {.buffer = buffer, .size = size};
	struct action copy = *action;
	struct place places[PLACES];
	char number[40];
	size_t n = 0;

	put_text(&writing, names[action->kind]);
	if (action->kind == ACTION_SCAN) {
		put(&writing, ' ');
		put_encoded(&writing, action->code);
	}
	if (action->kind == ACTION_BEGIN || action->kind == ACTION_DIVIDE ||
	    action->kind == ACTION_LIFE)
		n = places_of(&copy, places);
	for (size_t i = 0; i < n; i++) {
		if (!given(&places[i], &copy))
			continue;
		put(&writing, ' ');
		put_text(&writing, places[i].key);
		put(&writing, '=');
		if (places[i].number != NULL) {
			snprintf(number, sizeof(number), "%.17g", *places[i].number);
			put_text(&writing, number);
		} else {
			put_encoded(&writing, places[i].text);
		}
	}
	if (size > 0)
		buffer[writing.length < size ? writing.length : size - 1] = '\0';
	return writing.length;
}
