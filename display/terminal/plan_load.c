/* SPDX-License-Identifier: MIT */
#include "plan_load.h"

#include <errno.h>
#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/station/config.h"
#include "daemon/station/piece_file.h"
#include "terminal.h"

#define ETC_DIR "/etc/ambo"

static void say(void *context, const char *sentence)
{
	(void)context;
	complain("%s", sentence);
}

/* CONFIG of CONFIG/pieces/NAME.conf, where it has systems; else /etc/ambo. */
static void config_of(const char *path, char ret[PATH_MAX])
{
	char systems[PATH_MAX];
	const char *slash = strrchr(path, '/');

	snprintf(ret, PATH_MAX, "%.*s/..", slash ? (int)fmin((double)(slash - path), 2000) : 1,
	         slash ? path : ".");
	snprintf(systems, sizeof systems, "%.2100s/systems.d", ret);
	if (access(systems, R_OK) < 0)
		snprintf(ret, PATH_MAX, "%s", ETC_DIR);
}

/* Asks where someone can answer; else says how to answer beforehand. */
static int ask_units(const char *path, const struct piece *piece, bool as_written)
{
	char question[PIECE_SENTENCE_MAX], answer[16] = "";

	if (as_written || piece_question(piece, question) == 0)
		return EXIT_OK;
	if (!terminal_in() || !terminal_out()) {
		complain("%s: %s: %s Mend the file, or say --as-written", path, piece->name,
		         question);
		return EXIT_FAILED;
	}
	printf("%s\nGo on with what is written? [y/N] ", question);
	fflush(stdout);
	if (!fgets(answer, sizeof answer, stdin) || (answer[0] != 'y' && answer[0] != 'Y'))
		return EXIT_FAILED;
	return EXIT_OK;
}

static void apply(const struct plan_what_if *what_if, struct piece *piece)
{
	if (!isnan(what_if->room_degc))
		piece->room_degc = what_if->room_degc;
	if (!isnan(what_if->resin_degc))
		piece->resin_degc = what_if->resin_degc;
	if (!isnan(what_if->humidity_pct))
		piece->humidity_pct = what_if->humidity_pct;
	if (!isnan(what_if->cup_limit_g))
		piece->cup_limit_g = what_if->cup_limit_g;
	if (what_if->batches > 0)
		piece->batches_max = (int)what_if->batches;
	if (!what_if->system)
		return;
	for (size_t i = 0; i < piece->n_coats; i++)
		if (strcmp(piece->coats[i].system, piece->system) == 0)
			snprintf(piece->coats[i].system, sizeof piece->coats[i].system, "%s",
			         what_if->system);
	snprintf(piece->system, sizeof piece->system, "%s", what_if->system);
}

static int find_systems(struct plan_case *of, const char *dir)
{
	struct conf_report report = {.say = say};
	struct station_config *config = NULL;
	char sentence[CASTING_SENTENCE_MAX];
	int status = EXIT_OK;

	if (station_config_load_systems(dir, &report, &config) < 0)
		return EXIT_FAILED;
	for (size_t i = 0; status == EXIT_OK && i < of->piece.n_coats; i++) {
		const char *id = of->piece.coats[i].system;
		bool known = false;

		for (size_t j = 0; j < of->n_systems; j++)
			known = known || strcmp(of->systems[j].id, id) == 0;
		if (known)
			continue;
		if (station_config_casting(config, id, &of->systems[of->n_systems], sentence) < 0) {
			complain("%s: coat \"%s\": %s", of->piece.name, of->piece.coats[i].name,
			         sentence);
			status = EXIT_FAILED;
		}
		of->n_systems++;
	}
	station_config_free(config);
	return status;
}

int plan_load(const char *path, const char *config_dir, bool as_written,
              const struct plan_what_if *what_if, struct plan_case **ret)
{
	struct conf_report report = {.say = say};
	struct plan_case *made = calloc(1, sizeof *made);
	char dir[PATH_MAX];
	int status;

	if (!made) {
		complain("no memory left");
		return EXIT_FAILED;
	}
	status = piece_file_read(path, &report, &made->piece) < 0 ? EXIT_FAILED : EXIT_OK;
	if (status == EXIT_OK)
		status = ask_units(path, &made->piece, as_written);
	if (status == EXIT_OK) {
		apply(what_if, &made->piece);
		config_of(path, dir);
		status = find_systems(made, config_dir ? config_dir : dir);
	}
	if (status != EXIT_OK) {
		free(made);
		return status;
	}
	made->request = (struct plan_request){.piece = &made->piece,
	                                      .systems = made->systems,
	                                      .n_systems = made->n_systems,
	                                      .samples = (unsigned)what_if->samples,
	                                      .seed = (uint64_t)what_if->seed,
	                                      .layers_wanted = (int)what_if->layers};
	*ret = made;
	return EXIT_OK;
}

int plan_compute(struct plan_case *plan_case)
{
	return plan_make(&plan_case->request, &plan_case->plan, plan_case->sentence);
}
