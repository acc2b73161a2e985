/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_MODEL_H
#define AMBO_TOUCH_MODEL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What the station says, as the display knows it. Filled under the bus's own names,
 * from the bus or from a file: the same table takes both. Numbers that are unknown
 * are NAN, texts "". */

#define MODEL_SYSTEMS_MAX 24u
#define MODEL_RECORDS_MAX 60u
#define MODEL_OPEN_MAX    8u
#define MODEL_PIECES_MAX  24u
#define MODEL_LAYERS_MAX  32u
#define MODEL_CLOCKS_MAX  96u
#define MODEL_CHECKS_MAX  28u
#define MODEL_DRYING_MAX  32u
#define MODEL_FINDINGS    4u
#define MODEL_CURVE_MAX   1500u /* points, thinned to this */

enum model_link {
	LINK_NONE, /* never seen a station */
	LINK_UP,
	LINK_LOST, /* gone: what is shown is old */
};

/* A calibration under way. */
struct model_run {
	char step[16], message[24], sentence[512], note[2][512];
	double value, other, count, of, taken, loads, settled, warm;
	double residual_g, hysteresis_g, repeatability_g, off_centre_g[4], limit_g;
};

struct model_scale {
	char driver[24], state[16], condition[224];
	double max_g, interval_g;
	double gross_g, net_g, rate_g_per_s, doubt_g;
	double air_degc, air_pct; /* of the room, NAN unless measured just now */
	double calibrated;  /* 0, 1; NAN: the station does not say */
	double approved_s;  /* left of a keeper's word; NAN none */
	double calibrating; /* 0, 1 */
	struct model_run run;
	double synchronised; /* the station's clock: 0, 1 */
	double smallest_g;   /* batch that this scale can judge */
	char finding[MODEL_FINDINGS][24], check_verdict[16];
	double check_error_g, check_limit_g, check_realtime_us;
};

struct model_reading { /* of the newest Reading signal */
	double t_us, net_g, gross_g, rate_g_per_s, doubt_g, predicted_g, remaining_g;
	char state[16], cue[16];
};

struct model_batch {
	double id; /* whole; 0 none */
	char system[32], step[16], component[16], component_label[64];
	char message[32], headline[64], sentence[512], caution[512];
	char verdict[16], cue[16], press[16];
	double provisional; /* 0, 1 */
	/* Arguments of the message. */
	double mass_g, other_mass_g, pct, other_pct, seconds, other_seconds;
	char argument_component[16], argument_other[16], argument_text[48];
	/* Quantities. */
	double target_g, remaining_g, low_g, high_g, dispensed_g, predicted_g;
	double deviation_pct, doubt_pct, life_left_s, stir_left_s, before_a_g, before_b_g;
};

struct model_system {
	char id[32], name[48], read_back[512], label_a[48], label_b[48], hardener[4], basis[8];
	char notes[512];
	double ratio, tolerance_pct, density_g_per_ml, working_life_s, parts_a, parts_b;
	double demo; /* 1: invented */
};

struct model_open {
	double id, life_left_s;
	char system[32], step[16];
};

struct model_record {
	double id, begun_realtime_us, ended_realtime_us, synchronised;
	char system[32], system_name[48], piece[48], layer[48], step[16], verdict[16];
	double resin_g, hardener_g, tint_g, total_g, target_total_g, target_ratio, tolerance_pct;
	double ratio, deviation_pct, doubt_pct;
};

struct model_shop {
	double room_degc;
};

struct model_piece {
	char name[48], system[32];
	double finished, layers, filled_mm, left_mm, left_ml;
};

/* Of the piece that is open on the screen: poured, or as planned. */
struct model_layer {
	char coat[48], tint[48], system[32];
	double layer, top_coat, sand_first, from_mm, depth_mm, bottom_mm, top_mm;
	double total_g, tint_g, batches, peak_degc, session_realtime_us;
	double pours; /* of one that is poured */
};

struct model_clock {
	char piece[48], event[16];
	double layer, age_known, at_realtime_us;
};

/* A step of the check list of the piece that is open on the screen. */
struct model_check {
	char check[24], when[40], sentence[512];
	double layer, due, done; /* done: NAN where the station leaves it to the person */
};

/* What the piece that is open embeds, weighed while it dries. */
struct model_drying {
	char name[128]; /* under which it is weighed: PIECE/NAME or NAME */
	char verdict[16];
	double weighings, last_g, since_s, dry_in_s;
};

struct model {
	enum model_link link;
	struct model_scale scale;
	struct model_reading reading;
	struct model_batch batch;
	struct model_shop shop;
	double now_realtime_us; /* this machine's clock, NAN unknown */
	uint32_t n_systems, n_records, n_open, n_curve;
	uint32_t n_pieces, n_layers, n_plan, n_clocks, n_checks, n_drying;
	struct model_piece pieces[MODEL_PIECES_MAX];
	struct model_layer layers[MODEL_LAYERS_MAX], plan[MODEL_LAYERS_MAX];
	struct model_clock clocks[MODEL_CLOCKS_MAX];
	struct model_check checks[MODEL_CHECKS_MAX];
	struct model_drying drying[MODEL_DRYING_MAX];
	char plan_note[512]; /* the plan's first warning, or why there is none */
	struct model_system systems[MODEL_SYSTEMS_MAX];
	struct model_record records[MODEL_RECORDS_MAX];
	struct model_open open[MODEL_OPEN_MAX];
	struct model_record record; /* the one that is open on the screen */
	double curve_s[MODEL_CURVE_MAX], curve_g[MODEL_CURVE_MAX];
};

void model_init(struct model *model);

/* Where a value belongs. */
enum model_part {
	MODEL_SCALE,
	MODEL_READING,
	MODEL_BATCH,
	MODEL_OPEN,    /* row: index */
	MODEL_SYSTEM,  /* row: index */
	MODEL_RECORDS, /* row: index */
	MODEL_RECORD,
	MODEL_SHOP,
	MODEL_PIECES, /* row: index, and the next five */
	MODEL_LAYERS,
	MODEL_PLAN,
	MODEL_CLOCKS,
	MODEL_CHECKS,
	MODEL_DRYING,
};

/* A property or member by its name on the bus, nested ones with a dot
 * ("Quantities.TargetGrams"). What is not known here is passed over; -ENOSPC past
 * the last row. */
int model_put_number(struct model *model, enum model_part part, uint32_t row, const char *name,
                     double value);
int model_put_text(struct model *model, enum model_part part, uint32_t row, const char *name,
                   const char *value);
/* What a dictionary no longer holds is unknown again: "Quantities", "Arguments"; ""
 * for the whole of a row or part. */
void model_forget(struct model *model, enum model_part part, uint32_t row, const char *group);

void model_empty(struct model *model, enum model_part part); /* of a list: no rows */

/* One point of a curve; from the first on the rest is thinned as it grows. */
void model_curve_clear(struct model *model);
void model_curve_add(struct model *model, double t_s, double gross_g);

const struct model_system *model_system_find(const struct model *model, const char *id);

/* Masses may be believed. */
bool model_calibrated(const struct model *model);
/* Whether that is among what is wrong with the scale ("check-overdue"). */
bool model_finding(const struct model *model, const char *id);

/* Grams still to pour, from the newest of reading and property; NAN unknown. */
double model_remaining_g(const struct model *model);
const char *model_cue(const struct model *model);

#endif
