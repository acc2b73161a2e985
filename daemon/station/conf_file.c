/* SPDX-License-Identifier: MIT */
#include "conf_file.h"

#include <errno.h>
#include <libconfig.h>
#include <limits.h>
#include <math.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "literals.h"
#include "nearest.h"
#include "read_text.h"

#define KEY_MAX        128u
#define COMPLAINTS_MAX 64u

struct conf_file {
	config_t config;
	char path[PATH_MAX];
	char complained[COMPLAINTS_MAX][KEY_MAX];
	size_t n_complained;
	/* Texts made for options handed on as text. */
	char *texts[2u * CONF_PASSED_MAX * 4u];
	size_t n_texts;
};

/* What one reading is about: who, into where, on behalf of whom. */
struct reading_of {
	struct conf_file *file;
	struct conf_report *report;
	void *base;
};

void conf_wrong(struct conf_report *report, const char *file, int line, const char *key,
                const char *format, ...)
{
	char sentence[CONF_SENTENCE_MAX];
	size_t size = sizeof(sentence);
	va_list arguments;
	int n;

	n = line > 0 ? snprintf(sentence, size, "%s:%d: ", file, line)
	             : snprintf(sentence, size, "%s: ", file);
	if (n >= 0 && (size_t)n < size && key[0] != '\0')
		n += snprintf(sentence + n, size - (size_t)n, "%s: ", key);
	va_start(arguments, format);
	if (n >= 0 && (size_t)n < size)
		vsnprintf(sentence + n, size - (size_t)n, format, arguments);
	va_end(arguments);
	/* What the file holds may be quoted: still one line, and no terminal's commands. */
	for (char *at = sentence; *at != '\0'; at++)
		if ((unsigned char)*at < 0x20u || *at == 0x7f)
			*at = '?';
	report->found++;
	if (report->say != NULL)
		report->say(report->context, sentence);
}

__attribute__((format(printf, 4, 5))) static void wrong_at(const struct reading_of *of,
                                                           const config_setting_t *setting,
                                                           const char *key, const char *format, ...)
{
	struct conf_file *file = of->file;
	char what[CONF_SENTENCE_MAX];
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(what, sizeof(what), format, arguments);
	va_end(arguments);
	if (file->n_complained < COMPLAINTS_MAX)
		snprintf(file->complained[file->n_complained++], KEY_MAX, "%s", key);
	conf_wrong(of->report, file->path, (int)config_setting_source_line(setting), key, "%s",
	           what);
}

static void literal_wrong(void *context, int line, const char *what)
{
	const struct reading_of *of = context;

	conf_wrong(of->report, of->file->path, line, "", "%s", what);
}

int conf_open_text(const char *path, const char *text, struct conf_report *report,
                   struct conf_file **ret)
{
	struct conf_file *file = calloc(1, sizeof(*file));
	struct reading_of of = {.file = file, .report = report};
	int r = 0;

	if (file == NULL)
		return -ENOMEM;
	snprintf(file->path, sizeof(file->path), "%s", path);
	config_init(&file->config);
	/* First the two things libconfig 1.5 would not tell: see literals.h. */
	if (literals_check(text, literal_wrong, &of) > 0) {
		r = -EBADMSG;
	} else if (config_read_string(&file->config, text) != CONFIG_TRUE) {
		conf_wrong(report, path, config_error_line(&file->config), "",
		           "%s; expected key = value; with a decimal point in numbers and text in "
		           "quotes",
		           config_error_text(&file->config));
		r = -EBADMSG;
	}
	if (r < 0) {
		conf_close(file);
		return r;
	}
	*ret = file;
	return 0;
}

int conf_open(const char *path, struct conf_report *report, struct conf_file **ret)
{
	char *text = NULL;
	int r;

	r = read_text(path, CONF_FILE_MAX, &text);
	if (r < 0) {
		if (r == -EFBIG)
			conf_wrong(report, path, 0, "",
			           "the file is larger than %u bytes; expected a configuration",
			           CONF_FILE_MAX);
		else if (r == -EBADMSG)
			conf_wrong(report, path, 0, "",
			           "the file holds a zero byte; expected text");
		else
			conf_wrong(report, path, 0, "",
			           "cannot be read (%s); expected a readable file", strerror(-r));
		return r;
	}
	r = conf_open_text(path, text, report, ret);
	free(text);
	return r;
}

void conf_close(struct conf_file *file)
{
	if (file == NULL)
		return;
	for (size_t i = 0; i < file->n_texts; i++)
		free(file->texts[i]);
	config_destroy(&file->config);
	free(file);
}

const char *conf_path(const struct conf_file *file)
{
	return file->path;
}

int conf_line(const struct conf_file *file, const char *key)
{
	const config_setting_t *setting = NULL;
	char path[KEY_MAX], *dot;

	snprintf(path, sizeof(path), "%s", key);
	for (;;) {
		setting = config_lookup(&file->config, path);
		if (setting != NULL)
			return (int)config_setting_source_line(setting);
		dot = strrchr(path, '.');
		if (dot == NULL)
			return 1; /* absent from the file as a whole */
		*dot = '\0';
	}
}

bool conf_has(const struct conf_file *file, const char *key)
{
	return config_lookup(&file->config, key) != NULL;
}

bool conf_complained(const struct conf_file *file, const char *key)
{
	for (size_t i = 0; i < file->n_complained; i++)
		if (strcmp(file->complained[i], key) == 0)
			return true;
	return false;
}

static const char *type_name(const config_setting_t *setting)
{
	switch (config_setting_type(setting)) {
	case CONFIG_TYPE_INT:
	case CONFIG_TYPE_INT64:
		return "a whole number";
	case CONFIG_TYPE_FLOAT:
		return "a number with a decimal point";
	case CONFIG_TYPE_STRING:
		return "text";
	case CONFIG_TYPE_BOOL:
		return "true or false";
	case CONFIG_TYPE_GROUP:
		return "a group";
	case CONFIG_TYPE_ARRAY:
	case CONFIG_TYPE_LIST:
		return "a list";
	default:
		return "nothing";
	}
}

/* "expected ..." of a row, in words. */
static void expectation(const struct conf_spec *spec, char *ret, size_t size)
{
	int n = 0;

	if (spec->expected != NULL) {
		snprintf(ret, size, "%s", spec->expected);
		return;
	}
	switch (spec->type) {
	case CONF_BOOL:
		snprintf(ret, size, "true or false");
		break;
	case CONF_INT:
		snprintf(ret, size, "a whole number from %.17g to %.17g", spec->low, spec->high);
		break;
	case CONF_DOUBLE:
		snprintf(ret, size, "a number from %.10g to %.10g", spec->low, spec->high);
		break;
	case CONF_TEXT:
		snprintf(ret, size, "text of 1 to %zu bytes in quotes", spec->size - 1);
		break;
	case CONF_CHOICE:
		for (size_t i = 0; spec->choices[i] != NULL && n >= 0 && (size_t)n < size; i++)
			n += snprintf(ret + n, size - (size_t)n, "%s\"%s\"", i > 0 ? " or " : "",
			              spec->choices[i]);
		break;
	case CONF_GROUP:
	case CONF_PASSED:
		snprintf(ret, size, "a group: { ... }");
		break;
	case CONF_LIST:
		snprintf(ret, size, "a list of at most %zu groups: ( { ... }, { ... } )",
		         spec->most);
		break;
	case CONF_NUMBERS:
		snprintf(ret, size, "at most %zu numbers from %.10g to %.10g: ( 1, 2.5 )",
		         spec->most, spec->low, spec->high);
		break;
	}
}

static bool number_of(const config_setting_t *setting, double *ret)
{
	switch (config_setting_type(setting)) {
	case CONFIG_TYPE_INT:
		*ret = config_setting_get_int(setting);
		return true;
	case CONFIG_TYPE_INT64: /* an `L` value asked for as int would be 0 */
		*ret = (double)config_setting_get_int64(setting);
		return true;
	case CONFIG_TYPE_FLOAT:
		*ret = config_setting_get_float(setting);
		return true;
	default:
		return false;
	}
}

static void read_group(const struct reading_of *of, const config_setting_t *group,
                       const char *prefix, const struct conf_spec *specs);

/* The value of one option as text, for whoever will read it. */
static char *value_text(const config_setting_t *setting)
{
	char text[64];

	switch (config_setting_type(setting)) {
	case CONFIG_TYPE_INT:
		snprintf(text, sizeof(text), "%d", config_setting_get_int(setting));
		return strdup(text);
	case CONFIG_TYPE_INT64:
		snprintf(text, sizeof(text), "%lld", config_setting_get_int64(setting));
		return strdup(text);
	case CONFIG_TYPE_FLOAT:
		snprintf(text, sizeof(text), "%.17g", config_setting_get_float(setting));
		return strdup(text);
	case CONFIG_TYPE_BOOL:
		return strdup(config_setting_get_bool(setting) ? "true" : "false");
	case CONFIG_TYPE_STRING:
		return strdup(config_setting_get_string(setting));
	default:
		return NULL;
	}
}

static void read_passed(const struct reading_of *of, const config_setting_t *group, const char *key,
                        struct conf_passed *ret)
{
	struct conf_file *file = of->file;

	for (unsigned i = 0; i < (unsigned)config_setting_length(group); i++) {
		const config_setting_t *setting = config_setting_get_elem(group, i);
		char inner[KEY_MAX], where[PATH_MAX + 16];
		char *value, *place;

		snprintf(inner, sizeof(inner), "%s.%s", key, config_setting_name(setting));
		if (ret->n == CONF_PASSED_MAX) {
			wrong_at(of, setting, inner, "one option too many; expected at most %u",
			         CONF_PASSED_MAX);
			return;
		}
		value = value_text(setting);
		if (value == NULL) {
			wrong_at(of, setting, inner, "it is %s; expected a single value",
			         type_name(setting));
			continue;
		}
		snprintf(where, sizeof(where), "%s:%u", file->path,
		         (unsigned)config_setting_source_line(setting));
		place = strdup(where);
		if (place == NULL ||
		    file->n_texts + 2 > sizeof(file->texts) / sizeof(file->texts[0])) {
			wrong_at(of, setting, inner, "there is no room for it; expected less");
			free(value);
			free(place);
			return;
		}
		file->texts[file->n_texts++] = value;
		file->texts[file->n_texts++] = place;
		ret->option[ret->n++] = (struct scale_option){
		        .key = config_setting_name(setting), .value = value, .where = place};
	}
}

static void read_list(const struct reading_of *of, const config_setting_t *list, const char *key,
                      const struct conf_spec *spec)
{
	const size_t n = (size_t)config_setting_length(list);
	char inner[KEY_MAX], expected[256];

	expectation(spec, expected, sizeof(expected));
	if (n > spec->most) {
		wrong_at(of, list, key, "it has %zu elements; expected %s", n, expected);
		return;
	}
	*(size_t *)(void *)((char *)of->base + spec->count) = n;
	for (size_t i = 0; i < n; i++) {
		const config_setting_t *element = config_setting_get_elem(list, (unsigned)i);
		struct reading_of each = *of;

		snprintf(inner, sizeof(inner), "%.100s.[%u]", key, (unsigned)i);
		each.base = (char *)of->base + spec->offset + i * spec->size;
		if (config_setting_type(element) == CONFIG_TYPE_GROUP)
			read_group(&each, element, inner, spec->group);
		else
			wrong_at(of, element, inner, "it is %s; expected a group: { ... }",
			         type_name(element));
	}
}

static void read_numbers(const struct reading_of *of, const config_setting_t *list, const char *key,
                         const struct conf_spec *spec)
{
	double *to = (double *)(void *)((char *)of->base + spec->offset);
	const size_t n = (size_t)config_setting_length(list);
	char expected[256];

	expectation(spec, expected, sizeof(expected));
	if (n > spec->most) {
		wrong_at(of, list, key, "it has %zu numbers; expected %s", n, expected);
		return;
	}
	for (size_t i = 0; i < n; i++) {
		const config_setting_t *element = config_setting_get_elem(list, (unsigned)i);
		double number = 0.0;

		if (!number_of(element, &number) ||
		    !(number >= spec->low && number <= spec->high)) {
			wrong_at(of, list, key, "number %zu cannot be used; expected %s", i + 1,
			         expected);
			return;
		}
		to[i] = number;
	}
	*(size_t *)(void *)((char *)of->base + spec->count) = n;
}

/* One key: its type, then its range, then its value into the caller's struct. */
static void read_option(const struct reading_of *of, const config_setting_t *setting,
                        const char *key, const struct conf_spec *spec)
{
	char *to = (char *)of->base + spec->offset;
	const int type = config_setting_type(setting);
	char expected[256];
	const char *text;
	double number = 0.0;

	expectation(spec, expected, sizeof(expected));
	switch (spec->type) {
	case CONF_BOOL:
		if (type != CONFIG_TYPE_BOOL)
			break;
		*(bool *)to = config_setting_get_bool(setting);
		return;
	case CONF_INT:
		if (type != CONFIG_TYPE_INT && type != CONFIG_TYPE_INT64)
			break;
		number_of(setting, &number);
		if (!(number >= spec->low && number <= spec->high)) {
			wrong_at(of, setting, key, "the value is %.17g; expected %s", number,
			         expected);
			return;
		}
		*(int *)to = (int)number;
		return;
	case CONF_DOUBLE:
		if (!number_of(setting, &number))
			break;
		if (!(number >= spec->low && number <= spec->high)) {
			wrong_at(of, setting, key, "the value is %.10g; expected %s", number,
			         expected);
			return;
		}
		*(double *)to = number;
		return;
	case CONF_TEXT:
		if (type != CONFIG_TYPE_STRING)
			break;
		text = config_setting_get_string(setting);
		if (text[0] == '\0' || strlen(text) >= spec->size) {
			wrong_at(of, setting, key, "the text has %zu bytes; expected %s",
			         strlen(text), expected);
			return;
		}
		snprintf(to, spec->size, "%s", text);
		return;
	case CONF_CHOICE:
		if (type != CONFIG_TYPE_STRING)
			break;
		text = config_setting_get_string(setting);
		for (int i = 0; spec->choices[i] != NULL; i++)
			if (strcmp(text, spec->choices[i]) == 0) {
				*(int *)to = i;
				return;
			}
		wrong_at(of, setting, key, "\"%.64s\" is not known; expected %s", text, expected);
		return;
	case CONF_GROUP:
		if (type != CONFIG_TYPE_GROUP)
			break;
		read_group(of, setting, key, spec->group);
		return;
	case CONF_PASSED:
		if (type != CONFIG_TYPE_GROUP)
			break;
		read_passed(of, setting, key, (struct conf_passed *)to);
		return;
	case CONF_LIST:
		if (type != CONFIG_TYPE_LIST)
			break;
		read_list(of, setting, key, spec);
		return;
	case CONF_NUMBERS:
		if (type != CONFIG_TYPE_ARRAY && type != CONFIG_TYPE_LIST)
			break;
		read_numbers(of, setting, key, spec);
		return;
	}
	wrong_at(of, setting, key, "it is %s; expected %s", type_name(setting), expected);
}

static void unknown_key(const struct reading_of *of, const config_setting_t *setting,
                        const char *key, const struct conf_spec *specs)
{
	const char *names[64] = {NULL}, *near;
	char list[512] = "";
	size_t n = 0, used = 0;

	for (; specs[n].key != NULL && n < sizeof(names) / sizeof(names[0]); n++)
		names[n] = specs[n].key;
	near = nearest_of(config_setting_name(setting), names, n);
	if (near != NULL) {
		wrong_at(of, setting, key, "there is no such key; expected \"%s\", perhaps", near);
		return;
	}
	for (size_t i = 0; i < n && used < sizeof(list); i++) {
		int m = snprintf(list + used, sizeof(list) - used, "%s%s", i > 0 ? ", " : "",
		                 names[i]);

		used += m > 0 ? (size_t)m : 0;
	}
	wrong_at(of, setting, key, "there is no such key; expected one of %s", list);
}

static void full_key(char *ret, const char *prefix, const char *name)
{
	snprintf(ret, KEY_MAX, "%s%s%s", prefix, prefix[0] != '\0' ? "." : "", name);
}

static void read_group(const struct reading_of *of, const config_setting_t *group,
                       const char *prefix, const struct conf_spec *specs)
{
	char key[KEY_MAX], expected[256];

	/* In the order of the file, so that the sentences come in its order too. */
	for (unsigned i = 0; i < (unsigned)config_setting_length(group); i++) {
		const config_setting_t *setting = config_setting_get_elem(group, i);
		const struct conf_spec *spec = specs;

		full_key(key, prefix, config_setting_name(setting));
		while (spec->key != NULL && strcmp(spec->key, config_setting_name(setting)) != 0)
			spec++;
		if (spec->key == NULL)
			unknown_key(of, setting, key, specs);
		else
			read_option(of, setting, key, spec);
	}
	for (const struct conf_spec *spec = specs; spec->key != NULL; spec++) {
		if (!spec->required || config_setting_get_member(group, spec->key) != NULL)
			continue;
		full_key(key, prefix, spec->key);
		expectation(spec, expected, sizeof(expected));
		wrong_at(of, group, key, "it is missing; expected %s", expected);
	}
}

int conf_read(struct conf_file *file, const struct conf_spec *specs, void *ret,
              struct conf_report *report)
{
	const struct reading_of of = {.file = file, .report = report, .base = ret};
	const int before = report->found;

	read_group(&of, config_root_setting(&file->config), "", specs);
	return report->found - before;
}
