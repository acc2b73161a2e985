/* SPDX-License-Identifier: MIT */
#include "piece_ask.h"

#include <errno.h>
#include <stdarg.h>
#include <string.h>

#include "ambo.h"
#include "args.h"
#include "daemon/station/piece_file.h"

struct asking {
	FILE *in;
	char *text;
	size_t used;
	bool ended;
};

__attribute__((format(printf, 2, 3))) static void put(struct asking *asking, const char *format,
                                                      ...)
{
	const size_t room = PIECE_TEXT_MAX - asking->used;
	va_list arguments;
	int n;

	va_start(arguments, format);
	n = vsnprintf(asking->text + asking->used, room, format, arguments);
	va_end(arguments);
	asking->used += n < 0 ? 0 : (size_t)n < room ? (size_t)n : room - 1;
}

/* One line without its end; "" for the default. Quotes would end a text in the file. */
static void ask(struct asking *asking, const char *question, char *ret, size_t size)
{
	char line[256] = "";

	ret[0] = '\0';
	if (asking->ended)
		return;
	printf("%s ", question);
	fflush(stdout);
	if (!fgets(line, sizeof line, asking->in)) {
		asking->ended = true;
		return;
	}
	line[strcspn(line, "\r\n")] = '\0';
	for (char *c = line; *c; c++)
		if (*c == '"' || *c == '\\')
			*c = '\'';
	snprintf(ret, size, "%.*s", (int)(size - 1), line);
}

/* Asks again until it is a number of the range, or the input ends. */
static double ask_number(struct asking *asking, const char *question, double low, double high,
                         double otherwise)
{
	char answer[64];
	double value;

	for (;;) {
		ask(asking, question, answer, sizeof answer);
		if (asking->ended || !answer[0])
			return otherwise;
		if (args_number(answer, &value) == 0 && value >= low && value <= high)
			return value;
		printf("Expected a number from %.10g to %.10g, with a decimal point.\n", low, high);
	}
}

static bool ask_yes(struct asking *asking, const char *question)
{
	char answer[16];

	ask(asking, question, answer, sizeof answer);
	return answer[0] == 'y' || answer[0] == 'Y';
}

static void ask_cavity(struct asking *asking)
{
	char shape[32];
	double across, other = 0.0, height;
	bool round, ring;

	ask(asking, "Shape (round, rectangle, ellipse, ring) [round]:", shape, sizeof shape);
	if (!shape[0])
		snprintf(shape, sizeof shape, "round");
	ring = strcmp(shape, "ring") == 0;
	round = ring || strcmp(shape, "round") == 0;
	across = ask_number(asking,
	                    round ? "Diameter at the floor, mm:" : "Width at the floor, mm:", 0.1,
	                    1e4, 0.0);
	if (!round || ring)
		other = ask_number(asking, ring ? "Diameter of the core, mm:" : "Length, mm:", 0.1,
		                   1e4, 0.0);
	height = ask_number(asking, "Height of the cavity, mm:", 0.1, 1e4, 0.0);
	put(asking, "cavity = { sections = ( { shape = \"%s\"; %s = %.10g;", shape,
	    round ? "diameter_mm" : "width_mm", across);
	if (!round || ring)
		put(asking, " %s = %.10g;", ring ? "inner_mm" : "length_mm", other);
	put(asking, " height_mm = %.10g; taper_deg = %.10g; } ); };\n", height,
	    ask_number(asking, "Walls lean outward by, degrees [0]:", -80.0, 80.0, 0.0));
}

static void ask_coats(struct asking *asking)
{
	const double base =
	        ask_number(asking, "Base coat under the inclusions, mm [none]:", 0.1, 1e3, 0.0);
	char system[SYSTEM_ID_MAX], tint[SYSTEM_LABEL_MAX];
	double pct = 0.0, top;

	ask(asking, "Tint of the base or the whole [none]:", tint, sizeof tint);
	if (tint[0])
		pct = ask_number(asking, "Percent of tint:", 0.0, 30.0, 0.0);
	put(asking, "coats = (\n");
	if (base > 0.0)
		put(asking, "  { name = \"base\"; depth_mm = %.10g;", base);
	else
		put(asking, "  { name = \"filling\";");
	if (tint[0])
		put(asking, " tint = \"%s\"; tint_pct = %.10g;", tint, pct);
	put(asking, " }");
	if (base > 0.0)
		put(asking, ",\n  { name = \"filling\"; }");
	top = ask_number(asking, "Top coat over the rim, mm [none]:", 0.05, 50.0, 0.0);
	if (top > 0.0) {
		ask(asking, "The top coat's system:", system, sizeof system);
		put(asking,
		    ",\n  { name = \"top\"; top_coat = true; system = \"%s\"; depth_mm = %.10g; "
		    "run_off_pct = %.10g; }",
		    system, top,
		    ask_number(asking, "Of it runs off the edge, percent [10]:", 0.0, 200.0, 10.0));
	}
	put(asking, "\n);\n");
	if (!ask_yes(asking, "Is something embedded? [y/N]"))
		return;
	ask(asking, "What is it called:", tint, sizeof tint);
	put(asking, "inclusions = ( { name = \"%s\"; rests_on = \"%s\"; height_mm = %.10g;", tint,
	    base > 0.0 ? "base" : "floor", ask_number(asking, "Its height, mm:", 0.01, 1e3, 0.0));
	put(asking, " volume_ml = %.10g; heat_limit_degc = %.10g;",
	    ask_number(asking, "Volume of all of it, ml [0]:", 0.0, 1e6, 0.0),
	    ask_number(asking, "It bears at most, C [50]:", 20.0, 400.0,
	               PIECE_INCLUSION_LIMIT_DEGC));
	put(asking, " dried = %s; } );\n",
	    ask_yes(asking, "Is it dry to constant mass? [y/N]") ? "true" : "false");
}

static void say(void *context, const char *sentence)
{
	(void)context;
	complain("%s", sentence);
}

int piece_ask(FILE *in, char ret_text[PIECE_TEXT_MAX], struct piece *ret_piece)
{
	struct asking asking = {.in = in, .text = ret_text};
	struct conf_report report = {.say = say};
	char answer[SYSTEM_LABEL_MAX], stand[16];

	ret_text[0] = '\0';
	ask(&asking, "Name of the piece:", answer, sizeof answer);
	put(&asking, "name = \"%s\";\n", answer);
	ask(&asking, "Resin system (its id):", answer, sizeof answer);
	put(&asking, "system = \"%s\";\n", answer);
	ask_cavity(&asking);
	ask(&asking, "It stands on (bench, foam, tray) [bench]:", stand, sizeof stand);
	put(&asking, "mould = { stands_on = \"%s\"; };\n", stand[0] ? stand : "bench");
	ask_coats(&asking);
	put(&asking, "room_degc = %.10g;\n",
	    ask_number(&asking, "The room, C [23]:", 0.0, 60.0, 23.0));
	put(&asking, "cup = { limit_g = %.10g; };\n",
	    ask_number(&asking, "A cup holds at most, g [500]:", 5.0, 1e5, 500.0));
	ask(&asking, "You are there from [08:00]:", answer, sizeof answer);
	put(&asking, "hours = { from = \"%s\";", answer[0] ? answer : "08:00");
	ask(&asking, "... to [22:00]:", answer, sizeof answer);
	put(&asking, " to = \"%s\"; };\n", answer[0] ? answer : "22:00");
	if (asking.ended) {
		complain("piece new: the answers ended too early; nothing is kept");
		return EXIT_FAILED;
	}
	return piece_file_text("answers", ret_text, &report, ret_piece) < 0 ? EXIT_FAILED : EXIT_OK;
}
