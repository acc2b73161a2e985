/* SPDX-License-Identifier: MIT */
/* A piece out of its file: what it comes to, and one sentence for what cannot be meant. */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/casting/heat.h"
#include "daemon/station/piece_file.h"

#define HEARD_MAX 16u

struct heard {
	size_t n;
	char sentence[HEARD_MAX][512];
};

static void hear(void *context, const char *sentence)
{
	struct heard *heard = context;

	assert_true(heard->n < HEARD_MAX);
	snprintf(heard->sentence[heard->n++], sizeof heard->sentence[0], "%s", sentence);
}

static int read(const char *text, struct heard *heard, struct piece *piece)
{
	struct conf_report report = {.say = hear, .context = heard};

	heard->n = 0;
	return piece_file_text("p.conf", text, &report, piece);
}

static void reads(const char *text, struct piece *piece)
{
	struct heard heard;

	if (read(text, &heard, piece) < 0)
		fail_msg("said: %s", heard.sentence[0]);
}

/* The only sentence begins so, and says this; nothing is left half-read. */
static void refuses(const char *text, const char *begins, const char *says)
{
	struct heard heard;
	struct piece piece, before;

	memset(&piece, 0x5a, sizeof piece);
	before = piece;
	assert_int_equal(read(text, &heard, &piece), -EINVAL);
	for (size_t i = 0; i < heard.n; i++)
		if (heard.n > 1 || strncmp(heard.sentence[i], begins, strlen(begins)) != 0 ||
		    !strstr(heard.sentence[i], says))
			print_error("said: %s\n", heard.sentence[i]);
	assert_int_equal(heard.n, 1);
	assert_memory_equal(heard.sentence[0], begins, strlen(begins));
	assert_non_null(strstr(heard.sentence[0], says));
	assert_memory_equal(&piece, &before, sizeof piece);
}

#define HEAD "name = \"Clock\"; system = \"slow-cast\";\n"
#define CAVITY                                                                                     \
	"cavity = { sections = ( { shape = \"round\"; diameter_mm = 200; height_mm = 20; } ); "    \
	"};\n"
#define COAT "coats = ( { name = \"body\"; } );\n"

static void a_plain_piece_has_the_defaults(void **state)
{
	struct piece piece;

	(void)state;
	reads(HEAD CAVITY COAT, &piece);
	assert_string_equal(piece.name, "Clock");
	assert_string_equal(piece.coats[0].system, "slow-cast");
	assert_close(piece.coats[0].depth_mm, 20.0, 1e-12);
	assert_close(piece.bottom_w_per_m2k, HEAT_BOTTOM_BENCH_W_PER_M2K, 1e-12);
	assert_true(isnan(piece.resin_degc) && isnan(piece.cup_loss_g));
	assert_true(isinf(piece.cup_limit_g) && isinf(piece.mould_limit_degc));
	assert_int_equal(piece.hours.days, PIECE_EVERY_DAY);
}

static void everything_a_piece_may_say_is_read(void **state)
{
	struct piece piece;

	(void)state;
	reads(HEAD
	      "cavity = { sections = ( { shape = \"ring\"; diameter_mm = 200; inner_mm = 50; "
	      "height_mm = 8; taper_deg = 3; },\n"
	      "  { shape = \"polygon\"; outline_mm = (0, 0, 300, 0, 300.5, 200); height_mm = 12; } "
	      "); };\n"
	      "mould = { stands_on = \"tray\"; heat_limit_degc = 90; material = \"silicone\"; };\n"
	      "coats = ( { name = \"base\"; depth_mm = 5; tint = \"ink\"; tint_pct = 1;\n"
	      "            chip = { dose_pct = 0.5; thickness_mm = 4; transmitted = 0.1; }; },\n"
	      "          { name = \"body\"; },\n"
	      "          { name = \"gloss\"; top_coat = true; system = \"top\"; depth_mm = 1; "
	      "run_off_pct = 12; edge_tape = true; } );\n"
	      "inclusions = ( { name = \"a\"; rests_on = \"base\"; height_mm = 2; mass_g = 10; "
	      "density_g_per_ml = 2.5; count = 3; },\n"
	      "               { name = \"b\"; rests_on = \"floor\"; height_mm = 3; dunked_g = "
	      "9.9821; water_degc = 20; dried = true; } );\n"
	      "room_degc = 21.5; resin_degc = 25; humidity_pct = 50;\n"
	      "cup = { limit_g = 300; loss_g = 4; batches_max = 3; pour_g_per_s = 8; };\n"
	      "hours = { from = \"07:30\"; to = \"24:00\"; days = \"mon wed sun\"; start = \"wed "
	      "10:15\"; };\n",
	      &piece);
	assert_int_equal(piece.cavity.n_sections, 2);
	assert_int_equal(piece.cavity.sections[1].n_vertices, 3);
	assert_close(piece.cavity.sections[1].vertices[2].x_mm, 300.5, 1e-12);
	assert_close(piece.bottom_w_per_m2k, HEAT_BOTTOM_TRAY_W_PER_M2K, 1e-12);
	assert_close(piece.coats[1].depth_mm, 15.0, 1e-12);
	/* Beer-Lambert: -log10(0.1) / (0.5 % 4 mm). */
	assert_close(piece.coats[0].tint_eps_low, 0.5, 1e-12);
	assert_close(piece.inclusions[0].volume_ml, 4.0, 1e-12);
	assert_close(piece.inclusions[0].rests_on_mm, 5.0, 1e-12);
	/* Water at 20 C: 0.99821 g/ml (handbook). */
	assert_close(piece.inclusions[1].volume_ml, 10.0, 1e-5);
	assert_int_equal(piece.hours.opens_min, 450);
	assert_int_equal(piece.hours.closes_min, 1440);
	assert_int_equal(piece.hours.days, 1u | 1u << 2 | 1u << 6);
	assert_int_equal(piece.hours.start_day, 2);
	assert_int_equal(piece.hours.start_min, 615);
}

/* 100 mm square filled with water at 20 C: 10 mm take 99.821 g. */
static void a_cavity_measured_with_water_has_that_volume(void **state)
{
	struct piece piece;

	(void)state;
	reads(HEAD
	      "cavity = { water_mm_g = (0, 0, 10, 99.821, 20, 199.642); water_degc = 20; };\n" COAT,
	      &piece);
	assert_close(cavity_volume_ml(&piece.cavity, 0.0, 20.0), 200.0, 1e-5);
}

static void what_does_not_fit_is_refused_with_its_numbers(void **state)
{
	(void)state;
	refuses(HEAD CAVITY "coats = ( { name = \"a\"; depth_mm = 25; } );\n",
	        "p.conf:3: coats:", "25 mm deep together and the cavity 20 mm");
	refuses(HEAD CAVITY "coats = ( { name = \"a\"; depth_mm = 20; }, { name = \"b\"; } );\n",
	        "p.conf:3: coats:", "20 mm deep");
	refuses(HEAD CAVITY COAT "inclusions = ( { name = \"x\"; rests_on = \"floor\"; height_mm = "
	                         "23.5; volume_ml = 1; } );\n",
	        "p.conf:4: inclusions:", "3.5 mm would stand out");
	refuses(HEAD CAVITY COAT "inclusions = ( { name = \"x\"; rests_on = \"floor\"; height_mm = "
	                         "10; volume_ml = 400; } );\n",
	        "p.conf:4: inclusions:", "takes up 400 ml and there are 314.2 ml");
	refuses(HEAD CAVITY COAT
	        "inclusions = ( { name = \"x\"; rests_on = \"floor\"; height_mm = 10; volume_ml = "
	        "200; },\n"
	        " { name = \"y\"; rests_on = \"floor\"; height_mm = 10; volume_ml = 150; } );\n",
	        "p.conf:4: inclusions:", "350 ml together");
	refuses(HEAD CAVITY COAT "inclusions = ( { name = \"x\"; rests_on = \"moon\"; height_mm = "
	                         "1; volume_ml = 1; } );\n",
	        "p.conf:4: inclusions:", "\"moon\", which is no coat");
	refuses(HEAD CAVITY COAT "inclusions = ( { name = \"x\"; rests_on = \"body\"; height_mm = "
	                         "1; volume_ml = 1; } );\n",
	        "p.conf:4: inclusions:", "nothing is poured over it");
}

/* Ten times too small in each direction: the misfit is said, and what it most likely is. */
static void what_does_not_fit_into_a_thimble_raises_the_question_of_units(void **state)
{
	(void)state;
	refuses(HEAD "cavity = { sections = ( { shape = \"round\"; diameter_mm = 20; height_mm = "
	             "1.8; } ); };\n" COAT
	             "inclusions = ( { name = \"x\"; rests_on = \"floor\"; height_mm = 0.3; "
	             "volume_ml = 0.1; } );\n",
	        "p.conf:4: inclusions:",
	        "takes up 0.1 ml and there are 0.09425 ml from 0.0 to 0.3 mm; expected less of it, "
	        "or millilitres and grams checked (this cavity holds only 0.565 ml: were its sizes "
	        "centimetres?");
}

static void shapes_that_cannot_be_are_refused(void **state)
{
	(void)state;
	refuses(HEAD "cavity = { sections = ( { shape = \"round\"; diameter_mm = 20; height_mm = "
	             "50; taper_deg = -20; } ); };\n" COAT,
	        "p.conf:2: cavity:", "");
	refuses(HEAD "cavity = { sections = ( { shape = \"polygon\"; height_mm = 5; outline_mm = "
	             "[0,0, 100,100, 100,0, 0,100]; } ); };\n" COAT,
	        "p.conf:2: cavity:", "cross");
	refuses(HEAD "cavity = { sections = ( { shape = \"ring\"; diameter_mm = 20; inner_mm = 30; "
	             "height_mm = 5; } ); };\n" COAT,
	        "p.conf:2: cavity:", "");
	refuses(HEAD "cavity = { sections = ( { shape = \"rectangle\"; width_mm = 20; height_mm = "
	             "5; } ); };\n" COAT,
	        "p.conf:2: cavity.sections.[0]:", "width_mm and length_mm");
	refuses(HEAD "cavity = { };\n" COAT, "p.conf:2: cavity:", "sections");
}

#define TINTED(pct, chips)                                                                         \
	"coats = ( { name = \"body\"; tint = \"ink\"; tint_pct = " pct "; " chips " } );\n"
#define CHIP(key, mm, share)                                                                       \
	key " = { dose_pct = 0.5; thickness_mm = " mm "; transmitted = " share "; }; "

static void test_chips_that_tell_nothing_are_refused(void **state)
{
	struct piece piece;

	(void)state;
	refuses(HEAD CAVITY TINTED("1", CHIP("second_chip", "4", "0.4")),
	        "p.conf:3: coats.[0].second_chip:", "without a chip");
	refuses(HEAD CAVITY TINTED("0", CHIP("chip", "4", "0.4")),
	        "p.conf:3: coats.[0].chip:", "tint_pct is 0");
	refuses(HEAD CAVITY TINTED("1", CHIP("chip", "4", "0.4") CHIP("second_chip", "4", "0.3")),
	        "p.conf:3: coats.[0].second_chip:", "both chips are 4 mm thick");
	refuses(HEAD CAVITY TINTED("1", CHIP("chip", "4", "0.3") CHIP("second_chip", "8", "0.4")),
	        "p.conf:3: coats.[0].second_chip:",
	        "lets more of it through (0.4 of it, the other 0.3); expected less");
	reads(HEAD CAVITY TINTED("1", CHIP("chip", "8", "0.3") CHIP("second_chip", "4", "0.4")),
	      &piece);
	assert_close(piece.coats[0].tint_eps_low, -log10(0.3) / 4.0, 1e-12);
	assert_close(piece.coats[0].tint_eps_high, -log10(0.4) / 2.0, 1e-12);
}

static void hours_that_are_none_are_refused(void **state)
{
	(void)state;
	refuses(HEAD CAVITY COAT "hours = { from = \"20:00\"; to = \"08:00\"; };\n",
	        "p.conf:4: hours:", "from 20:00 to 08:00");
	refuses(HEAD CAVITY COAT "hours = { from = \"8 h\"; };\n",
	        "p.conf:4: hours.from:", "no time of day");
	refuses(HEAD CAVITY COAT "hours = { days = \"mon funday\"; };\n",
	        "p.conf:4: hours.days:", "cannot be read");
	refuses(HEAD CAVITY COAT "hours = { start = \"noon\"; };\n", "p.conf:4: hours.start:", "");
}

static void a_volume_told_twice_or_not_at_all_is_refused(void **state)
{
	(void)state;
	refuses(HEAD CAVITY COAT
	        "inclusions = ( { name = \"x\"; rests_on = \"floor\"; height_mm = 1; } );\n",
	        "p.conf:4: inclusions.[0]:", "has no volume");
	refuses(HEAD CAVITY COAT "inclusions = ( { name = \"x\"; rests_on = \"floor\"; height_mm = "
	                         "1; volume_ml = 1; dunked_g = 1; } );\n",
	        "p.conf:4: inclusions.[0]:", "more than one volume");
}

static void lists_know_their_keys_sizes_and_types(void **state)
{
	(void)state;
	refuses(HEAD CAVITY "coats = ( { name = \"a\"; dept_mm = 3; } );\n",
	        "p.conf:3: coats.[0].dept_mm:", "\"depth_mm\", perhaps");
	refuses(HEAD CAVITY "coats = { name = \"a\"; };\n", "p.conf:3: coats:", "it is a group");
	refuses(HEAD CAVITY "coats = ( 3 );\n", "p.conf:3: coats.[0]:", "a whole number");
	refuses(HEAD CAVITY
	        "coats = ( "
	        "{name=\"a\";depth_mm=1;},{name=\"b\";depth_mm=1;},{name=\"c\";depth_mm=1;},"
	        "{name=\"d\";depth_mm=1;},{name=\"e\";depth_mm=1;},{name=\"f\";depth_mm=1;},{name="
	        "\"g\";depth_mm=1;},"
	        "{name=\"h\";depth_mm=1;},{name=\"i\";depth_mm=1;} );\n",
	        "p.conf:3: coats:", "9 elements; expected a list of at most 8");
	refuses(HEAD "cavity = { water_mm_g = [0.0, 0.0, 10.0]; };\n" COAT,
	        "p.conf:2: cavity.water_mm_g:", "pairs");
	refuses(HEAD "cavity = { water_mm_g = [0.0, -1.0]; };\n" COAT,
	        "p.conf:2: cavity.water_mm_g:", "number 2 cannot be used");
}

static void every_mistake_of_a_file_is_said_at_once(void **state)
{
	struct heard heard;
	struct piece piece;

	(void)state;
	assert_int_equal(read(HEAD
	                      "cavity = { };\n"
	                      "coats = ( { name = \"a\"; tint_pct = 50; } );\nroom_degc = 99;\n",
	                      &heard, &piece),
	                 -EINVAL);
	assert_int_equal(heard.n, 2); /* of range; what needs the rest is not asked about */
	assert_non_null(strstr(heard.sentence[0], "tint_pct"));
	assert_non_null(strstr(heard.sentence[1], "room_degc"));
}

static void centimetres_given_as_millimetres_are_asked_about(void **state)
{
	struct piece piece;
	char question[PIECE_SENTENCE_MAX];

	(void)state;
	reads(HEAD "cavity = { sections = ( { shape = \"round\"; diameter_mm = 20.0; height_mm = "
	           "1.8; } ); };\n" COAT,
	      &piece);
	assert_int_equal(piece_question(&piece, question), 1);
	assert_non_null(strstr(question, "centimetres"));
	reads(HEAD CAVITY "coats = ( { name = \"a\"; depth_mm = 0.4; }, { name = \"b\"; } );\n",
	      &piece);
	assert_int_equal(piece_question(&piece, question), 1);
	assert_non_null(strstr(question, "4.0 mm"));
	reads(HEAD CAVITY COAT, &piece);
	assert_int_equal(piece_question(&piece, question), 0);
}

static void the_demo_piece_reads(void **state)
{
	struct conf_report report = {.say = NULL};
	struct piece piece;

	(void)state;
	assert_int_equal(
	        piece_file_read(AMBO_TOP "/config/demo/pieces/fern-clock.conf", &report, &piece),
	        0);
	assert_int_equal(piece.n_inclusions, 2);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_plain_piece_has_the_defaults),
	        cmocka_unit_test(everything_a_piece_may_say_is_read),
	        cmocka_unit_test(a_cavity_measured_with_water_has_that_volume),
	        cmocka_unit_test(what_does_not_fit_is_refused_with_its_numbers),
	        cmocka_unit_test(what_does_not_fit_into_a_thimble_raises_the_question_of_units),
	        cmocka_unit_test(shapes_that_cannot_be_are_refused),
	        cmocka_unit_test(test_chips_that_tell_nothing_are_refused),
	        cmocka_unit_test(hours_that_are_none_are_refused),
	        cmocka_unit_test(a_volume_told_twice_or_not_at_all_is_refused),
	        cmocka_unit_test(lists_know_their_keys_sizes_and_types),
	        cmocka_unit_test(every_mistake_of_a_file_is_said_at_once),
	        cmocka_unit_test(centimetres_given_as_millimetres_are_asked_about),
	        cmocka_unit_test(the_demo_piece_reads),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
