/* SPDX-License-Identifier: MIT */
/* systems.d/ID.conf: a resin system a file. */
#include "config.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static const char *const basis_names[] = {"weight", "volume", NULL};
static const char *const part_names[] = {"a", "b", NULL};
static const char *const family_names[] = {"fast", "slow", NULL};

/* Absent choices stay -1: there is no default for either. */
struct written {
	struct resin_system system;
	struct casting_label casting;
	int basis, hardener, family;
	bool demo;
};

#define AT(member) .offset = offsetof(struct written, system.member)
#define TEXT(name, member, words)                                                                  \
	{                                                                                          \
		name, CONF_TEXT, AT(member), .size = sizeof(((struct resin_system *)0)->member),   \
		                             .expected = words                                     \
	}
/* Ranges are system_check()'s business, except where a written 0 or a negative
 * number would be taken for "not on the label". */
#define PART_SPECS(name, index)                                                                    \
	static const struct conf_spec name[] = {                                                   \
	        TEXT("label", part[index].label, "the label's own word, in at most 47 bytes"),     \
	        {"parts", CONF_DOUBLE, AT(part[index].parts), .low = -1e300, .high = 1e300,        \
	         .expected = "the number on the label"},                                           \
	        {"density_g_per_ml", CONF_DOUBLE, AT(part[index].density_g_per_ml),                \
	         .low = SYSTEM_DENSITY_MIN_G_PER_ML, .high = SYSTEM_DENSITY_MAX_G_PER_ML},         \
	        TEXT("lot", part[index].lot, "the lot's name, in at most 47 bytes"),               \
	        TEXT("expiry", part[index].expiry, "a date, \"YYYY-MM-DD\""),                      \
	        {"available_g", CONF_DOUBLE, AT(part[index].available_g), .low = 0.0,              \
	         .high = 1e6},                                                                     \
	        {"bottle_gross_g", CONF_DOUBLE, AT(part[index].bottle_gross_g), .low = 0.001,      \
	         .high = 1e6},                                                                     \
	        TEXT("code", part[index].code, "what a code reader reads, in at most 47 bytes"),   \
	        {.key = NULL},                                                                     \
	}
PART_SPECS(part_a_specs, PART_A);
PART_SPECS(part_b_specs, PART_B);

static const struct conf_spec life_specs[] = {
        {"s", CONF_DOUBLE, .required = true, AT(working_life_s), .low = -1e300, .high = 1e300,
         .expected = "seconds, as on the label"},
        {"mass_g", CONF_DOUBLE, .required = true, AT(working_life_mass_g), .low = -1e300,
         .high = 1e300, .expected = "the mass in grams that the label's working life is for"},
        {"degc", CONF_DOUBLE, .required = true, AT(working_life_degc), .low = -1e300, .high = 1e300,
         .expected = "the temperature in degrees Celsius that the working life is for"},
        {.key = NULL},
};

#define LABEL(member)      .offset = offsetof(struct written, casting.member)
#define LABEL_DEGC(member) .required = true, LABEL(member), .low = -20.0, .high = 80.0
/* A time on the label and the temperature it is for: neither means anything alone. */
static const struct conf_spec film_specs[] = {
        {"s", CONF_DOUBLE, .required = true, LABEL(film_gel_s), .low = 30.0, .high = 2e6},
        {"degc", CONF_DOUBLE, LABEL_DEGC(film_degc)},
        {.key = NULL},
};
static const struct conf_spec recoat_specs[] = {
        {"opens_s", CONF_DOUBLE, LABEL(recoat_opens_s), .low = 60.0, .high = 2e6},
        {"closes_s", CONF_DOUBLE, LABEL(recoat_closes_s), .low = 60.0, .high = 2e6},
        {"degc", CONF_DOUBLE, LABEL_DEGC(recoat_degc)},
        {.key = NULL},
};
static const struct conf_spec holds_specs[] = {
        {"s", CONF_DOUBLE, .required = true, LABEL(holds_s), .low = 60.0, .high = 2e6},
        {"degc", CONF_DOUBLE, LABEL_DEGC(holds_degc)},
        {.key = NULL},
};
static const struct conf_spec full_cure_specs[] = {
        {"s", CONF_DOUBLE, .required = true, LABEL(full_cure_s), .low = 600.0, .high = 1e7},
        {"degc", CONF_DOUBLE, LABEL_DEGC(full_cure_degc)},
        {.key = NULL},
};
static const struct conf_spec casting_specs[] = {
        {"family", CONF_CHOICE, .offset = offsetof(struct written, family),
         .choices = family_names},
        {"depth_max_mm", CONF_DOUBLE, LABEL(depth_max_mm), .low = 0.1, .high = 500.0,
         .expected = "the label's deepest single pour, 0.1 to 500 mm"},
        {"levelling_min_mm", CONF_DOUBLE, LABEL(levelling_min_mm), .low = 0.05, .high = 50.0},
        {"film_gel", CONF_GROUP, .group = film_specs},
        {"recoat", CONF_GROUP, .group = recoat_specs},
        {"holds", CONF_GROUP, .group = holds_specs},
        {"full_cure", CONF_GROUP, .group = full_cure_specs},
        {"peak_max_degc", CONF_DOUBLE, LABEL(peak_max_degc), .low = 30.0, .high = 120.0},
        {"cup_loss_g", CONF_DOUBLE, LABEL(cup_loss_g), .low = 0.01, .high = 200.0},
        {"heat_j_per_g", CONF_DOUBLE, LABEL(heat_j_per_kg), .low = 50.0, .high = 1000.0},
        {.key = NULL},
};
#undef LABEL
#undef LABEL_DEGC

static const struct conf_spec system_specs[] = {
        TEXT("name", name, "the system's name, in at most 47 bytes"),
        {"basis", CONF_CHOICE, .offset = offsetof(struct written, basis), .choices = basis_names},
        {"hardener", CONF_CHOICE, .required = true, .offset = offsetof(struct written, hardener),
         .choices = part_names},
        {"a", CONF_GROUP, .required = true, .group = part_a_specs},
        {"b", CONF_GROUP, .required = true, .group = part_b_specs},
        {"tolerance_pct", CONF_DOUBLE, AT(tolerance_pct), .low = SYSTEM_TOLERANCE_MIN_PCT,
         .high = SYSTEM_TOLERANCE_MAX_PCT,
         .expected = "0.1 to 20 % of the ratio (2 to 5 are usual)"},
        {"working_life", CONF_GROUP, .required = true, .group = life_specs},
        {"casting", CONF_GROUP, .group = casting_specs},
        {"stir_s", CONF_DOUBLE, AT(stir_s), .low = 1.0, .high = 3600.0},
        {"tint_max_pct", CONF_DOUBLE, AT(tint_max_pct), .low = 0.01, .high = 30.0},
        {"tint_after_hardener", CONF_BOOL, AT(tint_after_hardener)},
        {"demo", CONF_BOOL, .offset = offsetof(struct written, demo)},
        TEXT("notes", notes, "notes, in at most 511 bytes"),
        {.key = NULL},
};
#undef AT
#undef TEXT

struct checking {
	const struct conf_file *file;
	struct conf_report *report;
};

/* system_check() names the struct's members; the person wrote the file's keys. */
static void file_key(const char *key, char *ret, size_t size)
{
	if (strncmp(key, "part_", 5) == 0)
		snprintf(ret, size, "%s", key + 5);
	else if (strncmp(key, "working_life_", 13) == 0)
		snprintf(ret, size, "working_life.%s", key + 13);
	else if (strcmp(key, "parts") == 0)
		snprintf(ret, size, "b.parts");
	else
		snprintf(ret, size, "%s", key);
}

static void system_wrong(void *context, const char *key, const char *sentence)
{
	const struct checking *checking = context;
	char written[64], around[64], *dot;

	file_key(key, written, sizeof(written));
	snprintf(around, sizeof(around), "%s", written);
	dot = strchr(around, '.');
	if (dot != NULL)
		*dot = '\0';
	if (conf_complained(checking->file, written) || conf_complained(checking->file, around))
		return; /* said already, in better words */
	conf_wrong(checking->report, conf_path(checking->file), conf_line(checking->file, written),
	           written, "%s", sentence);
}

/* Times of a label that contradict each other: said where the file is read, so that no
 * plan ever begins on them. */
static void check_casting(struct conf_file *file, struct written *written,
                          struct conf_report *report)
{
	struct casting_system made;
	char sentence[CASTING_SENTENCE_MAX];
	const char *key = "casting";

	written->casting.heat_j_per_kg *= 1000.0;
	if (written->family >= 0)
		snprintf(written->casting.family, sizeof(written->casting.family), "%s",
		         family_names[written->family]);
	if (casting_system_make(&written->system, &written->casting, &made, sentence, &key) < 0)
		conf_wrong(report, conf_path(file), conf_line(file, key), key, "%s", sentence);
}

int config_read_system(const char *path, const char *id, struct conf_report *report,
                       struct resin_system *ret, struct casting_label *ret_casting, bool *ret_demo)
{
	struct written written = {.basis = -1, .hardener = 1, .family = -1};
	struct conf_file *file = NULL;
	const int before = report->found;
	int r;

	r = conf_open(path, report, &file);
	if (r < 0)
		return r;
	snprintf(written.system.id, sizeof(written.system.id), "%s", id);
	for (int i = 0; i < 2; i++) {
		written.system.part[i].available_g = -1.0;
		written.system.part[i].bottle_gross_g = -1.0;
	}
	conf_read(file, system_specs, &written, report);
	written.system.basis = written.basis < 0    ? BASIS_NONE
	                       : written.basis == 0 ? BASIS_WEIGHT
	                                            : BASIS_VOLUME;
	written.system.hardener = written.hardener == 0 ? PART_A : PART_B;
	system_check(&written.system, system_wrong,
	             &(struct checking){.file = file, .report = report});
	if (written.system.part[0].code[0] != '\0' &&
	    strcmp(written.system.part[0].code, written.system.part[1].code) == 0)
		conf_wrong(report, path, conf_line(file, "b.code"), "b.code",
		           "\"%s\" is also the code of part A; expected a code a bottle",
		           written.system.part[1].code);
	if (report->found == before && conf_has(file, "casting"))
		check_casting(file, &written, report);
	conf_close(file);
	if (report->found > before)
		return -EINVAL;
	*ret = written.system;
	*ret_casting = written.casting;
	*ret_demo = written.demo;
	return 0;
}

/* Two systems of one name could not be told apart on a screen. */
static void check_twin(const struct station_config *config, const struct resin_system *system,
                       const char *path, struct conf_report *report)
{
	for (size_t i = 0; i < config->n_systems; i++)
		if (strcmp(config->systems[i].name, system->name) == 0)
			conf_wrong(report, path, 0, "name",
			           "\"%s\" is also the name of %s.conf; expected names that can "
			           "be told apart",
			           system->name, config->systems[i].id);
}

static bool conf_id(const char *name, char *ret_id, size_t size)
{
	const size_t n = strlen(name);

	if (n <= 5 || strcmp(name + n - 5, ".conf") != 0 || name[0] == '.')
		return false;
	snprintf(ret_id, size, "%.*s", (int)(n - 5), name);
	return true;
}

static int is_conf(const struct dirent *entry)
{
	char id[NAME_MAX + 1];

	return conf_id(entry->d_name, id, sizeof(id));
}

void config_entered_dir(const struct station_config *config, char ret[PATH_MAX])
{
	const char *slash = strrchr(config->store_path, '/');

	snprintf(ret, PATH_MAX, "%.*s/systems.d",
	         slash != NULL ? (int)(slash - config->store_path) : 1,
	         slash != NULL ? config->store_path : ".");
}

void config_system_path(const struct station_config *config, const char *id, char ret[PATH_MAX])
{
	char entered[PATH_MAX];

	snprintf(ret, PATH_MAX, "%.2000s/systems.d/%.40s.conf", config->dir, id);
	if (access(ret, F_OK) == 0)
		return;
	config_entered_dir(config, entered);
	snprintf(ret, PATH_MAX, "%.2000s/%.40s.conf", entered, id);
}

static void read_one(struct station_config *config, const char *path, const char *id,
                     struct conf_report *report)
{
	struct resin_system system;
	struct casting_label casting;
	bool demo;

	if (config->n_systems == CONFIG_SYSTEMS_MAX) {
		conf_wrong(report, path, 0, "", "is one system too many; expected at most %u",
		           CONFIG_SYSTEMS_MAX);
		return;
	}
	if (strlen(id) >= SYSTEM_ID_MAX) {
		conf_wrong(report, path, 0, "",
		           "the file's name is too long; expected at most %u "
		           "characters before .conf",
		           SYSTEM_ID_MAX - 1);
		return;
	}
	if (config_read_system(path, id, report, &system, &casting, &demo) < 0)
		return;
	check_twin(config, &system, path, report);
	config->casting[config->n_systems] = casting;
	config->demo[config->n_systems] = demo;
	config->systems[config->n_systems++] = system;
}

static int read_folder(struct station_config *config, const char *dir, struct conf_report *report)
{
	char path[PATH_MAX], id[NAME_MAX + 1];
	struct dirent **entries = NULL;
	int n = scandir(dir, &entries, is_conf, alphasort);

	if (n < 0)
		return -errno;
	for (int i = 0; i < n; i++) {
		conf_id(entries[i]->d_name, id, sizeof(id));
		snprintf(path, sizeof(path), "%.2000s/%s", dir, entries[i]->d_name);
		free(entries[i]);
		read_one(config, path, id, report);
	}
	free(entries);
	return 0;
}

int config_read_systems(struct station_config *config, struct conf_report *report)
{
	char dir[PATH_MAX], entered[PATH_MAX];
	struct stat of[2];
	int r;

	snprintf(dir, sizeof(dir), "%.2000s/systems.d", config->dir);
	r = read_folder(config, dir, report);
	if (r < 0) {
		conf_wrong(report, dir, 0, "",
		           "cannot be read (%s); expected a folder with a file a resin system",
		           strerror(-r));
		return -EINVAL;
	}
	config_entered_dir(config, entered);
	if (config->store_path[0] == '\0' || stat(entered, &of[1]) < 0 ||
	    (stat(dir, &of[0]) == 0 && of[0].st_dev == of[1].st_dev &&
	     of[0].st_ino == of[1].st_ino))
		return 0; /* nothing was entered, or one folder is both */
	r = read_folder(config, entered, report);
	if (r < 0)
		conf_wrong(report, entered, 0, "", "cannot be read (%s)", strerror(-r));
	return r < 0 ? -EINVAL : 0;
}
