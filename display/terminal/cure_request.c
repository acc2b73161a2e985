/* SPDX-License-Identifier: MIT */
#include "cure_request.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "args.h"
#include "daemon/casting/label.h"
#include "daemon/station/config.h"

/* 10 us of computing buys a digit more than anyone can measure. */
#define TOLERANCE_K 1e-5

/* NaN: not given. */
struct options {
	double a1, e1, a2, e2, heat, tg0, tginf, lambda, stoichiometry, gel, groups, hydrogens;
	double density, cp, k;
	double depth_mm, below_mm, below_degc, cup_g, ua;
	double ambient, start, conversion, top, bottom, tolerance, until;
	const char *system, *config_dir, *at_s;
	bool json;
};

static void say(void *context, const char *sentence)
{
	(void)context;
	complain("%s", sentence);
}

/* A system of the configuration, whose label's working life fits one of the families:
 * the one whose own pot life lies nearer. */
static int from_label(const struct resin_system *system, struct casting_resin *ret)
{
	const struct casting_resin *families[] = {&casting_resin_fast, &casting_resin_slow};
	double nearest = INFINITY, density = system_mixed_density_g_per_ml(system);
	char sentence[LABEL_SENTENCE_MAX] = "";
	bool found = false;

	for (size_t i = 0; i < 2; i++) {
		struct label label = {.family = *families[i],
		                      .pot_life_s = system->working_life_s,
		                      .pot_mass_g = system->working_life_mass_g,
		                      .pot_degc = system->working_life_degc};
		struct label_fit fit;
		double far;

		if (label_fit(&label, &fit, sentence) < 0)
			continue;
		far = fabs(log(fit.resin.cure.a2_per_s / families[i]->cure.a2_per_s));
		if (far < nearest) {
			nearest = far;
			*ret = fit.resin;
			found = true;
		}
	}
	if (!found) {
		complain("%s: %s", system->id, sentence);
		return EXIT_FAILED;
	}
	if (density > 0.0)
		ret->material.density_kg_per_m3 = 1000.0 * density;
	return ARGS_GO_ON;
}

static int find_system(const struct options *options, struct casting_resin *ret)
{
	const struct casting_resin *family = casting_resin_find(options->system);
	struct conf_report report = {.say = say};
	struct station_config *config = NULL;
	const struct resin_system *system;
	int status = EXIT_FAILED;

	if (family) {
		*ret = *family;
		return ARGS_GO_ON;
	}
	if (station_config_load(options->config_dir, &report, &config) < 0) {
		if (report.found == 0)
			complain("%s: the configuration cannot be read; expected fast, slow, or a "
			         "system of --config DIR",
			         options->config_dir);
		return EXIT_FAILED;
	}
	system = station_config_system(config, options->system);
	if (system)
		status = from_label(system, ret);
	else
		complain("--system %s: no such system in %s; expected fast, slow, or the name of a "
		         "file in its systems.d",
		         options->system, options->config_dir);
	station_config_free(config);
	return status;
}

struct field {
	const char *option;
	double given;
	double *into;
};

/* What is given goes over what the system says; without a system all must be given. */
static int fill(const struct options *o, bool cup, struct casting_resin *resin)
{
	struct cure *cure = &resin->cure;
	struct material *material = &resin->material;
	double unused;
	const struct field fields[] = {
	        {"--a1-per-s", o->a1, &cure->a1_per_s},
	        {"--e1-j-per-mol", o->e1, &cure->e1_j_per_mol},
	        {"--a2-per-s", o->a2, &cure->a2_per_s},
	        {"--e2-j-per-mol", o->e2, &cure->e2_j_per_mol},
	        {"--heat-j-per-kg", o->heat, &cure->heat_j_per_kg},
	        {"--tg0-degc", o->tg0, &cure->tg0_degc},
	        {"--tginf-degc", o->tginf, &cure->tginf_degc},
	        {"--lambda", o->lambda, &cure->lambda},
	        {"--cp-j-per-kgk", o->cp, &material->cp_j_per_kgk},
	        /* A cup needs neither. */
	        {"--density-kg-per-m3", o->density, &material->density_kg_per_m3},
	        {"--k-w-per-mk", o->k, &material->k_w_per_mk},
	};
	size_t n = sizeof fields / sizeof *fields - (cup && !o->system ? 2 : 0);

	for (size_t i = 0; i < sizeof fields / sizeof *fields; i++) {
		double *into = fields[i].into ? fields[i].into : &unused;

		if (!isnan(fields[i].given)) {
			*into = fields[i].given;
		} else if (!o->system && i < n) {
			complain("cure: %s is missing; give it, or --system NAME, which fills what "
			         "is "
			         "left out",
			         fields[i].option);
			return EXIT_USAGE;
		}
	}
	if (!isnan(o->stoichiometry))
		cure->stoichiometry = o->stoichiometry;
	if (!isnan(o->gel))
		cure->gel_conversion = o->gel;
	else
		cure->gel_conversion =
		        cure_gel_conversion(cure->stoichiometry, o->groups, o->hydrogens);
	return ARGS_GO_ON;
}

/* One or more numbers with commas between. */
static int read_times(const char *text, struct cure_request *ret)
{
	do {
		size_t length = strcspn(text, ",");
		char one[64];
		double value;

		if (length < sizeof one)
			snprintf(one, sizeof one, "%.*s", (int)length, text);
		if (length >= sizeof one || args_number(one, &value) < 0 || value < 0.0 ||
		    value > 1e9) {
			complain("--at-s %s: expected seconds from 0 to 1e9, commas between", text);
			return EXIT_USAGE;
		}
		if (ret->n_times >= CURE_TIMES_MAX) {
			complain("--at-s: more than %u times", CURE_TIMES_MAX);
			return EXIT_USAGE;
		}
		ret->times_s[ret->n_times++] = value;
		text += length + (text[length] == ',');
	} while (*text);
	return ARGS_GO_ON;
}

/* --at-s may be given again and again, which a table of options cannot hold. */
static int all_times(int argc, char **argv, struct cure_request *ret)
{
	for (int i = 1; i < argc; i++) {
		int status = ARGS_GO_ON;

		if (strncmp(argv[i], "--at-s=", 7) == 0)
			status = read_times(argv[i] + 7, ret);
		else if (strcmp(argv[i], "--at-s") == 0 && i + 1 < argc)
			status = read_times(argv[++i], ret);
		if (status != ARGS_GO_ON)
			return status;
	}
	return ARGS_GO_ON;
}

static double or_else(double given, double otherwise)
{
	return isnan(given) ? otherwise : given;
}

static int conditions(const struct options *o, struct cure_request *ret)
{
	struct heat_case *layer = &ret->layer;
	char sentence[256];
	double last = 0.0;
	int r;

	layer->depth_mm = o->depth_mm;
	layer->below_mm = o->below_mm;
	layer->below = layer->resin.material;
	layer->top_w_per_m2k = o->top;
	layer->bottom_w_per_m2k = o->bottom;
	layer->ambient_degc = o->ambient;
	layer->start_degc = or_else(o->start, o->ambient);
	layer->below_degc = or_else(o->below_degc, o->ambient);
	layer->start_conversion = o->conversion;
	ret->in_cup = (struct cup_case){.resin = layer->resin,
	                                .mass_g = o->cup_g,
	                                .ua_w_per_k = or_else(o->ua, 0.0),
	                                .ambient_degc = o->ambient,
	                                .start_degc = layer->start_degc,
	                                .start_conversion = o->conversion,
	                                .tolerance_k = o->tolerance};
	if (ret->cup) {
		struct casting_resin in_cup = layer->resin;

		in_cup.material.density_kg_per_m3 = casting_resin_fast.material.density_kg_per_m3;
		in_cup.material.k_w_per_mk = casting_resin_fast.material.k_w_per_mk;
		r = casting_resin_check(&in_cup, sentence, sizeof sentence);
	} else {
		r = heat_check(layer, sentence, sizeof sentence);
	}
	if (r < 0) {
		complain("cure: %s", sentence);
		return EXIT_USAGE;
	}
	for (size_t i = 0; i < ret->n_times; i++)
		last = fmax(last, ret->times_s[i]);
	if (last > HEAT_UNTIL_S && ret->until_s <= 0.0)
		ret->until_s = last;
	if (ret->until_s > 0.0 && ret->until_s < last) {
		complain("--until-s %.10g ends before --at-s %.10g", ret->until_s, last);
		return EXIT_USAGE;
	}
	return ARGS_GO_ON;
}

#define USAGE                                                                                      \
	"cure [--json] (--depth-mm D | --cup-g G) [--system NAME] [--ambient-degc T] "             \
	"[--at-s S[,S...]] ..."
#define ABOUT                                                                                      \
	"How warm one layer gets, or resin left in its cup, and when it gels: a computation, no\n" \
	"station needed. --system fills what is left out: fast, slow, or one of --config DIR,\n"   \
	"whose label's working life is fitted. Without it every property of the resin must be\n"   \
	"given. The label's own maximum depth and its safety data sheet come first."
#define NUMBER(name, member, meta, help, low, high)                                                \
	{                                                                                          \
		name, ARG_NUMBER, &o.member, meta, help, low, high                                 \
	}

int cure_request_read(int argc, char **argv, struct cure_request *ret)
{
	struct options o = {.a1 = NAN,
	                    .e1 = NAN,
	                    .a2 = NAN,
	                    .e2 = NAN,
	                    .heat = NAN,
	                    .tg0 = NAN,
	                    .tginf = NAN,
	                    .lambda = NAN,
	                    .stoichiometry = NAN,
	                    .gel = NAN,
	                    .groups = 2.0,
	                    .hydrogens = 4.0,
	                    .density = NAN,
	                    .cp = NAN,
	                    .k = NAN,
	                    .depth_mm = NAN,
	                    .below_degc = NAN,
	                    .cup_g = NAN,
	                    .ua = NAN,
	                    .ambient = 25.0,
	                    .start = NAN,
	                    .top = HEAT_TOP_W_PER_M2K,
	                    .bottom = HEAT_BOTTOM_BENCH_W_PER_M2K,
	                    .tolerance = TOLERANCE_K,
	                    .config_dir = "/etc/ambo"};
	const struct arg table[] = {
	        {"--json", ARG_FLAG, &o.json, NULL, "one object, for programs", 0, 0},
	        {"--system", ARG_TEXT, &o.system, "NAME", "fast, slow, or of --config", 0, 0},
	        {"--config", ARG_TEXT, &o.config_dir, "DIR", "with systems.d (/etc/ambo)", 0, 0},
	        NUMBER("--depth-mm", depth_mm, "MM", "of the fresh layer", HEAT_DEPTH_MIN_MM,
	               HEAT_DEPTH_MAX_MM),
	        NUMBER("--below-mm", below_mm, "MM", "cured layers under it (0)", 0,
	               HEAT_DEPTH_MAX_MM),
	        NUMBER("--below-degc", below_degc, "T", "theirs at the pour (the room's)", -60,
	               250),
	        NUMBER("--cup-g", cup_g, "G", "in the cup, instead of a layer", 0.1, 1e6),
	        NUMBER("--ua-w-per-k", ua, "UA", "the cup's loss (0.066 (g/100)^(2/3))", 1e-9, 1e6),
	        NUMBER("--ambient-degc", ambient, "T", "the room (25)", -60, 250),
	        NUMBER("--start-degc", start, "T", "the resin at the pour (the room's)", -60, 250),
	        NUMBER("--start-conversion", conversion, "A", "at the pour (0)", 0, 1),
	        NUMBER("--top-w-per-m2k", top, "H", "heat transfer at the surface (10)", 0, 1e6),
	        NUMBER("--bottom-w-per-m2k", bottom, "U", "through the mould (5)", 0, 1e6),
	        {"--at-s", ARG_TEXT, &o.at_s, "S,S...", "tell the middle at these times, too", 0,
	         0},
	        NUMBER("--until-s", until, "S", "stop there; else when all is known", 1e-3, 1e9),
	        NUMBER("--tolerance-k", tolerance, "K", "error a step (1e-5)", 1e-8, 0.1),
	        NUMBER("--a1-per-s", a1, "A1", "uncatalysed path", 0, 1e30),
	        NUMBER("--e1-j-per-mol", e1, "E1", "its activation energy", 0, 3e5),
	        NUMBER("--a2-per-s", a2, "A2", "autocatalysed path", 0, 1e30),
	        NUMBER("--e2-j-per-mol", e2, "E2", "its activation energy", 0, 3e5),
	        NUMBER("--heat-j-per-kg", heat, "H", "heat of reaction", 0, 2e6),
	        NUMBER("--tg0-degc", tg0, "T", "glass transition, uncured", -150, 150),
	        NUMBER("--tginf-degc", tginf, "T", "glass transition, cured", -149, 400),
	        NUMBER("--lambda", lambda, "L", "DiBenedetto's", 0, 1),
	        NUMBER("--stoichiometry", stoichiometry, "B", "hardener to resin, equivalents (1)",
	               0.05, 20),
	        NUMBER("--epoxide-groups", groups, "N", "a molecule (2)", 1.001, 100),
	        NUMBER("--amine-hydrogens", hydrogens, "N", "a molecule (4)", 1.001, 100),
	        NUMBER("--gel-conversion", gel, "A", "instead of what these three give", 0.001, 10),
	        NUMBER("--density-kg-per-m3", density, "RHO", "of the mix", 100, 10000),
	        NUMBER("--cp-j-per-kgk", cp, "CP", "heat capacity", 100, 10000),
	        NUMBER("--k-w-per-mk", k, "K", "thermal conductivity", 0.001, 500),
	};
	const struct args args = {USAGE, ABOUT, table, sizeof table / sizeof *table, 0};
	const char *operands[ARGS_OPERANDS_MAX];
	int status = args_parse(&args, argc, argv, operands);

	if (status != ARGS_GO_ON)
		return status;
	if (isnan(o.depth_mm) == isnan(o.cup_g)) {
		complain("cure: give either --depth-mm, for a layer, or --cup-g, for the cup");
		return EXIT_USAGE;
	}
	*ret = (struct cure_request){.json = o.json,
	                             .cup = !isnan(o.cup_g),
	                             .tolerance_k = o.tolerance,
	                             .until_s = o.until};
	ret->layer.resin.cure =
	        (struct cure){.stoichiometry = 1.0, .vitrification = CURE_VITRIFICATION};
	if (o.system)
		status = find_system(&o, &ret->layer.resin);
	if (status == ARGS_GO_ON)
		status = fill(&o, ret->cup, &ret->layer.resin);
	if (status == ARGS_GO_ON)
		status = all_times(argc, argv, ret);
	if (status == ARGS_GO_ON)
		status = conditions(&o, ret);
	return status;
}
