/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_CONFIG_H
#define AMBO_STATION_CONFIG_H

#include <limits.h>
#include <stdbool.h>
#include <stddef.h>

#include "conf_file.h"
#include "daemon/casting/casting_system.h"
#include "daemon/mixing/recipe.h"
#include "daemon/mixing/system.h"
#include "daemon/weighing/uncertainty.h"
#include "daemon/weighing/weigher.h"
#include "drivers/scale.h"

/* The configuration folder: ambo.conf, and a resin system in each
 * systems.d/ID.conf. Explained key by key in ambo.conf(5). */

#define CONFIG_SYSTEMS_MAX     64u
#define CONFIG_NOISE_DEFAULT_G 0.05 /* until the scale's own noise is given */

struct station_config {
	char dir[PATH_MAX];

	const struct scale_driver *driver;
	struct conf_passed options; /* the driver's own, as text */
	struct conf_passed panel;   /* the bench's wires, likewise: drivers/panel_options.h */
	struct weigher_config weigher;
	struct weighing_doubt doubt;
	char record_path[PATH_MAX]; /* a trace to record to; "" none */

	double default_tolerance_pct;
	bool bottles_on_pan;

	double check_interval_h; /* a daily check is due after so long; 0: never */

	char store_path[PATH_MAX];
	int keep_inputs; /* batches whose raw inputs are kept; 0 none */
	bool system_bus;

	struct resin_system systems[CONFIG_SYSTEMS_MAX]; /* by id */
	struct casting_label casting[CONFIG_SYSTEMS_MAX]; /* of each, what casting needs */
	bool demo[CONFIG_SYSTEMS_MAX]; /* of each: invented, never to be really mixed */
	size_t n_systems;

	struct conf_file *file; /* owns what options point to */
};

/* Reads dir/ambo.conf and dir/systems.d. Every mistake of meaning in all files is
 * said, one sentence each. On 0 the caller owns *ret (station_config_free); -EINVAL
 * when anything was said, -ENOMEM; *ret untouched. Opens no scale and no store. */
int station_config_load(const char *dir, struct conf_report *report, struct station_config **ret);
void station_config_free(struct station_config *config); /* NULL does nothing */

/* NULL when there is no system of that id. */
const struct resin_system *station_config_system(const struct station_config *config,
                                                 const char *id);

/* What the scale can do, for recipe_make: u_reading_g is the doubt of a reading of
 * one second, load_g on the pan, five minutes after the first. */
void station_config_scale(const struct station_config *config, double noise_g, double load_g,
                          struct recipe_scale *ret);

/* config_systems.c: reads one file of a system. */
int config_read_system(const char *path, const char *id, struct conf_report *report,
                       struct resin_system *ret, struct casting_label *ret_casting, bool *ret_demo);
/* Where the systems are that were entered at the bench: systems.d beside the store. */
void config_entered_dir(const struct station_config *config, char ret[PATH_MAX]);
/* The file of a system that is known. */
void config_system_path(const struct station_config *config, const char *id, char ret[PATH_MAX]);
int config_read_systems(struct station_config *config, struct conf_report *report);

/* Only the systems of a folder, for commands that need no scale and no store: systems
 * and casting are set. Else as station_config_load(). */
int station_config_load_systems(const char *dir, struct conf_report *report,
                                struct station_config **ret);

/* A system as casting sees it. 0; -ENOENT; -EINVAL with a sentence
 * (CASTING_SENTENCE_MAX). */
int station_config_casting(const struct station_config *config, const char *id,
                           struct casting_system *ret, char *ret_sentence);

#endif
