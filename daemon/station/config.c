/* SPDX-License-Identifier: MIT */
#include "config.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/panel_options.h"

#define DRIVERS_MAX 8u
#define COUNT_SHARE 1e-3 /* as much as a rounded counts_per_g may be off */

/* As written in the file; what it means is worked out afterwards. */
struct written {
	char driver[32];
	double max_g, interval_g, noise_g, rate_hz, silent_ms;
	bool zero_tracking;

	int degree;
	double zero_counts, counts_per_g, g_per_count2, residual_sd_g;
	double repeatability_g, creep_pct, zero_drift_g_per_min;

	double default_tolerance_pct, check_interval_h;
	bool bottles_on_pan;
	char record[PATH_MAX];
	char store_path[PATH_MAX];
	int keep_inputs;
	int which_bus;
	struct conf_passed passed[DRIVERS_MAX];
	struct conf_passed panel;
	struct sensing_config sensors;
};

static const char *const bus_names[] = {"session", "system", NULL};

#define AT(member) .offset = offsetof(struct written, member)
static const struct conf_spec calibration_specs[] = {
        {"degree", CONF_INT, .required = true, AT(degree), .low = 1, .high = 2},
        {"zero_counts", CONF_DOUBLE, .required = true, AT(zero_counts), .low = -8388608.0,
         .high = 8388607.0, .expected = "the converter's code of the empty pan, within 24 bits"},
        {"counts_per_g", CONF_DOUBLE, .required = true, AT(counts_per_g), .low = 0.001,
         .high = 1e6},
        {"g_per_count2", CONF_DOUBLE, AT(g_per_count2), .low = -1e-3, .high = 1e-3},
        {"residual_sd_g", CONF_DOUBLE, AT(residual_sd_g), .low = 0.0, .high = 1000.0},
        {.key = NULL},
};

static const struct conf_spec doubt_specs[] = {
        {"repeatability_g", CONF_DOUBLE, AT(repeatability_g), .low = 0.0, .high = 100.0},
        {"creep_pct", CONF_DOUBLE, AT(creep_pct), .low = 0.0, .high = 5.0},
        {"zero_drift_g_per_min", CONF_DOUBLE, AT(zero_drift_g_per_min), .low = 0.0, .high = 100.0},
        {.key = NULL},
};

/* Followed by a group a driver: see station_config_load(). */
static const struct conf_spec scale_specs[] = {
        {"driver", CONF_TEXT, .required = true, AT(driver),
         .size = sizeof(((struct written *)0)->driver),
         .expected = "the name of a driver in quotes"},
        {"max_g", CONF_DOUBLE, .required = true, AT(max_g), .low = 1.0, .high = 1e6},
        {"interval_g", CONF_DOUBLE, .required = true, AT(interval_g), .low = 1e-6, .high = 1000.0},
        {"noise_g", CONF_DOUBLE, AT(noise_g), .low = 0.0, .high = 100.0},
        {"rate_hz", CONF_DOUBLE, AT(rate_hz), .low = 0.0, .high = 1000.0},
        {"silent_ms", CONF_DOUBLE, AT(silent_ms), .low = 0.0, .high = 60000.0,
         .expected = "100 to 60000 ms, or 0: after 3 periods"},
        {"zero_tracking", CONF_BOOL, AT(zero_tracking)},
        {"calibration", CONF_GROUP, .required = true, .group = calibration_specs},
        {"doubt", CONF_GROUP, .group = doubt_specs},
};
#define SCALE_SPECS (sizeof(scale_specs) / sizeof(scale_specs[0]))

static const struct conf_spec tolerance_specs[] = {
        {"default_pct", CONF_DOUBLE, AT(default_tolerance_pct), .low = SYSTEM_TOLERANCE_MIN_PCT,
         .high = SYSTEM_TOLERANCE_MAX_PCT,
         .expected = "0.1 to 20 % of the ratio (2 to 5 are usual)"},
        {.key = NULL},
};

static const struct conf_spec check_specs[] = {
        {"interval_h", CONF_DOUBLE, AT(check_interval_h), .low = 0.0, .high = 8760.0,
         .expected = "hours, at most a year; 0 where no check is asked for"},
        {.key = NULL},
};

static const struct conf_spec store_specs[] = {
        {"path", CONF_TEXT, .required = true, AT(store_path), .size = PATH_MAX / 2,
         .expected = "a path in quotes, relative to this folder or absolute"},
        {"keep_inputs", CONF_INT, AT(keep_inputs), .low = 0, .high = 1000},
        {.key = NULL},
};

static const struct conf_spec bus_specs[] = {
        {"which", CONF_CHOICE, AT(which_bus), .choices = bus_names},
        {.key = NULL},
};

#define SENSOR(what)                                                                               \
	.offset = offsetof(struct written, sensors.sensor[what]), .size = SENSING_NAME_MAX,        \
	.expected = "NAME:CHANNEL, like \"sht3x:temp1\", or the path of a file, in quotes"
static const struct conf_spec sensors_specs[] = {
        {"resin_temperature", CONF_TEXT, SENSOR(SENSING_RESIN_DEGC)},
        {"air_temperature", CONF_TEXT, SENSOR(SENSING_AIR_DEGC)},
        {"air_humidity", CONF_TEXT, SENSOR(SENSING_AIR_PCT)},
        {"every_s", CONF_DOUBLE, AT(sensors.every_s), .low = 0.1, .high = 600.0},
        {.key = NULL},
};
#undef SENSOR

static const struct conf_spec station_specs[] = {
        {"bottles_on_pan", CONF_BOOL, AT(bottles_on_pan)},
        {"record", CONF_TEXT, AT(record), .size = PATH_MAX / 2,
         .expected = "a path in quotes, relative to this folder or absolute"},
        {.key = NULL},
};
#undef AT

static void join(char *ret, const char *dir, const char *name)
{
	if (name[0] == '/')
		snprintf(ret, PATH_MAX, "%s", name);
	else
		snprintf(ret, PATH_MAX, "%.2000s/%.2000s", dir, name);
}

static void wrong(struct station_config *config, struct conf_report *report, const char *key,
                  const char *what)
{
	conf_wrong(report, conf_path(config->file), conf_line(config->file, key), key, "%s", what);
}

static void take_driver(struct station_config *config, const struct written *written,
                        struct conf_report *report)
{
	char what[512] = "\"", names[256] = "";

	if (written->driver[0] == '\0')
		return; /* said already */
	config->driver = scale_driver_find(written->driver);
	for (size_t i = 0; scale_drivers[i] != NULL && i < DRIVERS_MAX; i++) {
		size_t used = strlen(names);

		snprintf(names + used, sizeof(names) - used, "%s\"%s\"", i > 0 ? ", " : "",
		         scale_drivers[i]->name);
		if (scale_drivers[i] == config->driver)
			config->options = written->passed[i];
	}
	if (config->driver == NULL) {
		snprintf(what, sizeof(what), "\"%s\" is no driver; expected one of %s",
		         written->driver, names);
		wrong(config, report, "scale.driver", what);
	}
}

static void driver_wrong(void *context, const char *sentence)
{
	struct conf_report *report = context;

	report->found++;
	if (report->say != NULL)
		report->say(report->context, sentence);
}

static void take_panel(struct station_config *config, const struct written *written,
                       struct conf_report *report)
{
	struct panel_options options;

	config->panel = written->panel;
	(void)panel_options_read(config->panel.option, config->panel.n, driver_wrong, report,
	                         &options);
}

const char *sensing_name(enum sensing_what what)
{
	static const char *const names[SENSING_COUNT] = {"resin_temperature", "air_temperature",
	                                                 "air_humidity"};

	return names[what];
}

static void take_sensors(struct station_config *config, const struct written *written,
                         struct conf_report *report)
{
	char key[64], what[SENSING_NAME_MAX + 96];

	config->sensors = written->sensors;
	for (int i = 0; i < SENSING_COUNT; i++) {
		const char *sensor = written->sensors.sensor[i];
		const char *colon = strrchr(sensor, ':');

		if (sensor[0] == '\0' || sensor[0] == '/' ||
		    (colon != NULL && colon != sensor && colon[1] != '\0'))
			continue;
		snprintf(key, sizeof(key), "sensors.%s", sensing_name((enum sensing_what)i));
		snprintf(what, sizeof(what),
		         "\"%s\" is no sensor; expected NAME:CHANNEL, like \"sht3x:temp1\", or "
		         "the path of a file",
		         sensor);
		wrong(config, report, key, what);
	}
}

static void take_scale(struct station_config *config, const struct written *written,
                       struct conf_report *report)
{
	struct weigher_config *weigher = &config->weigher;
	char what[512];
	int r;

	*weigher = (struct weigher_config){
	        .calibration = {.degree = written->degree,
	                        .zero_counts = written->zero_counts,
	                        .g_per_count = 1.0 / written->counts_per_g,
	                        .g_per_count2 = written->g_per_count2,
	                        .residual_sd_g = written->residual_sd_g},
	        .max_g = written->max_g,
	        .interval_g = written->interval_g,
	        .noise_g = written->noise_g,
	        .rate_hz = written->rate_hz,
	        .silent_s = written->silent_ms / 1000.0,
	        .zero_tracking = written->zero_tracking,
	};
	config->doubt = (struct weighing_doubt){
	        .interval_g = written->interval_g,
	        .residual_sd_g = written->residual_sd_g,
	        .repeatability_sd_g = written->repeatability_g,
	        .creep_share = written->creep_pct / 100.0,
	        .zero_drift_g_per_s = written->zero_drift_g_per_min / 60.0,
	};
	if (report->found > 0)
		return; /* what follows compares values that may never have been read */
	if (written->interval_g > written->max_g / 50.0) {
		snprintf(what, sizeof(what),
		         "the value is %.10g; expected at most a fiftieth of max_g, %.10g",
		         written->interval_g, written->max_g / 50.0);
		wrong(config, report, "scale.interval_g", what);
	}
	if (written->silent_ms > 0.0 && written->silent_ms < 100.0) {
		snprintf(what, sizeof(what),
		         "the value is %.10g; expected 100 to 60000 ms, or 0: after 3 periods",
		         written->silent_ms);
		wrong(config, report, "scale.silent_ms", what);
	}
	r = calibration_check(&weigher->calibration, weigher->max_g);
	if (r == -ERANGE) {
		snprintf(what, sizeof(what),
		         "the curve turns over below max_g, %.10g g; expected a gentler curvature "
		         "or a smaller max_g",
		         weigher->max_g);
		wrong(config, report, "scale.calibration.g_per_count2", what);
	} else if (r < 0) {
		wrong(config, report, "scale.calibration",
		      "this calibration cannot weigh; expected degree 1 without g_per_count2, or "
		      "degree 2 with it");
	}
}

/* A unit that weighs in grams by itself says what its counts are. */
static void check_count(struct station_config *config, struct conf_report *report)
{
	const struct scale_driver *driver = config->driver;
	const double g_per_count = config->weigher.calibration.g_per_count;
	const char *where = NULL;
	char what[512];
	double count_g;

	if (report->found > 0 || driver == NULL || driver->count_g == NULL)
		return;
	count_g = driver->count_g(config->options.option, config->options.n, &where);
	if (count_g <= 0.0 || fabs(g_per_count / count_g - 1.0) <= COUNT_SHARE)
		return;
	snprintf(what, sizeof(what),
	         "%.10g contradicts the driver %s (%.200s), whose counts are %.10g g; expected "
	         "%.10g: to correct the unit, calibrate at the station",
	         1.0 / g_per_count, driver->name, where, count_g, 1.0 / count_g);
	wrong(config, report, "scale.calibration.counts_per_g", what);
}

static int read_main(struct station_config *config, const char *path, struct conf_report *report)
{
	struct conf_spec scale[SCALE_SPECS + DRIVERS_MAX + 1] = {{.key = NULL}};
	const struct conf_spec specs[] = {
	        {"scale", CONF_GROUP, .required = true, .group = scale},
	        {"tolerance", CONF_GROUP, .group = tolerance_specs},
	        {"check", CONF_GROUP, .group = check_specs},
	        {"store", CONF_GROUP, .required = true, .group = store_specs},
	        {"bus", CONF_GROUP, .group = bus_specs},
	        {"station", CONF_GROUP, .group = station_specs},
	        {"panel", CONF_PASSED, .offset = offsetof(struct written, panel)},
	        {"sensors", CONF_GROUP, .group = sensors_specs},
	        {.key = NULL},
	};
	struct written *written = calloc(1, sizeof(*written));
	int r;

	if (written == NULL)
		return -ENOMEM;
	*written = (struct written){.max_g = 1.0,
	                            .interval_g = 1.0,
	                            .degree = 1,
	                            .counts_per_g = 1.0,
	                            .default_tolerance_pct = 2.0,
	                            .check_interval_h = 24.0,
	                            .keep_inputs = 20,
	                            .sensors = {.every_s = 10.0}};
	memcpy(scale, scale_specs, sizeof(scale_specs));
	for (size_t i = 0; scale_drivers[i] != NULL && i < DRIVERS_MAX; i++)
		scale[SCALE_SPECS + i] =
		        (struct conf_spec){scale_drivers[i]->name, CONF_PASSED,
		                           .offset = offsetof(struct written, passed) +
		                                     i * sizeof(struct conf_passed)};
	r = conf_open(path, report, &config->file);
	if (r >= 0) {
		conf_read(config->file, specs, written, report);
		take_scale(config, written, report);
		take_driver(config, written, report);
		if (config->driver != NULL && config->driver->check != NULL)
			config->driver->check(config->options.option, config->options.n,
			                      driver_wrong, report);
		check_count(config, report);
		take_panel(config, written, report);
		take_sensors(config, written, report);
		config->default_tolerance_pct = written->default_tolerance_pct;
		config->check_interval_h = written->check_interval_h;
		config->bottles_on_pan = written->bottles_on_pan;
		config->keep_inputs = written->keep_inputs;
		config->system_bus = written->which_bus == 1;
		join(config->store_path, config->dir, written->store_path);
		if (written->record[0] != '\0')
			join(config->record_path, config->dir, written->record);
	}
	free(written);
	return r;
}

int station_config_load(const char *dir, struct conf_report *report, struct station_config **ret)
{
	struct station_config *config;
	char path[PATH_MAX];

	config = calloc(1, sizeof(*config));
	if (config == NULL)
		return -ENOMEM;
	snprintf(config->dir, sizeof(config->dir), "%.2000s", dir);
	join(path, config->dir, "ambo.conf");
	if (read_main(config, path, report) == -ENOMEM ||
	    config_read_systems(config, report) == -ENOMEM) {
		station_config_free(config);
		return -ENOMEM;
	}
	if (report->found > 0) {
		station_config_free(config);
		return -EINVAL;
	}
	*ret = config;
	return 0;
}

int station_config_load_systems(const char *dir, struct conf_report *report,
                                struct station_config **ret)
{
	struct station_config *config = calloc(1, sizeof(*config));

	if (config == NULL)
		return -ENOMEM;
	snprintf(config->dir, sizeof(config->dir), "%.2000s", dir);
	if (config_read_systems(config, report) == -ENOMEM || report->found > 0) {
		station_config_free(config);
		return report->found > 0 ? -EINVAL : -ENOMEM;
	}
	*ret = config;
	return 0;
}

void station_config_free(struct station_config *config)
{
	if (config == NULL)
		return;
	conf_close(config->file);
	free(config);
}

const struct resin_system *station_config_system(const struct station_config *config,
                                                 const char *id)
{
	for (size_t i = 0; i < config->n_systems; i++)
		if (strcmp(config->systems[i].id, id) == 0)
			return &config->systems[i];
	return NULL;
}

int station_config_casting(const struct station_config *config, const char *id,
                           struct casting_system *ret, char *ret_sentence)
{
	const struct resin_system *system = station_config_system(config, id);
	char sentence[CASTING_SENTENCE_MAX];
	const char *key;
	int r;

	if (system == NULL) {
		snprintf(ret_sentence, CASTING_SENTENCE_MAX,
		         "there is no system \"%s\" in %.200s; expected the name of a file in its "
		         "systems.d",
		         id, config->dir);
		return -ENOENT;
	}
	r = casting_system_make(system, &config->casting[system - config->systems], ret, sentence,
	                        &key);
	if (r < 0)
		snprintf(ret_sentence, CASTING_SENTENCE_MAX, "%s: %s: %.400s", id, key, sentence);
	return r;
}

void station_config_scale(const struct station_config *config, double noise_g, double load_g,
                          struct recipe_scale *ret)
{
	const double rate_hz = config->weigher.rate_hz > 0.0 ? config->weigher.rate_hz : 10.0;
	const double sample_g = noise_g > 0.0                   ? noise_g
	                        : config->weigher.noise_g > 0.0 ? config->weigher.noise_g
	                                                        : CONFIG_NOISE_DEFAULT_G;
	const double mean_g =
	        uncertainty_of_mean_g(sample_g, (uint32_t)ceil(rate_hz), UNCERTAINTY_COLOURED);

	*ret = (struct recipe_scale){
	        .max_g = config->weigher.max_g,
	        .interval_g = config->weigher.interval_g,
	        .u_reading_g = uncertainty_reading_g(&config->doubt, mean_g, load_g, 300.0),
	        .default_tolerance_pct = config->default_tolerance_pct,
	        .bottles_on_pan = config->bottles_on_pan,
	};
}
