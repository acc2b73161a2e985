/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_GUIDE_SCRIPT_H
#define AMBO_TESTS_SUPPORT_GUIDE_SCRIPT_H

#include "assert_close.h"
#include "daemon/mixing/guide.h"

/* A scripted pan for the guide: what stands on it is told in words, and out come the
 * readings a station would make of it, ten a second, each followed by a tick. No
 * noise: the tests are of decisions, not of filters. After every event what must
 * always hold of a guide is asserted. */
struct script {
	struct guide guide;
	int64_t t_us;
	double gross_g; /* truth */
	double u_g, sd_g;
	int64_t moved_us; /* when it last moved */
	bool fault, silent, overload;
	uint32_t commits; /* how often guide_differs() fired */
	/* Called after each reading with its tick, and after a press; not from within. */
	void (*after)(struct script *script);
	bool inside_after;
	uint32_t cut_at; /* the hook's own */
};

/* 330 g of 100 : 45 at 2 %, a scale of 5 kg, u = 0.05 g a reading. */
struct recipe_request script_request(void);
struct recipe_scale script_scale(void);
struct resin_system script_system(void);

void script_begin(struct script *script);
void script_begin_as(struct script *script, const struct resin_system *system,
                     const struct recipe_request *request, const struct recipe_scale *scale);
void script_event(struct script *script, enum guide_event_kind kind, const char *text,
                  double seconds);
void script_press(struct script *script);
void script_rest(struct script *script, double seconds); /* nothing moves */
void script_pour(struct script *script, double mass_g, double rate_g_per_s);
void script_put(struct script *script, double mass_g); /* a thing, on or (negative) off */
void script_wobble(struct script *script, double seconds, double amplitude_g);

/* The usual beginnings. */
void script_to_cup(struct script *script); /* press, pan read: the cup is awaited */
void script_to_charge(struct script *script, double cup_g);
/* Pours mass_g at 12 g/s and rests 5 s. */
void script_fill(struct script *script, double mass_g);

struct guide_view script_look(const struct script *script);
enum message_id script_message(const struct script *script);

#endif
