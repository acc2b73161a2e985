/* SPDX-License-Identifier: MIT */
#include "settings.h"

#include <errno.h>
#include <libconfig.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

void settings_default(struct settings *ret)
{
	*ret = (struct settings){.theme = THEME_DARK,
	                         .hand = HAND_RIGHT,
	                         .blank_min = 15.0,
	                         .sound_level = 0.6,
	                         .person = 1,
	                         .brightness_pct = 100};
	snprintf(ret->language, sizeof ret->language, "en");
}

struct reader {
	const char *path;
	char *sentence;
	int result;
};

static void wrong(struct reader *reader, const config_setting_t *setting, const char *expected)
{
	if (reader->result < 0)
		return;
	reader->result = -EINVAL;
	snprintf(reader->sentence, SETTINGS_SENTENCE_MAX,
	         "%s:%u: %s: cannot be meant; expected %s; going on with the usual", reader->path,
	         config_setting_source_line(setting), config_setting_name(setting), expected);
}

static int choice(struct reader *reader, const config_setting_t *setting, const char *first,
                  const char *second, int otherwise)
{
	const char *text = config_setting_get_string(setting);
	char expected[80];

	if (text && strcmp(text, first) == 0)
		return 0;
	if (text && strcmp(text, second) == 0)
		return 1;
	snprintf(expected, sizeof expected, "\"%s\" or \"%s\"", first, second);
	wrong(reader, setting, expected);
	return otherwise;
}

static void read_turn(struct reader *reader, const config_setting_t *setting, int *ret)
{
	int deg = config_setting_get_int(setting);

	if (config_setting_type(setting) == CONFIG_TYPE_INT && deg >= 0 && deg < 360 &&
	    deg % 90 == 0)
		*ret = deg;
	else
		wrong(reader, setting, "0, 90, 180 or 270");
}

static void read_language(struct reader *reader, const config_setting_t *setting, char *ret,
                          size_t size)
{
	const char *text = config_setting_get_string(setting);

	/* It becomes part of a path. */
	if (text && *text && strlen(text) < size &&
	    strspn(text, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ_") == strlen(text))
		snprintf(ret, size, "%s", text);
	else
		wrong(reader, setting, "a language's letters, as in \"de\"");
}

static void read_bool(struct reader *reader, const config_setting_t *setting, bool *ret)
{
	if (config_setting_type(setting) == CONFIG_TYPE_BOOL)
		*ret = config_setting_get_bool(setting);
	else
		wrong(reader, setting, "true or false");
}

static void read_level(struct reader *reader, const config_setting_t *setting, double *ret)
{
	double level = config_setting_get_float(setting);

	if (config_setting_type(setting) == CONFIG_TYPE_FLOAT && level >= 0.0 && level <= 1.0)
		*ret = level;
	else
		wrong(reader, setting, "0.0 to 1.0, with a point");
}

static void read_person(struct reader *reader, const config_setting_t *setting, int *ret)
{
	int person = config_setting_get_int(setting);

	if (config_setting_type(setting) == CONFIG_TYPE_INT && person >= 1 &&
	    person <= SETTINGS_PERSONS)
		*ret = person;
	else
		wrong(reader, setting, "1 to 6");
}

static void read_brightness(struct reader *reader, const config_setting_t *setting, int *ret)
{
	int pct = config_setting_get_int(setting);

	if (config_setting_type(setting) == CONFIG_TYPE_INT && pct >= SETTINGS_DIMMEST_PCT &&
	    pct <= 100)
		*ret = pct;
	else
		wrong(reader, setting, "40 to 100, in percent");
}

static bool read_look(struct reader *reader, const config_setting_t *setting, struct settings *ret)
{
	const char *name = config_setting_name(setting);

	if (strcmp(name, "brightness_pct") == 0)
		read_brightness(reader, setting, &ret->brightness_pct);
	else if (strcmp(name, "units") == 0)
		ret->units = (enum units)choice(reader, setting, "metric", "us", (int)ret->units);
	else if (strcmp(name, "less_motion") == 0)
		read_bool(reader, setting, &ret->less_motion);
	else
		return false;
	return true;
}

static bool read_sound(struct reader *reader, const config_setting_t *setting, struct settings *ret)
{
	const char *name = config_setting_name(setting);

	if (strcmp(name, "sound_level") == 0)
		read_level(reader, setting, &ret->sound_level);
	else if (strcmp(name, "quiet") == 0)
		read_bool(reader, setting, &ret->quiet);
	else if (strcmp(name, "speech") == 0)
		read_bool(reader, setting, &ret->speech);
	else if (strcmp(name, "person") == 0)
		read_person(reader, setting, &ret->person);
	else
		return false;
	return true;
}

static void read_one(struct reader *reader, const config_setting_t *setting, struct settings *ret)
{
	const char *name = config_setting_name(setting);

	if (strcmp(name, "theme") == 0)
		ret->theme = (enum theme)choice(reader, setting, "dark", "day", (int)ret->theme);
	else if (strcmp(name, "hand") == 0)
		ret->hand = (enum hand)choice(reader, setting, "right", "left", (int)ret->hand);
	else if (strcmp(name, "turn_deg") == 0)
		read_turn(reader, setting, &ret->turn_deg);
	else if (strcmp(name, "language") == 0)
		read_language(reader, setting, ret->language, sizeof ret->language);
	else if (strcmp(name, "first_run_done") == 0 &&
	         config_setting_type(setting) == CONFIG_TYPE_BOOL)
		ret->first_run_done = config_setting_get_bool(setting);
	else if (strcmp(name, "blank_min") == 0 && config_setting_get_float(setting) >= 0.0 &&
	         config_setting_type(setting) == CONFIG_TYPE_FLOAT)
		ret->blank_min = config_setting_get_float(setting);
	else if (!read_sound(reader, setting, ret) && !read_look(reader, setting, ret))
		wrong(reader, setting,
		      "theme, hand, turn_deg, language, blank_min (minutes, with a point), "
		      "brightness_pct, units, less_motion, sound_level, quiet, speech, person or "
		      "first_run_done");
}

int settings_read(const char *path, struct settings *ret, char *ret_sentence)
{
	struct reader reader = {path, ret_sentence, 0};
	config_t config;

	if (access(path, F_OK) < 0 && errno == ENOENT)
		return 0;
	config_init(&config);
	if (config_read_file(&config, path)) {
		config_setting_t *root = config_root_setting(&config);

		for (int i = 0; i < config_setting_length(root); i++)
			read_one(&reader, config_setting_get_elem(root, (unsigned)i), ret);
	} else {
		reader.result = -EINVAL;
		snprintf(ret_sentence, SETTINGS_SENTENCE_MAX,
		         "%s:%d: %s; going on with the usual settings", path,
		         config_error_line(&config), config_error_text(&config));
	}
	config_destroy(&config);
	return reader.result;
}

int settings_write(const char *path, const struct settings *settings)
{
	char text[640];

	snprintf(text, sizeof text,
	         "# What was set on the display. Written by ambo-display.\n"
	         "theme = \"%s\";\nhand = \"%s\";\nturn_deg = %d;\nlanguage = \"%s\";\n"
	         "blank_min = %.1f;\nfirst_run_done = %s;\n"
	         "brightness_pct = %d;\nunits = \"%s\";\nless_motion = %s;\n"
	         "sound_level = %.2f;\nquiet = %s;\nspeech = %s;\nperson = %d;\n",
	         settings->theme == THEME_DAY ? "day" : "dark",
	         settings->hand == HAND_LEFT ? "left" : "right", settings->turn_deg,
	         settings->language, settings->blank_min,
	         settings->first_run_done ? "true" : "false", settings->brightness_pct,
	         settings->units == UNITS_US ? "us" : "metric",
	         settings->less_motion ? "true" : "false", settings->sound_level,
	         settings->quiet ? "true" : "false", settings->speech ? "true" : "false",
	         settings->person);
	return settings_keep(path, text);
}

int settings_keep(const char *path, const char *text)
{
	char beside[512];
	FILE *file;
	int r = 0;

	if (snprintf(beside, sizeof beside, "%s.new", path) >= (int)sizeof beside)
		return -ENAMETOOLONG;
	file = fopen(beside, "w");
	if (!file)
		return -errno;
	fputs(text, file);
	if (fflush(file) != 0 || fsync(fileno(file)) < 0)
		r = -errno;
	if (fclose(file) != 0 && r == 0)
		r = -errno;
	if (r == 0 && rename(beside, path) < 0)
		r = -errno;
	if (r < 0)
		unlink(beside);
	return r;
}
