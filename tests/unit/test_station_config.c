/* SPDX-License-Identifier: MIT */
/* The configuration reader: every mistake of meaning at once, in the file's order. */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/station/config.h"

#define HEARD_MAX 40u

struct folder {
	char dir[64];
	size_t n;
	char heard[HEARD_MAX][512]; /* without the folder's name */
	struct station_config *config;
};

static const char good_conf[] =
        "scale: {\n"
        "  driver = \"simulated\"; max_g = 5000; interval_g = 0.1;\n"
        "  calibration: { degree = 1; zero_counts = 190000.0; counts_per_g = 429.5; };\n"
        "};\n"
        "store: { path = \"ambo.db\"; };\n";

static const char good_system[] =
        "name = \"Tidepool Clear\"; basis = \"weight\"; hardener = \"b\";\n"
        "a = { label = \"resin\"; parts = 100; };\n"
        "b = { label = \"hardener\"; parts = 45.0; };\n"
        "working_life = { s = 2400; mass_g = 400; degc = 23; };\n";

static void hear(void *context, const char *sentence)
{
	struct folder *folder = context;
	const size_t length = strlen(folder->dir);

	assert_true(folder->n < HEARD_MAX);
	if (strncmp(sentence, folder->dir, length) == 0)
		sentence += length + 1;
	snprintf(folder->heard[folder->n++], sizeof(folder->heard[0]), "%s", sentence);
}

static void write_file(const struct folder *folder, const char *name, const char *text)
{
	char path[256];
	FILE *file;

	snprintf(path, sizeof(path), "%s/%s", folder->dir, name);
	file = fopen(path, "w");
	assert_non_null(file);
	fputs(text, file);
	fclose(file);
}

static int folder_new(void **state)
{
	struct folder *folder = calloc(1, sizeof(*folder));
	char path[256];

	assert_non_null(folder);
	strcpy(folder->dir, "/tmp/ambo-config.XXXXXX");
	assert_non_null(mkdtemp(folder->dir));
	snprintf(path, sizeof(path), "%s/systems.d", folder->dir);
	assert_int_equal(mkdir(path, 0700), 0);
	*state = folder;
	return 0;
}

static int folder_free(void **state)
{
	struct folder *folder = *state;
	char command[128];

	station_config_free(folder->config);
	snprintf(command, sizeof(command), "rm -rf '%s'", folder->dir);
	assert_int_equal(system(command), 0);
	free(folder);
	return 0;
}

static int load(struct folder *folder, const char *conf, const char *resin)
{
	struct conf_report report = {.say = hear, .context = folder};

	if (conf != NULL)
		write_file(folder, "ambo.conf", conf);
	if (resin != NULL)
		write_file(folder, "systems.d/tidepool-clear.conf", resin);
	folder->n = 0;
	station_config_free(folder->config);
	folder->config = NULL;
	return station_config_load(folder->dir, &report, &folder->config);
}

static void assert_loads(struct folder *folder, const char *conf, const char *resin)
{
	const int r = load(folder, conf, resin);

	for (size_t i = 0; i < folder->n; i++)
		print_error("said: %s\n", folder->heard[i]);
	assert_int_equal(r, 0);
}

/* The only sentence begins so, and says this. */
static void assert_says(struct folder *folder, const char *begins, const char *holds)
{
	assert_int_equal(folder->n, 1);
	if (strncmp(folder->heard[0], begins, strlen(begins)) != 0 ||
	    strstr(folder->heard[0], holds) == NULL) {
		print_error("said: %s\nwanted: %s ... %s\n", folder->heard[0], begins, holds);
		fail();
	}
}

static void a_good_configuration_is_read_with_its_defaults(void **state)
{
	struct folder *folder = *state;
	const struct station_config *config;
	char path[256];

	assert_loads(folder, good_conf, good_system);
	assert_int_equal(folder->n, 0);
	config = folder->config;
	assert_string_equal(config->driver->name, "simulated");
	assert_close(config->weigher.max_g, 5000.0, 0.0);
	assert_close(config->weigher.calibration.g_per_count, 1.0 / 429.5, 1e-15);
	assert_close(config->default_tolerance_pct, 2.0, 0.0);
	assert_close(config->check_interval_h, 24.0, 0.0);
	assert_int_equal(config->keep_inputs, 20);
	assert_false(config->system_bus);
	snprintf(path, sizeof(path), "%s/ambo.db", folder->dir);
	assert_string_equal(config->store_path, path);
	assert_int_equal(config->n_systems, 1);
	assert_string_equal(config->systems[0].id, "tidepool-clear");
	assert_close(system_ratio(&config->systems[0]), 0.45, 1e-15);
	assert_true(config->systems[0].part[PART_A].available_g < 0.0);
	assert_ptr_equal(station_config_system(config, "tidepool-clear"), &config->systems[0]);
	assert_null(station_config_system(config, "tidepool"));
}

/* The file users copy: as it is, and with every commented setting switched on. */
static void the_commented_configuration_is_right(void **state)
{
	struct folder *folder = *state;
	char line[256], text[16384] = "";
	FILE *file = fopen(AMBO_TOP "/config/ambo.conf", "r");

	assert_non_null(file);
	while (fgets(line, sizeof(line), file) != NULL) {
		char *hash = strchr(line, '#');

		/* "# key = value;" is a setting, the rest is prose or the other driver. */
		if (hash != NULL && strchr(hash, '=') != NULL && strchr(hash, ';') != NULL &&
		    strstr(hash, "grams =") == NULL && hash > line && hash[2] != ' ')
			*hash = ' ';
		strncat(text, line, sizeof(text) - strlen(text) - 1);
	}
	rewind(file);
	assert_loads(folder, text, good_system);
	assert_true(folder->config->system_bus);
	assert_non_null(strstr(folder->config->record_path, "recording.csv"));
	assert_int_equal(folder->config->options.n, 5);
	text[fread(text, 1, sizeof(text) - 1, file)] = '\0';
	fclose(file);
	assert_loads(folder, text, good_system);
	assert_int_equal(folder->config->options.n, 0);
}

/* A unit in grams: what its counts are is known, and said twice it must be the same. */
static void counts_per_g_that_contradicts_the_units_own_is_refused(void **state)
{
	static const struct {
		const char *counts_per_g, *map, *heard; /* NULL: it is right */
	} cases[] = {
	        {"100", "type = \"float32\";\n", NULL},
	        {"33.33", "type = \"float32\";\n count_g = 0.03;\n", NULL},
	        {"0.0453514739", "type = \"int16\"; unit = \"oz\"; factor = 0.77777;", NULL},
	        {"429.5", "type = \"float32\";\n count_g = 0.01;\n",
	         "ambo.conf:3: scale.calibration.counts_per_g: 429.5 contradicts the driver "
	         "modbus (FOLDER/ambo.conf:5), whose counts are 0.01 g; expected 100: to correct "
	         "the unit, calibrate at the station"},
	        {"100.2", "map = \"float32 kg\";\n",
	         "ambo.conf:3: scale.calibration.counts_per_g: 100.2 contradicts the driver "
	         "modbus (FOLDER/ambo.conf:4), whose counts are 0.01 g; expected 100: to correct "
	         "the unit, calibrate at the station"},
	};
	struct folder *folder = *state;
	char conf[1024], wanted[512];

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		const char *heard = cases[i].heard, *at = heard ? strstr(heard, "FOLDER") : NULL;

		snprintf(conf, sizeof(conf),
		         "scale: {\n"
		         "  driver = \"modbus\"; max_g = 5000; interval_g = 0.1;\n"
		         "  calibration: { degree = 1; zero_counts = 0.0; counts_per_g = %s; };\n"
		         "  modbus: { link = \"tcp\"; host = \"127.0.0.1\"; address = 0; %s };\n"
		         "};\n"
		         "store: { path = \"ambo.db\"; };\n",
		         cases[i].counts_per_g, cases[i].map);
		if (heard == NULL) {
			assert_loads(folder, conf, good_system);
			continue;
		}
		snprintf(wanted, sizeof(wanted), "%.*s%s%s", (int)(at - heard), heard, folder->dir,
		         at + strlen("FOLDER"));
		assert_int_equal(load(folder, conf, good_system), -EINVAL);
		assert_int_equal(folder->n, 1);
		assert_string_equal(folder->heard[0], wanted);
	}
}

static void a_time_to_silence_shorter_than_a_tick_is_refused(void **state)
{
	struct folder *folder = *state;
	char conf[sizeof(good_conf) + 64];

	snprintf(conf, sizeof(conf), "scale: { silent_ms = 99;%s", strchr(good_conf, '{') + 1);
	assert_int_equal(load(folder, conf, good_system), -EINVAL);
	assert_int_equal(folder->n, 1);
	assert_string_equal(folder->heard[0], "ambo.conf:1: scale.silent_ms: the value is 99; "
	                                      "expected 100 to 60000 ms, or 0: after 3 periods");
	snprintf(conf, sizeof(conf), "scale: { silent_ms = 800;%s", strchr(good_conf, '{') + 1);
	assert_loads(folder, conf, good_system);
	assert_close(folder->config->weigher.silent_s, 0.8, 1e-12);
}

static void every_mistake_is_said_at_once_in_the_order_of_the_file(void **state)
{
	struct folder *folder = *state;
	static const char bad[] = "scale: {\n"
	                          "  driver = \"bathroom\";\n"
	                          "  max_g = \"much\";\n"
	                          "  interva_g = 0.1;\n"
	                          "  zero_tracking = 1;\n"
	                          "  calibration: { degree = 3; zero_counts = 1e9; };\n"
	                          "};\n"
	                          "colour = \"red\";\n"
	                          "store: { path = \"\"; keep_inputs = -1; };\n"
	                          "bus: { which = \"omnibus\"; };\n";
	static const char *const wanted[] = {
	        "ambo.conf:3: scale.max_g: it is text; expected a number",
	        "ambo.conf:4: scale.interva_g: there is no such key; expected \"interval_g\", per",
	        "ambo.conf:5: scale.zero_tracking: it is a whole number; expected true or false",
	        "ambo.conf:6: scale.calibration.degree: the value is 3; expected a whole number",
	        "ambo.conf:6: scale.calibration.zero_counts: the value is 1000000000; expected",
	        "ambo.conf:6: scale.calibration.counts_per_g: it is missing; expected",
	        "ambo.conf:1: scale.interval_g: it is missing; expected a number from",
	        "ambo.conf:8: colour: there is no such key; expected one of scale, tolerance",
	        "ambo.conf:9: store.path: the text has 0 bytes; expected a path",
	        "ambo.conf:9: store.keep_inputs: the value is -1; expected a whole number",
	        "ambo.conf:10: bus.which: \"omnibus\" is not known; expected \"session\" or",
	        "ambo.conf:2: scale.driver: \"bathroom\" is no driver; expected one of",
	        "systems.d/tidepool-clear.conf:2: a.parts: the value is 0; expected the number",
	};

	assert_int_equal(load(folder, bad,
	                      "name = \"Tidepool Clear\"; basis = \"weight\"; hardener = \"b\";\n"
	                      "a = { label = \"resin\"; parts = 0; };\n"
	                      "b = { label = \"hardener\"; parts = 45.0; };\n"
	                      "working_life = { s = 2400; mass_g = 400; degc = 23; };\n"),
	                 -EINVAL);
	for (size_t i = 0; i < folder->n && i < sizeof(wanted) / sizeof(wanted[0]); i++)
		if (strncmp(folder->heard[i], wanted[i], strlen(wanted[i])) != 0) {
			print_error("said: %s\nwanted: %s\n", folder->heard[i], wanted[i]);
			fail();
		}
	assert_int_equal(folder->n, sizeof(wanted) / sizeof(wanted[0]));
}

static void a_label_that_cannot_be_meant_is_refused(void **state)
{
	struct folder *folder = *state;
	const struct {
		const char *key, *from, *to, *begins, *holds;
	} cases[] = {
	        {"zero ratio", "parts = 45.0", "parts = 0.0",
	         "systems.d/tidepool-clear.conf:3: b.parts:", "above 0"},
	        {"negative density", "parts = 100;", "parts = 100; density_g_per_ml = -1.1;",
	         "systems.d/tidepool-clear.conf:2: a.density_g_per_ml:",
	         "expected a number from 0.5 to 3"},
	        {"tolerance 0", "basis", "tolerance_pct = 0; basis",
	         "systems.d/tidepool-clear.conf:1: tolerance_pct:", "0.1 to 20 %"},
	        {"tolerance 80", "basis", "tolerance_pct = 80; basis",
	         "systems.d/tidepool-clear.conf:1: tolerance_pct:", "the value is 80"},
	        {"no basis", "basis = \"weight\";", "",
	         "systems.d/tidepool-clear.conf:1: basis:", "\"weight\" or \"volume\""},
	        {"other basis", "basis = \"weight\"", "basis = \"mole\"",
	         "systems.d/tidepool-clear.conf:1: basis:", "\"mole\" is not known"},
	        {"volume without densities", "basis = \"weight\"", "basis = \"volume\"", NULL,
	         NULL},
	        {"no such day", "parts = 100;", "parts = 100; expiry = \"2027-02-30\";",
	         "systems.d/tidepool-clear.conf:2: a.expiry:", "no date"},
	        {"less than nothing left", "parts = 100;", "parts = 100; available_g = -5;",
	         "systems.d/tidepool-clear.conf:2: a.available_g:", "from 0"},
	        {"misspelt", "label = \"resin\"", "lable = \"resin\"", NULL, NULL},
	        {"one code for both", "parts = 100; };\nb = { ",
	         "parts = 100; code = \"X\"; };\nb = { code = \"X\"; ",
	         "systems.d/tidepool-clear.conf:3: b.code:", "also the code of part A"},
	        {"life 0", "s = 2400", "s = 0",
	         "systems.d/tidepool-clear.conf:4: working_life.s:", "expected 30"},
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		char text[1024];
		const char *at = strstr(good_system, cases[i].from);

		assert_non_null(at);
		snprintf(text, sizeof(text), "%.*s%s%s", (int)(at - good_system), good_system,
		         cases[i].to, at + strlen(cases[i].from));
		assert_int_equal(load(folder, good_conf, text), -EINVAL);
		if (cases[i].begins != NULL)
			assert_says(folder, cases[i].begins, cases[i].holds);
		else
			assert_int_equal(folder->n, 2); /* both parts; the key and its want */
	}
}

static void a_number_that_would_wrap_is_refused(void **state)
{
	struct folder *folder = *state;
	char text[1024];

	/* libconfig 1.5 reads 4294967301 as 5 without a word. */
	snprintf(text, sizeof(text), "/* 99999999999 */ # 99999999999\n%s%s", good_conf,
	         "station: { record = \"99999999999\"; };\nx = 4294967301;\n");
	assert_int_equal(load(folder, text, good_system), -EINVAL);
	assert_says(folder, "ambo.conf:8: the whole number 4294967301 does not fit", "32 bits");
	snprintf(text, sizeof(text), "%sx = -2147483649;\n", good_conf);
	assert_int_equal(load(folder, text, good_system), -EINVAL);
	assert_says(folder, "ambo.conf:6: the whole number -2147483649 does not", "32 bits");
	snprintf(text, sizeof(text), "%sx = 0x100000000;\n", good_conf);
	assert_int_equal(load(folder, text, good_system), -EINVAL);
	assert_says(folder, "ambo.conf:6: the whole number 0x100000000 does not", "32 bits");
}

static void whole_numbers_and_L_numbers_stand_for_doubles(void **state)
{
	struct folder *folder = *state;

	assert_int_equal(
	        load(folder,
	             "scale: { driver = \"simulated\"; max_g = 6000L; interval_g = 1;\n"
	             "calibration: { degree = 1L; zero_counts = 0; counts_per_g = 400; }; };\n"
	             "store: { path = \"/tmp/x.db\"; keep_inputs = 3L; };\n",
	             good_system),
	        0);
	assert_close(folder->config->weigher.max_g, 6000.0, 0.0);
	assert_int_equal(folder->config->weigher.calibration.degree, 1);
	assert_int_equal(folder->config->keep_inputs, 3);
	assert_string_equal(folder->config->store_path, "/tmp/x.db");
}

static void of_syntax_the_first_mistake_a_file_is_said(void **state)
{
	struct folder *folder = *state;

	assert_int_equal(load(folder, "scale: {\n  driver = ;\n};\nstore = {{\n", "name = \n\n;"),
	                 -EINVAL);
	assert_int_equal(folder->n, 2);
	assert_memory_equal(folder->heard[0], "ambo.conf:2: syntax error", 24);
	assert_memory_equal(folder->heard[1], "systems.d/tidepool-clear.conf:3:", 32);
}

static void includes_are_refused(void **state)
{
	struct folder *folder = *state;

	assert_int_equal(load(folder, "@include \"/etc/passwd\"\n", good_system), -EINVAL);
	assert_says(folder, "ambo.conf:1:", "@include is not used");
}

static void what_is_no_readable_text_is_said(void **state)
{
	struct folder *folder = *state;
	char path[256];
	FILE *file;

	assert_int_equal(load(folder, NULL, good_system), -EINVAL);
	assert_says(folder, "ambo.conf: cannot be read (No such file", "expected a readable file");
	snprintf(path, sizeof(path), "%s/ambo.conf", folder->dir);
	assert_int_equal(mkdir(path, 0700), 0);
	assert_int_equal(load(folder, NULL, good_system), -EINVAL);
	assert_says(folder, "ambo.conf: cannot be read (Is a directory)", "");
	assert_int_equal(rmdir(path), 0);
	assert_int_equal(mkfifo(path, 0600), 0); /* nobody will ever write */
	assert_int_equal(load(folder, NULL, good_system), -EINVAL);
	assert_int_equal(folder->n, 1);
	assert_int_equal(unlink(path), 0);
	file = fopen(path, "w");
	assert_non_null(file);
	assert_int_equal(ftruncate(fileno(file), (off_t)2 << 30), 0); /* sparse: 2 GB */
	fclose(file);
	assert_int_equal(load(folder, NULL, good_system), -EINVAL);
	assert_says(folder, "ambo.conf: the file is larger than", "");
	assert_int_equal(load(folder, "", good_system), -EINVAL); /* empty: what is missing */
	assert_int_equal(folder->n, 2);
}

static void a_missing_systems_folder_is_said_an_empty_one_is_not(void **state)
{
	struct folder *folder = *state;
	char path[256];

	assert_int_equal(load(folder, good_conf, NULL), 0);
	assert_int_equal(folder->config->n_systems, 0);
	snprintf(path, sizeof(path), "%s/systems.d", folder->dir);
	assert_int_equal(rmdir(path), 0);
	assert_int_equal(load(folder, good_conf, NULL), -EINVAL);
	assert_says(folder, "systems.d: cannot be read (No such file", "a file a resin system");
}

static void systems_that_cannot_be_told_apart_are_refused(void **state)
{
	struct folder *folder = *state;

	write_file(folder, "systems.d/another.conf", good_system);
	assert_int_equal(load(folder, good_conf, good_system), -EINVAL);
	assert_says(folder, "systems.d/tidepool-clear.conf: name:", "another.conf");
	write_file(folder, "systems.d/another.conf", "");
	write_file(folder, "systems.d/Another One.conf", good_system);
	assert_int_equal(load(folder, good_conf, NULL), -EINVAL);
	assert_true(folder->n > 1);
}

static void more_systems_than_there_is_room_for_are_refused(void **state)
{
	struct folder *folder = *state;
	char name[64], text[1024];

	for (unsigned i = 0; i <= CONFIG_SYSTEMS_MAX; i++) {
		snprintf(name, sizeof(name), "systems.d/s%02u.conf", i);
		snprintf(text, sizeof(text), "name = \"S %u\";%s", i, strchr(good_system, ';') + 1);
		write_file(folder, name, text);
	}
	assert_int_equal(load(folder, good_conf, NULL), -EINVAL);
	assert_says(folder, "systems.d/s64.conf:", "at most 64");
}

static void a_curve_that_turns_over_below_max_is_refused(void **state)
{
	struct folder *folder = *state;

	assert_int_equal(load(folder,
	                      "scale: { driver = \"simulated\"; max_g = 5000; interval_g = 0.1;\n"
	                      "calibration: { degree = 2; zero_counts = 0; counts_per_g = 400;\n"
	                      "g_per_count2 = -1e-9; }; };\nstore: { path = \"x\"; };\n",
	                      good_system),
	                 -EINVAL);
	assert_says(folder, "ambo.conf:3: scale.calibration.g_per_count2:", "turns over");
}

static void a_drivers_own_mistakes_come_with_the_rest(void **state)
{
	struct folder *folder = *state;
	char text[1024];

	snprintf(text, sizeof(text), "scale: { simulated: { noise_g = \"loud\"; sped = 2; };%s",
	         strchr(good_conf, '{') + 1);
	assert_int_equal(load(folder, text, good_system), -EINVAL);
	assert_int_equal(folder->n, 2);
	assert_memory_equal(folder->heard[0], "ambo.conf:1:", 12);
	assert_non_null(strstr(folder->heard[0], "noise_g"));
	assert_non_null(strstr(folder->heard[1], "sped"));
}

static void sensors_are_read_and_their_mistakes_said(void **state)
{
	struct folder *folder = *state;
	char text[1024];

	snprintf(text, sizeof(text),
	         "%ssensors: { resin_temperature = \"probe:temp1\"; air_humidity = "
	         "\"/sys/x\"; };\n",
	         good_conf);
	assert_loads(folder, text, good_system);
	assert_string_equal(folder->config->sensors.sensor[SENSING_RESIN_DEGC], "probe:temp1");
	assert_string_equal(folder->config->sensors.sensor[SENSING_AIR_DEGC], "");
	assert_string_equal(folder->config->sensors.sensor[SENSING_AIR_PCT], "/sys/x");
	assert_close(folder->config->sensors.every_s, 10.0, 0.0);
	snprintf(text, sizeof(text),
	         "%ssensors: { resin_temperature = \"probe\";\n air_temperature = \"probe:\";\n"
	         "every_s = 0; warmth = 3; };\n",
	         good_conf);
	assert_int_equal(load(folder, text, good_system), -EINVAL);
	assert_int_equal(folder->n, 4);
	assert_non_null(strstr(folder->heard[0], "ambo.conf:8: sensors.every_s"));
	assert_non_null(strstr(folder->heard[1], "warmth"));
	assert_non_null(strstr(folder->heard[2], "ambo.conf:6: sensors.resin_temperature"));
	assert_non_null(strstr(folder->heard[2], "NAME:CHANNEL"));
	assert_non_null(strstr(folder->heard[3], "ambo.conf:7: sensors.air_temperature"));
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, folder_new, folder_free)
	const struct CMUnitTest tests[] = {
	        TEST(a_good_configuration_is_read_with_its_defaults),
	        TEST(the_commented_configuration_is_right),
	        TEST(every_mistake_is_said_at_once_in_the_order_of_the_file),
	        TEST(counts_per_g_that_contradicts_the_units_own_is_refused),
	        TEST(a_time_to_silence_shorter_than_a_tick_is_refused),
	        TEST(a_label_that_cannot_be_meant_is_refused),
	        TEST(a_number_that_would_wrap_is_refused),
	        TEST(whole_numbers_and_L_numbers_stand_for_doubles),
	        TEST(of_syntax_the_first_mistake_a_file_is_said),
	        TEST(includes_are_refused),
	        TEST(what_is_no_readable_text_is_said),
	        TEST(a_missing_systems_folder_is_said_an_empty_one_is_not),
	        TEST(systems_that_cannot_be_told_apart_are_refused),
	        TEST(more_systems_than_there_is_room_for_are_refused),
	        TEST(a_curve_that_turns_over_below_max_is_refused),
	        TEST(a_drivers_own_mistakes_come_with_the_rest),
	        TEST(sensors_are_read_and_their_mistakes_said),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
