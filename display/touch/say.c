/* SPDX-License-Identifier: MIT */
#include "say.h"

#include <errno.h>
#include <locale.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "daemon/mixing/message.h"
#include "words/words_advice.h"
#include "words/words_read.h"

/* GNU gettext asks the catalogue again after this has changed (its manual, 11.5). */
extern int _nl_msg_cat_cntr; // NOLINT

int say_language(const char *folder, const char *code, char *ret_sentence, size_t size)
{
	char path[512];
	int r = 0;

	/* C.UTF-8 is in every C library, the languages' own locales seldom: with it the
	 * messages go by LANGUAGE alone, and numbers keep their point for JSON. */
	setlocale(LC_MESSAGES, "C.UTF-8");
	setlocale(LC_CTYPE, "C.UTF-8");
	snprintf(path, sizeof path, "%s/%s/LC_MESSAGES/ambo.mo", folder, code);
	if (strcmp(code, "en") != 0 && access(path, R_OK) < 0) {
		r = -errno;
		snprintf(ret_sentence, size, "language \"%s\": %s: %s; going on in English", code,
		         path, strerror(errno));
		code = "en";
	}
	setenv("LANGUAGE", code, 1);
	_nl_msg_cat_cntr++;
	bindtextdomain("ambo", folder);
	bind_textdomain_codeset("ambo", "UTF-8");
	textdomain("ambo");
	if (r == 0 && strcmp(code, "en") != 0 && strcmp(say_language_name(), "English") == 0) {
		snprintf(ret_sentence, size,
		         "language \"%s\": %s is no message catalogue; going on in "
		         "English",
		         code, path);
		r = -EINVAL;
	}
	return r;
}

bool say_rtl(void)
{
	/* Translators: "rtl" for a language that is read from right to left. */
	return strcmp(_("ltr"), "rtl") == 0;
}

char say_decimal(void)
{
	/* Translators: the mark between whole and fraction, "." or ",". */
	return _("decimal .")[strlen(_("decimal .")) - 1] == ',' ? ',' : '.';
}

const char *say_language_name(void)
{
	/* Translators: the name of your language, in it. */
	return _("English");
}

static const char *translate(const char *english)
{
	return *english ? gettext(english) : english;
}

static enum component component_of(const char *name, bool *ret_known)
{
	for (int i = COMPONENT_A; i <= COMPONENT_MIXED; i++)
		if (strcmp(component_name((enum component)i), name) == 0)
			return *ret_known = true, (enum component)i;
	*ret_known = false;
	return COMPONENT_A;
}

static void resin_system_of(const struct model_system *from, struct resin_system *ret)
{
	memset(ret, 0, sizeof *ret);
	if (!from)
		return;
	snprintf(ret->part[PART_A].label, sizeof ret->part[PART_A].label, "%s", from->label_a);
	snprintf(ret->part[PART_B].label, sizeof ret->part[PART_B].label, "%s", from->label_b);
	ret->hardener = strcmp(from->hardener, "a") == 0 ? PART_A : PART_B;
}

static void give(struct message *message, double value, uint32_t has, double *place)
{
	if (!isfinite(value))
		return;
	*place = value;
	message->has |= has;
}

static void message_of(const struct model *model, struct message *ret)
{
	const struct model_batch *batch = &model->batch;
	int id = message_from_name(batch->message);
	bool known;

	memset(ret, 0, sizeof *ret);
	ret->id = id < 0 ? MESSAGE_NONE : (enum message_id)id;
	give(ret, batch->mass_g, MESSAGE_HAS_MASS_G, &ret->mass_g);
	give(ret, batch->other_mass_g, MESSAGE_HAS_OTHER_MASS_G, &ret->other_mass_g);
	give(ret, batch->pct, MESSAGE_HAS_PCT, &ret->pct);
	give(ret, batch->other_pct, MESSAGE_HAS_OTHER_PCT, &ret->other_pct);
	give(ret, batch->seconds, MESSAGE_HAS_SECONDS, &ret->seconds);
	give(ret, batch->other_seconds, MESSAGE_HAS_OTHER_SECONDS, &ret->other_seconds);
	ret->component = component_of(batch->argument_component, &known);
	ret->has |= known ? MESSAGE_HAS_COMPONENT : 0u;
	ret->other = component_of(batch->argument_other, &known);
	ret->has |= known ? MESSAGE_HAS_OTHER : 0u;
	snprintf(ret->text, sizeof ret->text, "%s", batch->argument_text);
	ret->has |= ret->text[0] ? MESSAGE_HAS_TEXT : 0u;
}

static size_t say(const struct model *model, enum words_what what, const char *from_station,
                  char *buffer, size_t size)
{
	const struct model_system *from = model_system_find(model, model->batch.system);
	char read_back[SAY_MAX] = "";
	const struct words_language language = {translate, say_decimal(), from ? read_back : NULL};
	struct resin_system system;
	struct message message;
	int n;

	message_of(model, &message);
	/* A message of some newer station: its English is better than nothing. */
	if (message.id == MESSAGE_NONE && model->batch.message[0]) {
		n = snprintf(buffer, size, "%s", from_station);
		return n < 0 ? 0 : (size_t)n;
	}
	resin_system_of(from, &system);
	if (from)
		say_read_back(from, read_back, sizeof read_back);
	return words_in(&language, what, &message, from ? &system : NULL, buffer, size);
}

size_t say_headline(const struct model *model, char *buffer, size_t size)
{
	return say(model, WORDS_HEADLINE, model->batch.headline, buffer, size);
}

size_t say_sentence(const struct model *model, char *buffer, size_t size)
{
	return say(model, WORDS_SENTENCE, model->batch.sentence, buffer, size);
}

size_t say_caution(const struct model *model, char *buffer, size_t size)
{
	return say(model, WORDS_CAUTION, model->batch.caution, buffer, size);
}

static size_t label(const struct model *model, const char *system_id, enum component component,
                    char *buffer, size_t size)
{
	const struct words_language language = {translate, say_decimal(), NULL};
	const struct model_system *from = model_system_find(model, system_id);
	struct resin_system system;

	resin_system_of(from, &system);
	return words_label_in(&language, component, from ? &system : NULL, buffer, size);
}

size_t say_part(const struct model *model, int part, char *buffer, size_t size)
{
	return label(model, model->batch.system, part == 0 ? COMPONENT_A : COMPONENT_B, buffer,
	             size);
}

size_t say_component(const struct model *model, char *buffer, size_t size)
{
	bool known;

	return label(model, model->batch.system, component_of(model->batch.component, &known),
	             buffer, size);
}

size_t say_deviation(const struct model *model, const char *system_id, double pct, char *buffer,
                     size_t size)
{
	const struct words_language language = {translate, say_decimal(), NULL};
	const struct model_system *from = model_system_find(model, system_id);
	struct resin_system system;

	resin_system_of(from, &system);
	words_deviation_in(&language, pct, from ? &system : NULL, buffer, size);
	return strlen(buffer);
}

size_t say_advice(const char *name, double value, double other, double count, double of,
                  const char *from_station, char *buffer, size_t size)
{
	const struct words_language language = {translate, say_decimal(), NULL};
	struct advice advice = {.value = value, .other = other};

	advice.count = isfinite(count) ? (int)count : 0;
	advice.of = isfinite(of) ? (int)of : 0;
	for (int id = ADVICE_NONE + 1; id < ADVICE_COUNT; id++) {
		if (strcmp(advice_name((enum advice_id)id), name) != 0)
			continue;
		advice.id = (enum advice_id)id;
		return words_advice_in(&language, &advice, buffer, size);
	}
	snprintf(buffer, size, "%s", from_station);
	return strlen(buffer);
}

size_t say_read(const char *from_station, char *buffer, size_t size)
{
	const struct words_language language = {translate, say_decimal(), NULL};

	return words_read_in(&language, from_station, buffer, size);
}

static void parts(const struct model_system *system, const char *template, char *buffer,
                  size_t size)
{
	char a[WORDS_NUMBER_MAX], b[WORDS_NUMBER_MAX];

	say_number(system->parts_a, system->parts_a == floor(system->parts_a) ? 0 : 1, a);
	say_number(system->parts_b, system->parts_b == floor(system->parts_b) ? 0 : 1, b);
	say_fill(buffer, size, template, "a", a, "label_a", system->label_a, "b", b, "label_b",
	         system->label_b, NULL);
}

static bool by_volume(const struct model_system *system)
{
	return strcmp(system->basis, "volume") == 0;
}

static bool parts_known(const struct model_system *system)
{
	return isfinite(system->parts_a) && isfinite(system->parts_b);
}

void say_parts(const struct model_system *system, char *buffer, size_t size)
{
	buffer[0] = '\0';
	if (parts_known(system))
		parts(system,
		      by_volume(system) ? _("{a} ml {label_a} : {b} ml {label_b}")
		                        : _("{a} g {label_a} : {b} g {label_b}"),
		      buffer, size);
}

void say_read_back(const struct model_system *system, char *buffer, size_t size)
{
	if (parts_known(system))
		parts(system,
		      by_volume(system)
		              ? _("for {a} ml of {label_a}, {b} ml of {label_b}, as on the label?")
		              : _("for {a} g of {label_a}, {b} g of {label_b}, as on the label?"),
		      buffer, size);
	else
		snprintf(buffer, size, "%s", system->read_back);
}

static const char *value_of(const char *name, size_t length, va_list values)
{
	const char *key, *value, *found = NULL;

	while ((key = va_arg(values, const char *)) != NULL) {
		value = va_arg(values, const char *);
		if (strlen(key) == length && strncmp(key, name, length) == 0)
			found = value;
	}
	return found;
}

const char *say_word(const struct say_word *rows, size_t n, const char *name,
                     const char *otherwise)
{
	for (size_t i = 0; i < n; i++)
		if (strcmp(rows[i].name, name) == 0)
			return _(rows[i].words);
	return otherwise;
}

size_t say_fill(char *buffer, size_t size, const char *template, ...)
{
	size_t length = 0;

	buffer[0] = '\0';
	while (*template && length + 1 < size) {
		const char *end = *template == '{' ? strchr(template, '}') : NULL;
		const char *value = NULL;
		va_list values;

		if (end) {
			va_start(values, template);
			value = value_of(template + 1, (size_t)(end - template - 1), values);
			va_end(values);
		}
		if (value) {
			length += (size_t)snprintf(buffer + length, size - length, "%s", value);
			template = end + 1;
		} else {
			buffer[length++] = *template ++;
			buffer[length] = '\0';
		}
	}
	return length < size ? length : size - 1;
}

static void localise(char *number)
{
	char *point = strchr(number, '.');

	if (point)
		*point = say_decimal();
}

void say_number(double value, int decimals, char *buffer)
{
	snprintf(buffer, WORDS_NUMBER_MAX, "%.*f", decimals, fmin(fabs(value), 1e9));
	localise(buffer);
}

void say_mass(double mass_g, bool pouring, char *buffer)
{
	words_mass(mass_g, pouring, buffer);
	localise(buffer);
}

void say_pct(double pct, char *buffer)
{
	words_pct(pct, buffer);
	localise(buffer);
}

void say_duration(double seconds, char *buffer)
{
	size_t n;

	words_duration(seconds, buffer);
	/* "20 h", where nobody counts minutes. */
	n = strlen(buffer);
	if (n > 6 && strcmp(buffer + n - 6, " 0 min") == 0)
		buffer[n - 6] = '\0';
}

void say_degrees(double degc, enum units units, char *buffer)
{
	snprintf(buffer, WORDS_NUMBER_MAX, "%.0f °%c", units == UNITS_US ? degc * 1.8 + 32.0 : degc,
	         units == UNITS_US ? 'F' : 'C');
}

void say_depth(double depth_mm, enum units units, char *buffer)
{
	char number[WORDS_NUMBER_MAX];

	say_number(units == UNITS_US ? depth_mm / 25.4 : depth_mm, units == UNITS_US ? 2 : 1,
	           number);
	snprintf(buffer, WORDS_NUMBER_MAX, "%.20s %s", number, units == UNITS_US ? "in" : "mm");
}

void say_day_time(double realtime_us, char *buffer, size_t size)
{
	static const char *const days[] = {N_("Sun"), N_("Mon"), N_("Tue"), N_("Wed"),
	                                   N_("Thu"), N_("Fri"), N_("Sat")};
	time_t seconds = isfinite(realtime_us) ? (time_t)(realtime_us / 1e6) : 0;
	struct tm day;

	buffer[0] = '\0';
	if (!isfinite(realtime_us) || !localtime_r(&seconds, &day))
		return;
	snprintf(buffer, size, "%s %02d:%02d", _(days[day.tm_wday % 7]), day.tm_hour, day.tm_min);
}

void say_clock(double seconds, char *buffer)
{
	long s = (long)ceil(fmin(fmax(seconds, 0.0), 359999.0));

	if (s >= 3600)
		snprintf(buffer, WORDS_NUMBER_MAX, "%ld:%02ld:%02ld", s / 3600, s / 60 % 60,
		         s % 60);
	else
		snprintf(buffer, WORDS_NUMBER_MAX, "%ld:%02ld", s / 60, s % 60);
}
