/* SPDX-License-Identifier: MIT */
/* A resin system entered at the bench, from its label: EnterSystem of /org/ambo/batch.
 * It becomes a file as a person would write it, beside the store, read by the same
 * reader; so it may be looked at, mended, and moved to the configuration. */
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "bus_inside.h"
#include "keeper.h"

#define FILE_MAX 1536u

struct entry {
	char name[SYSTEM_LABEL_MAX], label_a[SYSTEM_LABEL_MAX], label_b[SYSTEM_LABEL_MAX];
	char basis[8], hardener[4];
	double parts_a, parts_b, density_a, density_b, tolerance_pct;
	double life_s, life_g, life_degc, stir_s;
};

struct entering {
	struct bus_call *call;
	struct bus *bus;
	char id[SYSTEM_ID_MAX], dir[PATH_MAX], text[FILE_MAX], why[CONF_SENTENCE_MAX];
	struct resin_system system;
	struct casting_label casting;
	bool demo;
	int result;
};

/* Nothing that could end the text in the file. */
static bool plain(const char *text)
{
	for (; *text != '\0'; text++)
		if (*text == '"' || *text == '\\' || (unsigned char)*text < ' ')
			return false;
	return true;
}

/* The file's name for it: letters, digits and dashes, and no other system's. */
static void make_id(const struct station_config *config, const char *name, char ret[SYSTEM_ID_MAX])
{
	char base[SYSTEM_ID_MAX];
	size_t n = 0;

	for (; *name != '\0' && n < SYSTEM_ID_MAX - 4; name++) {
		const char c = *name >= 'A' && *name <= 'Z' ? (char)(*name - 'A' + 'a') : *name;

		if ((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9'))
			base[n++] = c;
		else if (n > 0 && base[n - 1] != '-')
			base[n++] = '-';
	}
	while (n > 0 && base[n - 1] == '-')
		n--;
	base[n] = '\0';
	snprintf(ret, SYSTEM_ID_MAX, "%s", n > 0 ? base : "system");
	for (unsigned i = 2; station_config_system(config, ret) != NULL; i++)
		snprintf(ret, SYSTEM_ID_MAX, "%.*s-%u", (int)SYSTEM_ID_MAX - 4,
		         n > 0 ? base : "system", i);
}

/* The only reals are the reader's: a point and a digit behind it. */
static size_t put_number(char *text, size_t n, const char *before, double value, const char *after)
{
	if (!(value > 0.0) || n >= FILE_MAX)
		return n;
	return n + (size_t)snprintf(text + n, FILE_MAX - n, "%s%.4f%s", before, value, after);
}

static size_t put_part(char *text, size_t n, char part, const char *label, double parts,
                       double density)
{
	n += (size_t)snprintf(text + n, FILE_MAX - n, "%c = { label = \"%s\"; parts = %.4f;", part,
	                      label, parts);
	n = put_number(text, n, " density_g_per_ml = ", density, ";");
	return n + (size_t)snprintf(text + n, FILE_MAX - n, " };\n");
}

static void make_text(const struct entry *label, char text[FILE_MAX])
{
	size_t n = (size_t)snprintf(text, FILE_MAX,
	                            "# Entered at the bench, from the label.\nname = \"%s\";\n"
	                            "basis = \"%s\";\nhardener = \"%s\";\n",
	                            label->name, label->basis, label->hardener);

	n = put_part(text, n, 'a', label->label_a, label->parts_a, label->density_a);
	n = put_part(text, n, 'b', label->label_b, label->parts_b, label->density_b);
	n = put_number(text, n, "tolerance_pct = ", label->tolerance_pct, ";\n");
	n = put_number(text, n, "stir_s = ", label->stir_s, ";\n");
	snprintf(text + n, FILE_MAX - n,
	         "working_life = { s = %.4f; mass_g = %.4f; degc = %.4f; };\n", label->life_s,
	         label->life_g, label->life_degc);
}

static void keep_first(void *context, const char *sentence)
{
	struct entering *entering = context;

	if (entering->why[0] == '\0')
		snprintf(entering->why, sizeof(entering->why), "%s", sentence);
}

static int write_file(const char *path, const char *text)
{
	const size_t n = strlen(text);
	int r = 0, fd = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC | O_NOFOLLOW, 0640);

	if (fd < 0)
		return -errno;
	if (write(fd, text, n) != (ssize_t)n || fsync(fd) < 0)
		r = errno != 0 ? -errno : -EIO;
	if (close(fd) < 0 && r == 0)
		r = -errno;
	return r;
}

/* On the store thread: written beside, read back by the reader, then renamed. */
static void enter_run(struct store *store, void *context)
{
	struct entering *entering = context;
	struct conf_report report = {.say = keep_first, .context = entering};
	char beside[PATH_MAX], path[PATH_MAX];
	int dir, r;

	(void)store;
	snprintf(beside, sizeof(beside), "%.2000s/.%s.new", entering->dir, entering->id);
	snprintf(path, sizeof(path), "%.2000s/%s.conf", entering->dir, entering->id);
	if (mkdir(entering->dir, 0750) < 0 && errno != EEXIST)
		r = -errno;
	else
		r = write_file(beside, entering->text);
	if (r == 0)
		r = config_read_system(beside, entering->id, &report, &entering->system,
		                       &entering->casting, &entering->demo);
	if (r == 0 && rename(beside, path) < 0)
		r = -errno;
	if (r < 0)
		(void)unlink(beside);
	dir = r == 0 ? open(entering->dir, O_RDONLY | O_DIRECTORY | O_CLOEXEC) : -1;
	if (dir >= 0) {
		(void)fsync(dir);
		close(dir);
	}
	entering->result = r;
}

static void nothing_run(struct store *store, void *context)
{
	(void)store;
	(void)context;
}

static void append(struct station_config *config, const struct entering *entering)
{
	config->casting[config->n_systems] = entering->casting;
	config->demo[config->n_systems] = entering->demo;
	config->systems[config->n_systems++] = entering->system;
}

static void enter_done(void *context)
{
	struct entering *entering = context;
	struct station *station = entering->bus->station;

	/* The store thread looks systems up while a batch begins: not under its hands. */
	if (entering->result == 0 && batches_waiting(&station->batches) &&
	    store_thread_submit(station->records, nothing_run, enter_done, entering) >= 0)
		return;
	if (entering->result < 0) {
		bus_refuse(entering->call->message,
		           entering->why[0] != '\0' ? "BadRequest" : "StoreFailed", "%s",
		           entering->why[0] != '\0' ? entering->why : strerror(-entering->result));
	} else {
		append(&station->effective, entering);
		sd_bus_reply_method_return(entering->call->message, "s", entering->id);
	}
	station->entering = false;
	bus_call_drop(entering->call);
	free(entering);
}

static int take_label(sd_bus_message *message, struct entry *ret, char *why)
{
	const struct dict_key keys[] = {
	        {"Name", NULL, 0, 0, ret->name, sizeof(ret->name)},
	        {"LabelA", NULL, 0, 0, ret->label_a, sizeof(ret->label_a)},
	        {"LabelB", NULL, 0, 0, ret->label_b, sizeof(ret->label_b)},
	        {"Basis", NULL, 0, 0, ret->basis, sizeof(ret->basis)},
	        {"Hardener", NULL, 0, 0, ret->hardener, sizeof(ret->hardener)},
	        {"PartsA", &ret->parts_a, 0.0, 1e6, NULL, 0},
	        {"PartsB", &ret->parts_b, 0.0, 1e6, NULL, 0},
	        {"DensityAGramsPerMillilitre", &ret->density_a, 0.0, 10.0, NULL, 0},
	        {"DensityBGramsPerMillilitre", &ret->density_b, 0.0, 10.0, NULL, 0},
	        {"TolerancePercent", &ret->tolerance_pct, 0.0, 100.0, NULL, 0},
	        {"WorkingLifeSeconds", &ret->life_s, 0.0, 1e7, NULL, 0},
	        {"WorkingLifeGrams", &ret->life_g, 0.0, 1e6, NULL, 0},
	        {"WorkingLifeCelsius", &ret->life_degc, -20.0, 80.0, NULL, 0},
	        {"StirSeconds", &ret->stir_s, 0.0, 1e4, NULL, 0},
	};

	*ret = (struct entry){.label_a = "resin", .label_b = "hardener", .hardener = "b"};
	return dict_take(message, keys, sizeof(keys) / sizeof(keys[0]), why);
}

/* 0: may be entered; else the handler returns it. */
static int refused(const struct bus *bus, sd_bus_message *message, const struct entry *label)
{
	const struct station_config *config = bus->station->config;

	if (!plain(label->name) || !plain(label->label_a) || !plain(label->label_b) ||
	    !plain(label->basis) || !plain(label->hardener))
		return bus_refuse(message, "BadRequest",
		                  "A name holds a quote, a backslash or a control character; "
		                  "expected the label's own words.");
	for (size_t i = 0; i < config->n_systems; i++)
		if (strcmp(config->systems[i].name, label->name) == 0)
			return bus_refuse(message, "BadRequest",
			                  "There is a system \"%s\" already; expected a name that "
			                  "can be told apart.",
			                  label->name);
	if (config->n_systems >= CONFIG_SYSTEMS_MAX)
		return bus_refuse(message, "OutOfRange", "%u systems are all there is room for.",
		                  CONFIG_SYSTEMS_MAX);
	if (bus->station->entering)
		return bus_refuse(message, "Busy", "Another system is being entered: wait.");
	return 0;
}

int bus_enter_system(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	char why[DICT_WHY_MAX] = "";
	struct entering *entering;
	struct entry entry;
	int r;

	(void)error;
	if (!bus_keepers_word(bus, message))
		return bus_refuse(
		        message, "NotKeeper",
		        "Only keepers may enter a system: members of the group " KEEPER_GROUP
		        ", and who holds the bench's foot switch for five seconds.");
	r = take_label(message, &entry, why);
	if (r < 0)
		return why[0] != '\0' ? bus_refuse(message, "BadRequest", "%s", why) : r;
	r = refused(bus, message, &entry);
	if (r != 0)
		return r;
	entering = calloc(1, sizeof(*entering));
	if (entering == NULL)
		return -ENOMEM;
	entering->bus = bus;
	make_id(bus->station->config, entry.name, entering->id);
	config_entered_dir(bus->station->config, entering->dir);
	make_text(&entry, entering->text);
	entering->call = bus_call_keep(bus, message);
	if (entering->call == NULL ||
	    store_thread_submit(bus->station->records, enter_run, enter_done, entering) < 0) {
		if (entering->call != NULL) {
			bus_refuse(message, "Busy", "The store is too slow now: wait.");
			bus_call_drop(entering->call);
		}
		free(entering);
		return 1;
	}
	bus->station->entering = true;
	return 1;
}
