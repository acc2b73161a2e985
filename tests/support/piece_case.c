/* SPDX-License-Identifier: MIT */
#include "piece_case.h"

#include <math.h>
#include <string.h>

#include "assert_close.h"

void piece_case_system(struct resin_system *ret, struct casting_label *ret_label)
{
	*ret = (struct resin_system){.id = "slow-cast",
	                             .name = "Slow Cast",
	                             .part = {{.label = "resin",
	                                       .parts = 100.0,
	                                       .density_g_per_ml = 1.15,
	                                       .available_g = -1.0},
	                                      {.label = "hardener",
	                                       .parts = 40.0,
	                                       .density_g_per_ml = 0.97,
	                                       .available_g = -1.0}},
	                             .hardener = PART_B,
	                             .basis = BASIS_WEIGHT,
	                             .working_life_s = 16200.0,
	                             .working_life_mass_g = 500.0,
	                             .working_life_degc = 23.0,
	                             .stir_s = 300.0,
	                             .tint_max_pct = 4.0};
	*ret_label = (struct casting_label){.family = "slow",
	                                    .depth_max_mm = 15.0,
	                                    .levelling_min_mm = 2.0,
	                                    .film_gel_s = 36000.0,
	                                    .film_degc = 23.0,
	                                    .recoat_opens_s = 28800.0,
	                                    .recoat_closes_s = 86400.0,
	                                    .recoat_degc = 23.0,
	                                    .cup_loss_g = 5.0};
}

void piece_case_top(struct resin_system *ret, struct casting_label *ret_label)
{
	piece_case_system(ret, ret_label);
	strcpy(ret->id, "top");
	strcpy(ret->name, "Top");
	ret->part[PART_B].parts = 50.0;
	ret->working_life_s = 1500.0;
	ret->working_life_mass_g = 150.0;
	ret->stir_s = 120.0;
	*ret_label = (struct casting_label){.family = "fast",
	                                    .depth_max_mm = 3.0,
	                                    .levelling_min_mm = 1.0,
	                                    .film_gel_s = 9000.0,
	                                    .film_degc = 23.0,
	                                    .cup_loss_g = 5.0};
}

static void make_system(void (*write)(struct resin_system *, struct casting_label *),
                        struct casting_system *ret)
{
	struct resin_system system;
	struct casting_label label;
	char sentence[CASTING_SENTENCE_MAX];
	const char *key;

	write(&system, &label);
	if (casting_system_make(&system, &label, ret, sentence, &key) < 0)
		fail_msg("%s: %s", key, sentence);
}

void piece_case_make(struct piece_case *ret)
{
	memset(ret, 0, sizeof *ret);
	piece_defaults(&ret->piece);
	/* Cool, so that heat sets nothing unless a test wants it to. */
	ret->piece.room_degc = 15.0;
	strcpy(ret->piece.name, "Test piece");
	strcpy(ret->piece.system, "slow-cast");
	ret->piece.cavity.n_sections = 1;
	ret->piece.cavity.sections[0] = (struct cavity_section){
	        .shape = CAVITY_ROUND, .height_mm = 20.0, .width_mm = 200.0, .length_mm = 200.0};
	ret->piece.n_coats = 1;
	strcpy(ret->piece.coats[0].name, "body");
	ret->piece.coats[0].tint_eps_low = ret->piece.coats[0].tint_eps_high = (double)NAN;
	make_system(piece_case_system, &ret->systems[0]);
	make_system(piece_case_top, &ret->systems[1]);
	/* 60 samples: the rules are what is tested, and they do not count samples. */
	ret->request = (struct plan_request){.piece = &ret->piece,
	                                     .systems = ret->systems,
	                                     .n_systems = 2,
	                                     .samples = 60,
	                                     .seed = 1};
}

static int complete(struct piece_case *of)
{
	const char *key;

	return piece_complete(&of->piece, of->sentence, &key);
}

void piece_case_plan(struct piece_case *of)
{
	if (complete(of) < 0 || plan_make(&of->request, &of->plan, of->sentence) < 0)
		fail_msg("refused: %s", of->sentence);
}

void piece_case_refused(struct piece_case *of, const char *says)
{
	if (complete(of) == 0 && plan_make(&of->request, &of->plan, of->sentence) == 0)
		fail_msg("not refused; expected \"%s\"", says);
	if (!strstr(of->sentence, says))
		fail_msg("said \"%s\"; expected \"%s\"", of->sentence, says);
	assert_null(strchr(of->sentence, '\n'));
}
