/* SPDX-License-Identifier: MIT */
#include "options.h"

#include <errno.h>
#include <locale.h>
#include <math.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int option_number(const char *text, double *ret)
{
	locale_t c_locale, before;
	double value;
	char *end;

	/* strtod() also takes "nan", "inf" and hexadecimal: none of them is meant here. */
	if (text[0] == '\0' || text[strspn(text, "0123456789+-.eE")] != '\0')
		return -EINVAL;
	/* Under a locale with decimal commas strtod() stops at the point. */
	c_locale = newlocale(LC_NUMERIC_MASK, "C", (locale_t)0);
	if (c_locale == (locale_t)0)
		return -EINVAL;
	before = uselocale(c_locale);
	value = strtod(text, &end);
	uselocale(before);
	freelocale(c_locale);
	if (end == text || *end != '\0' || !isfinite(value))
		return -EINVAL;
	*ret = value;
	return 0;
}

struct reporting {
	option_report *report;
	void *context;
	int n_mistakes;
};

__attribute__((format(printf, 2, 3))) static void mistake(struct reporting *to, const char *format,
                                                          ...)
{
	char sentence[SCALE_MESSAGE_MAX];
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(sentence, sizeof(sentence), format, arguments);
	va_end(arguments);
	to->report(to->context, sentence);
	to->n_mistakes++;
}

static void read_number(const struct scale_option *option, const struct option_spec *spec,
                        struct reporting *to)
{
	const char *what = spec->kind == OPTION_WHOLE ? "a whole number" : "a number";
	const char *space = spec->unit[0] != '\0' ? " " : "";
	const char *wrong = NULL;
	double value;

	if (option_number(option->value, &value) < 0)
		wrong = "is no number";
	else if (value < spec->min || value > spec->max)
		wrong = "is out of range";
	else if (spec->kind == OPTION_WHOLE && value != floor(value))
		wrong = "is no whole number";
	if (wrong != NULL)
		mistake(to, "%s: %s: '%.40s' %s; expected %s from %g to %g%s%s", option->where,
		        option->key, option->value, wrong, what, spec->min, spec->max, space,
		        spec->unit);
	else
		*(double *)spec->ret = value;
}

static void read_text(const struct scale_option *option, const struct option_spec *spec,
                      struct reporting *to)
{
	if (option->value[0] == '\0')
		mistake(to, "%s: %s: is empty; expected %s", option->where, option->key,
		        spec->unit);
	else
		*(const char **)spec->ret = option->value;
}

static const struct option_spec *find_spec(const struct option_spec *specs, size_t n_specs,
                                           const char *key)
{
	for (size_t i = 0; i < n_specs; i++)
		if (strcmp(specs[i].key, key) == 0)
			return &specs[i];
	return NULL;
}

static const struct scale_option *find_option(const struct scale_option *options, size_t n_options,
                                              const char *key)
{
	for (size_t i = 0; i < n_options; i++)
		if (strcmp(options[i].key, key) == 0)
			return &options[i];
	return NULL;
}

static void list_keys(const struct option_spec *specs, size_t n_specs, char *buffer, size_t size)
{
	size_t used = 0;

	buffer[0] = '\0';
	for (size_t i = 0; i < n_specs && used + strlen(specs[i].key) + 3 < size; i++) {
		strcpy(buffer + used, i == 0 ? "" : ", ");
		strcat(buffer + used, specs[i].key);
		used += strlen(buffer + used);
	}
}

int options_read(const char *driver, const struct scale_option *options, size_t n_options,
                 const struct option_spec *specs, size_t n_specs, option_report *report,
                 void *context)
{
	struct reporting to = {report, context, 0};
	char keys[SCALE_MESSAGE_MAX / 2];

	list_keys(specs, n_specs, keys, sizeof(keys));
	for (size_t i = 0; i < n_options; i++) {
		const struct scale_option *option = &options[i];
		const struct option_spec *spec = find_spec(specs, n_specs, option->key);

		if (spec == NULL)
			mistake(&to, "%s: %.40s: is no option of the driver %s; expected one of %s",
			        option->where, option->key, driver, keys);
		else if (find_option(options, i, option->key) != NULL)
			mistake(&to, "%s: %s: is given twice; expected once", option->where,
			        option->key);
		else if (spec->kind == OPTION_TEXT)
			read_text(option, spec, &to);
		else
			read_number(option, spec, &to);
	}
	for (size_t i = 0; i < n_specs; i++)
		if (specs[i].required && find_option(options, n_options, specs[i].key) == NULL)
			mistake(&to, "%s: %s: is missing for the driver %s; expected %s",
			        n_options > 0 ? options[0].where : "scale", specs[i].key, driver,
			        specs[i].unit);
	return to.n_mistakes;
}

void option_keep_first(void *message, const char *sentence)
{
	char *kept = message;

	if (kept[0] == '\0')
		snprintf(kept, SCALE_MESSAGE_MAX, "%s", sentence);
}
