/* SPDX-License-Identifier: MIT */
#include "piece_care.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "args.h"
#include "bus_client.h"
#include "dict.h"
#include "terminal.h"

static void print_drying(const struct dict *row)
{
	const char *verdict = dict_text(row, "Verdict");
	double number, left_s, final;

	printf("%s, %lld weighing(s)", dict_text(row, "Name"),
	       (long long)dict_whole(row, "Weighings"));
	if (dict_number(row, "LastGrams", &number))
		printf(", last %.2f g", number);
	if (dict_number(row, "LossPercentPerDay", &number))
		printf(", %.1f %% a day %s", fabs(number), number < 0.0 ? "gained" : "lost");
	printf(": %s", strcmp(verdict, "dry") == 0 ? "dry to constant mass"
	               : strcmp(verdict, "stale") == 0
	                       ? "dry when it was weighed, too long ago: weigh it "
	                         "once more"
	                       : "not known to be dry");
	if (strcmp(verdict, "not-yet") == 0 && dict_number(row, "DryInSeconds", &left_s) &&
	    dict_number(row, "FinalGrams", &final)) {
		if (left_s > 0.0)
			printf("; about %.1f days to go, to %.2f g", left_s / 86400.0, final);
		else
			printf("; by its curve it should be: weigh it a day from now");
	}
	printf("\n");
}

/* One settled net mass off the scale. */
static int weigh(sd_bus *bus, double *ret_g)
{
	sd_bus_message *reply = NULL;
	double doubt_g;
	int status = bus_client_call(bus, STATION_SCALE, "Weigh", &reply, "");

	if (status == EXIT_OK && sd_bus_message_read(reply, "dd", ret_g, &doubt_g) < 0)
		status = EXIT_FAILED;
	if (status == EXIT_OK && !(*ret_g > doubt_g)) {
		complain("piece dry: there is nothing on the pan that this scale can weigh");
		status = EXIT_FAILED;
	}
	sd_bus_message_unref(reply);
	return status;
}

static int tell_drying(sd_bus *bus, const char *name, double mass_g)
{
	struct dict *row = calloc(1, sizeof *row);
	sd_bus_message *reply = NULL;
	int status, r;

	if (!row)
		return EXIT_FAILED;
	status = mass_g > 0.0
	                 ? bus_client_call(bus, STATION_PIECES, "Dry", &reply, "sd", name, mass_g)
	                 : bus_client_call(bus, STATION_PIECES, "Drying", &reply, "s", name);
	if (status == EXIT_OK && (r = dict_read(reply, row)) < 0)
		status = bus_client_failed("the station's answer cannot be read", r);
	else if (status == EXIT_OK)
		print_drying(row);
	sd_bus_message_unref(reply);
	free(row);
	return status;
}

int piece_dry(const struct context *context, int argc, char **argv)
{
	bool on_scale = false;
	const struct arg table[] = {
	        {"--weigh", ARG_FLAG, &on_scale, NULL, "take what lies on the pan", 0, 0}};
	const struct args args = {"piece dry NAME [GRAMS | --weigh]",
	                          "Weighs an inclusion while it dries, day by day, or tells how "
	                          "far it is. NAME is as "
	                          "in\nthe piece's description, or PIECE/NAME where two pieces "
	                          "have one of that name: "
	                          "then\nplans and checks of the piece know.",
	                          table, 1, 2};
	const char *operands[ARGS_OPERANDS_MAX];
	double mass = 0.0;
	sd_bus *bus = NULL;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (!operands[0] || (operands[1] && on_scale) ||
	    (operands[1] && (args_number(operands[1], &mass) < 0 || mass <= 0.0))) {
		complain("piece dry: expected what is drying, and its grams or --weigh");
		return EXIT_USAGE;
	}
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK && on_scale)
		status = weigh(bus, &mass);
	if (status == EXIT_OK)
		status = tell_drying(bus, operands[0], mass);
	sd_bus_flush_close_unref(bus);
	return status;
}

static int attach(sd_bus *bus, const char *piece, const char *path, int64_t layer)
{
	const int fd = open(path, O_RDONLY | O_CLOEXEC);
	sd_bus_message *reply = NULL;
	int64_t id;
	int status;

	if (fd < 0) {
		complain("%s: cannot be read: %s", path, strerror(errno));
		return EXIT_FAILED;
	}
	status = bus_client_call(bus, STATION_PIECES, "AttachPhoto", &reply, "sxh", piece, layer,
	                         fd);
	close(fd);
	if (status == EXIT_OK && sd_bus_message_read(reply, "x", &id) >= 0)
		printf("Photo %lld is attached: the station has its own copy.\n", (long long)id);
	sd_bus_message_unref(reply);
	return status;
}

static int copy(int from, int to)
{
	char chunk[65536];
	ssize_t n;

	while ((n = read(from, chunk, sizeof chunk)) != 0) {
		if (n < 0 && errno != EINTR)
			return -errno;
		for (ssize_t at = 0, some; at < n; at += some)
			if ((some = write(to, chunk + at, (size_t)(n - at))) < 0)
				return -errno;
	}
	return 0;
}

/* Never over a file that is there. */
static int save(sd_bus *bus, int64_t id, const char *path)
{
	sd_bus_message *reply = NULL;
	int from, to, r, status = bus_client_call(bus, STATION_PIECES, "Photo", &reply, "x", id);

	if (status != EXIT_OK)
		return status;
	r = sd_bus_message_read(reply, "h", &from); /* the message's own */
	to = r < 0 ? r : open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644);
	if (r >= 0 && to < 0)
		r = -errno;
	if (r >= 0)
		r = copy(from, to);
	if (to >= 0 && close(to) < 0 && r >= 0)
		r = -errno;
	if (r < 0) {
		complain("%s: the photo cannot be written there: %s", path, strerror(-r));
		status = EXIT_FAILED;
	}
	sd_bus_message_unref(reply);
	return status;
}

int piece_photo(const struct context *context, int argc, char **argv)
{
	int64_t layer = 0, to_save = 0, to_remove = 0;
	const struct arg table[] = {
	        {"--layer", ARG_WHOLE, &layer, "N", "that it was taken for (the next)", 1, 512},
	        {"--save", ARG_WHOLE, &to_save, "ID", "into FILE, which must not be there yet", 1,
	         1e15},
	        {"--remove", ARG_WHOLE, &to_remove, "ID", "the station's copy", 1, 1e15},
	};
	const struct args args = {
	        "piece photo NAME FILE [--layer N] | --save ID FILE | --remove ID",
	        "Attaches a photo, JPEG or PNG, to a layer: the dry arrangement before it is "
	        "lifted "
	        "out.",
	        table, 3, 2};
	const char *operands[ARGS_OPERANDS_MAX];
	sd_bus *bus = NULL;
	int status = args_parse(&args, argc, argv, operands);
	bool fits;

	if (status != ARGS_GO_ON)
		return status;
	fits = to_remove ? !to_save && !operands[0]
	       : to_save ? operands[0] && !operands[1]
	                 : operands[1] != NULL;
	if (!fits) {
		complain("piece photo: expected NAME and FILE, or --save ID and FILE, or --remove "
		         "ID");
		return EXIT_USAGE;
	}
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK)
		status = to_remove ? bus_client_call(bus, STATION_PIECES, "RemovePhoto", NULL, "x",
		                                     to_remove)
		         : to_save ? save(bus, to_save, operands[0])
		                   : attach(bus, operands[0], operands[1], layer);
	sd_bus_flush_close_unref(bus);
	return status;
}

int piece_delete(const struct context *context, int argc, char **argv)
{
	bool yes = false;
	const struct arg table[] = {{"--yes", ARG_FLAG, &yes, NULL, "without asking", 0, 0}};
	const struct args args = {
	        "piece delete NAME [--yes]",
	        "Removes a piece's description, layers and photos for good. The records of its "
	        "batches\nstay. Only members of the group ambo-keeper, and root, may.",
	        table, 1, 1};
	const char *operands[ARGS_OPERANDS_MAX];
	char answer[16] = "";
	sd_bus *bus = NULL;
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (!operands[0]) {
		complain("piece delete: expected the name of a piece");
		return EXIT_USAGE;
	}
	if (!yes) {
		if (!terminal_in() || !terminal_out()) {
			complain("piece delete: nobody can be asked here; say --yes");
			return EXIT_USAGE;
		}
		printf("Delete \"%s\", its layers and photos for good? [y/N] ", operands[0]);
		fflush(stdout);
		if (!fgets(answer, sizeof answer, stdin) || (answer[0] != 'y' && answer[0] != 'Y'))
			return EXIT_FAILED;
	}
	status = bus_client_open(context, &bus);
	if (status == EXIT_OK)
		status = bus_client_call(bus, STATION_PIECES, "Delete", NULL, "s", operands[0]);
	if (status == EXIT_OK)
		printf("%s is deleted; its batches are kept.\n", operands[0]);
	sd_bus_flush_close_unref(bus);
	return status;
}
