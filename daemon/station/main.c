/* SPDX-License-Identifier: MIT */
/* ambod: one station. Exit codes: 0 ended as asked, 1 failed, 2 wrong options or
 * configuration. */
#include <errno.h>
#include <getopt.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "config.h"
#include "station.h"

static const char usage[] =
        "usage: ambod [--config DIR] [--check-config] [--exit-at-end]\n"
        "\n"
        "Reads a scale, leads a batch of two-part resin, keeps the records; clients\n"
        "talk to it on D-Bus (org.ambo.Station).\n"
        "\n"
        "  --config DIR    the configuration folder (" AMBO_CONFIG_DIR ")\n"
        "  --check-config  only read the configuration and say what is wrong in it\n"
        "  --exit-at-end   end when the scale's source ends (a recorded trace)\n"
        "  --version, --help\n"
        "\n"
        "Exit status: 0 ended as asked, 1 failed, 2 wrong options or configuration.\n";

struct arguments {
	const char *dir;
	bool check_only, exit_at_end;
};

/* 0 to go on, else the exit status + 1. */
static int read_arguments(int argc, char **argv, struct arguments *ret)
{
	static const struct option options[] = {
	        {"config", required_argument, NULL, 'c'}, {"check-config", no_argument, NULL, 'k'},
	        {"exit-at-end", no_argument, NULL, 'e'},  {"version", no_argument, NULL, 'v'},
	        {"help", no_argument, NULL, 'h'},         {NULL, 0, NULL, 0},
	};
	int option;

	while ((option = getopt_long(argc, argv, "", options, NULL)) != -1) {
		switch (option) {
		case 'c':
			ret->dir = optarg;
			break;
		case 'k':
			ret->check_only = true;
			break;
		case 'e':
			ret->exit_at_end = true;
			break;
		case 'v':
			printf("ambod %s\n", AMBO_VERSION);
			return 1 + 0;
		case 'h':
			fputs(usage, stdout);
			return 1 + 0;
		default:
			fputs(usage, stderr);
			return 1 + 2;
		}
	}
	if (optind < argc) {
		fprintf(stderr, "ambod: '%s' is not understood\n%s", argv[optind], usage);
		return 1 + 2;
	}
	return 0;
}

static void say(void *context, const char *sentence)
{
	(void)context;
	fprintf(stderr, "%s\n", sentence);
}

/* Signals go to the loop, and to no thread. */
static void block_signals(void)
{
	sigset_t set;

	sigemptyset(&set);
	sigaddset(&set, SIGTERM);
	sigaddset(&set, SIGINT);
	sigaddset(&set, SIGPIPE);
	sigprocmask(SIG_BLOCK, &set, NULL);
}

int main(int argc, char **argv)
{
	struct arguments arguments = {.dir = AMBO_CONFIG_DIR};
	struct conf_report report = {.say = say};
	struct station_config *config = NULL;
	struct station *station = NULL;
	char *dir;
	int r;

	/* No setlocale(): the daemon and its numbers stay in the C locale. */
	r = read_arguments(argc, argv, &arguments);
	if (r > 0)
		return r - 1;
	if (chdir(arguments.dir) < 0 || (dir = getcwd(NULL, 0)) == NULL) {
		fprintf(stderr,
		        "%s: cannot be entered (%s); expected the configuration folder: "
		        "ambod --config DIR\n",
		        arguments.dir, strerror(errno));
		return 2;
	}
	/* Now every relative path of the configuration, the drivers' too, is in its folder. */
	r = station_config_load(dir, &report, &config);
	free(dir);
	if (r < 0)
		return r == -ENOMEM ? 1 : 2;
	if (arguments.check_only) {
		printf("%s: %zu resin system(s), driver %s: nothing wrong\n", config->dir,
		       config->n_systems, config->driver->name);
		station_config_free(config);
		return 0;
	}
	block_signals();
	r = station_new(config, arguments.exit_at_end, &station);
	if (r < 0)
		station_log("does not start (%s)", strerror(-r));
	else if ((r = station_run(station)) < 0)
		station_log("ends after a failure (%s)", strerror(-r));
	station_free(station);
	station_config_free(config);
	return r < 0 ? 1 : 0;
}
