/* SPDX-License-Identifier: MIT */
#include "cues.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "score.h"

/* The near zone: physics, defaults. */
#define NEAR_SHARE     0.20
#define NEAR_S         3.0
#define OUTPUT_DELAY_S 0.02

#define STALE_S            2.0 /* no reading for so long while pouring: silent */
#define OWN_STAMP_US       250000
#define EXTRAPOLATE_MOST_S 0.25 /* beyond that the rate is a guess */
#define FLOWS_G_PER_S      0.5
#define MEAN_S             0.2
#define FASTER_G_PER_S     2.0 /* beyond the mean and three tenths of it: no noise */
#define FASTER_SHARE       0.3
#define STATION_WAITS_S    0.6
#define FASTEST_G_PER_S    50.0 /* what changes faster is set down, not poured */
#define FIRST_G            0.3  /* less is a touch, not a pour */
#define DROP_S             0.5  /* the drop is heard out */
#define BAND_S             0.8  /* so are the two notes, where nothing asks for an act */
#define HAZARD_LEAST_LEVEL 0.5

static bool is(const char *text, const char *name)
{
	return text && strcmp(text, name) == 0;
}

const char *sound_name(enum sound sound)
{
	static const char *const name[SOUND_COUNT] = {
	        [SOUND_NONE] = "none",         [SOUND_PULSE] = "pulse", [SOUND_NEAR] = "near",
	        [SOUND_TIP_BACK] = "tip-back", [SOUND_WAIT] = "wait",   [SOUND_IN_BAND] = "in-band",
	        [SOUND_TOO_MUCH] = "too-much", [SOUND_HELD] = "held",   [SOUND_SILENT] = "silent",
	        [SOUND_HAZARD] = "hazard",     [SOUND_TEST] = "test",
	};

	return (unsigned)sound < SOUND_COUNT ? name[sound] : "none";
}

bool cues_live(const char *cue)
{
	return is(cue, "pour") || is(cue, "near") || is(cue, "tip-back");
}

int64_t cues_reading_us(int64_t stamp_us, int64_t came_us)
{
	return stamp_us <= came_us && stamp_us >= came_us - OWN_STAMP_US ? stamp_us : came_us;
}

void cues_init(struct cues *ret)
{
	*ret = (struct cues){.bus_tipped_us = -1, .out = {.left = 1.0}};
}

static enum voice voice_of(const char *component)
{
	return is(component, "a") ? VOICE_A : is(component, "b") ? VOICE_B : VOICE_OTHER;
}

static double age_s(const struct cues_in *in)
{
	return in->t_us > in->reading_us ? (double)(in->t_us - in->reading_us) * 1e-6 : 0.0;
}

static double or_else(double value, double otherwise)
{
	return isfinite(value) ? value : otherwise;
}

/* Of a poured flow; 0 at rest, for a knock and where it is unknown. */
static double flow_g_per_s(const struct cues_in *in)
{
	return is(in->state, "unsettled") && in->rate_g_per_s > 0.0 &&
	                       in->rate_g_per_s <= FASTEST_G_PER_S
	               ? in->rate_g_per_s
	               : 0.0;
}

/* What is left now, not when the newest reading was taken. NAN unknown. */
static double left_g(const struct cues_in *in)
{
	return in->remaining_g - flow_g_per_s(in) * fmin(age_s(in), EXTRAPOLATE_MOST_S);
}

/* Another charge, or at rest: what was decided no longer holds. */
static void forget(struct cues *cues, const struct cues_in *in)
{
	bool other = !is(in->component, cues->component) || !is(in->step, cues->step);

	if (other || !cues_live(in->cue) || is(in->state, "settled")) {
		cues->tipped = false;
		cues->bus_tipped_us = -1;
		cues->zone_g = 0.0;
	}
	if (!other)
		return;
	cues->flows = cues->flowed = false;
	snprintf(cues->component, sizeof cues->component, "%s", in->component ? in->component : "");
	snprintf(cues->step, sizeof cues->step, "%s", in->step ? in->step : "");
}

static void feed_flow(struct cues *cues, const struct cues_in *in)
{
	double flow = flow_g_per_s(in),
	       since_s = (double)(in->reading_us - cues->reading_us) * 1e-6;

	if (in->reading_us == cues->reading_us)
		return;
	cues->reading_us = in->reading_us;
	cues->flowed = cues->flows;
	cues->flows = flow > FLOWS_G_PER_S;
	if (!cues->flowed || !(since_s > 0.0))
		cues->mean_g_per_s = flow;
	else
		cues->mean_g_per_s += (flow - cues->mean_g_per_s) * (1.0 - exp(-since_s / MEAN_S));
}

/* The flow to lead by. The first reading whose noise is upward enough would tip back, and
 * one who slows down too early: so the mean where it is less, unless it has really become
 * faster. */
static double steady_g_per_s(const struct cues *cues, const struct cues_in *in)
{
	double flow = flow_g_per_s(in), mean = cues->mean_g_per_s;

	return flow > mean + fmax(FASTER_G_PER_S, FASTER_SHARE * mean) ? flow : fmin(flow, mean);
}

static double lead_s(const struct cues_in *in)
{
	return or_else(in->reaction_s, CUES_REACTION_S) +
	       or_else(in->output_delay_s, OUTPUT_DELAY_S) + CUES_HALF_TIP_BACK_S;
}

/* The person's own moment. It needs two readings with a flow, so that no touch tips it. */
static bool own_tip_back(const struct cues *cues, const struct cues_in *in)
{
	double flow = steady_g_per_s(cues, in);

	return cues->voice_led && cues->flows && cues->flowed &&
	       in->target_g - in->remaining_g > FIRST_G &&
	       left_g(in) - CUES_DRIP_G <= flow * lead_s(in);
}

/* The station's word. It leads by the usual reaction and by the newest rate; where the
 * person's own moment can be told it is waited for, but not for ever. */
static bool told_long_enough(struct cues *cues, const struct cues_in *in)
{
	if (!is(in->cue, "tip-back"))
		return false;
	if (cues->bus_tipped_us < 0)
		cues->bus_tipped_us = in->t_us;
	return !cues->voice_led || flow_g_per_s(in) <= 0.0 || !isfinite(in->remaining_g) ||
	       age_s(in) > EXTRAPOLATE_MOST_S ||
	       (double)(in->t_us - cues->bus_tipped_us) * 1e-6 >= STATION_WAITS_S;
}

static bool near_end(struct cues *cues, const struct cues_in *in, double *ret_left)
{
	double left = left_g(in), zone_g;

	*ret_left = 1.0;
	zone_g = fmax(NEAR_SHARE * in->target_g, NEAR_S * flow_g_per_s(in));
	if (!isfinite(left) || !(zone_g > 0.0))
		return is(in->cue, "near") || is(in->cue, "tip-back");
	/* Slowing down must not lower the pitch again. */
	cues->zone_g = fmax(cues->zone_g, zone_g);
	*ret_left = fmin(fmax(left / cues->zone_g, 0.0), 1.0);
	return left <= cues->zone_g;
}

static enum sound live_sound(struct cues *cues, const struct cues_in *in, double *ret_left)
{
	const struct cues_out *before = &cues->out;
	bool near = near_end(cues, in, ret_left);

	cues->tipped =
	        cues->tipped || told_long_enough(cues, in) || (near && own_tip_back(cues, in));
	if (!cues->tipped)
		return near ? SOUND_NEAR : SOUND_PULSE;
	*ret_left = 0.0;
	if (flow_g_per_s(in) > FLOWS_G_PER_S ||
	    (before->sound != SOUND_TIP_BACK && before->sound != SOUND_WAIT))
		return SOUND_TIP_BACK;
	if (before->sound == SOUND_TIP_BACK &&
	    (double)(in->t_us - before->since_us) * 1e-6 < DROP_S)
		return SOUND_TIP_BACK;
	return SOUND_WAIT;
}

static enum sound choose(struct cues *cues, const struct cues_in *in, double *ret_left)
{
	bool live = cues_live(in->cue);

	*ret_left = 1.0;
	if (!in->link_up)
		return is(in->step, "charge") || is(in->step, "top-up") ? SOUND_SILENT : SOUND_NONE;
	if (live && age_s(in) > STALE_S)
		return SOUND_SILENT;
	if (live)
		return live_sound(cues, in, ret_left);
	return is(in->cue, "in-band")    ? SOUND_IN_BAND
	       : is(in->cue, "too-much") ? SOUND_TOO_MUCH
	       : is(in->cue, "held")     ? SOUND_HELD
	       : is(in->cue, "silent")   ? SOUND_SILENT
	       : is(in->cue, "hazard")   ? SOUND_HAZARD
	                                 : SOUND_NONE;
}

static double level_of(enum sound sound, const struct cues_in *in)
{
	double level = fmin(fmax(or_else(in->level, 0.0), 0.0), 1.0);

	if (in->quiet)
		return 0.0;
	return sound == SOUND_HAZARD ? fmax(level, HAZARD_LEAST_LEVEL) : level;
}

/* What eye and foot get: the sound's own rhythm. Tip-back stays lit. */
static void light(struct cues_out *out, int64_t t_us, bool quiet)
{
	double since_s = (double)(t_us - out->since_us) * 1e-6;
	struct score score;

	score_of(out->sound, out->voice, out->left, &score);
	out->edge = out->sound == SOUND_TIP_BACK || score_flashes(&score, since_s);
	out->lamp = out->edge;
	out->vibration = quiet && score_sounds(&score, since_s);
}

static bool heard_out(const struct cues_out *before, enum sound now, int64_t t_us)
{
	return before->sound == SOUND_IN_BAND && (now == SOUND_NONE || now == SOUND_PULSE) &&
	       (double)(t_us - before->since_us) * 1e-6 < BAND_S;
}

void cues_next(const struct cues *old, const struct cues_in *in, struct cues *ret)
{
	struct cues_out out = {.voice = voice_of(in->component)};
	struct cues cues = *old;

	forget(&cues, in);
	cues.voice_led = out.voice != VOICE_OTHER;
	feed_flow(&cues, in);
	out.sound = choose(&cues, in, &out.left);
	if (heard_out(&old->out, out.sound, in->t_us))
		out.sound = SOUND_IN_BAND;
	/* The next component may be known a reading before the next cue: not news again. */
	if (out.sound == SOUND_IN_BAND && old->out.sound == SOUND_IN_BAND)
		out.voice = old->out.voice;
	out.since_us = out.sound == old->out.sound && out.voice == old->out.voice
	                       ? old->out.since_us
	                       : in->t_us;
	out.level = level_of(out.sound, in);
	light(&out, in->t_us, in->quiet);
	cues.out = out;
	*ret = cues;
}

void cues_test(int64_t t_us, double level, struct cues_out *ret)
{
	*ret = (struct cues_out){.sound = SOUND_TEST,
	                         .voice = VOICE_A,
	                         .since_us = t_us,
	                         .left = 1.0,
	                         .level = fmin(fmax(or_else(level, 0.0), 0.0), 1.0)};
}
