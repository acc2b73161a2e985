/* SPDX-License-Identifier: MIT */
#ifndef AMBO_MIXING_GUIDE_INSIDE_H
#define AMBO_MIXING_GUIDE_INSIDE_H

#include "guide.h"
#include "ledger.h"

/* What the guide's own files share; nobody else includes this. Every function
 * works on a guide whose t_us, and for readings reading, are already the new ones. */

#define US_PER_S 1000000LL

/* Design choices, all of them, unless a line says otherwise. */
#define REST_US          (3 * US_PER_S)  /* rate zero this long ends a charge */
#define STILL_FLOWING_US (3 * US_PER_S)  /* flow this soon after a change: was it still A? */
#define CUP_WATCH_US     (5 * US_PER_S)  /* the cup's slope is taken over this */
#define CUP_LEAST_G      2.0             /* less than this on the pan is no cup */
#define HAND_US          (20 * US_PER_S) /* unsettled without a flow */
#define ABANDONED_US     (3600 * US_PER_S)
#define NOTE_US          (6 * US_PER_S)
#define SAME_PRESS_US    US_PER_S /* off the pan: so soon it answers the question before */
#define FAULT_US         (US_PER_S / 4) /* a fault shorter than this is passed over */
#define SILENT_US        (2 * US_PER_S) /* no reading at all */
#define FIRST_PART_LOW   0.95           /* the first part's band begins here */
#define POWDER_BAND      0.10
#define STIR_LIFE_SHARE  0.25 /* practice */

/* guide.c: the one place that changes the step, and notes it. */
void guide_go(struct guide *guide, enum guide_step step, enum guide_phase phase);
void guide_note(struct guide *guide, struct message note);

/* guide_pour.c: is it a pour, a thing, a loss? */
enum pan_change {
	CHANGE_UNTOLD, /* not settled: nothing can be said */
	CHANGE_NONE,
	CHANGE_POUR, /* a gain that the flow explains */
	CHANGE_GAIN, /* a gain without a pour's slope */
	CHANGE_LOSS,
};
void pour_feed(struct guide *guide, const struct reading *before);
enum pan_change pour_change(const struct guide *guide);
void pour_accept(struct guide *guide);      /* the settled value now is the explained one */
bool pour_swung(const struct guide *guide); /* past both ends: a knock */
bool pour_flowing(const struct guide *guide);
bool pour_settled(const struct guide *guide);
bool pour_stopped(const struct guide *guide);       /* still, but for what drips */
bool pour_rested(const struct guide *guide);        /* settled for REST_US */
bool pour_lifted(const struct guide *guide);        /* the pan reads as good as empty */
bool pour_hand(const struct guide *guide);          /* HAND_US unsettled without progress */
double pour_predicted_g(const struct guide *guide); /* gross, if one tips back now */
double pour_doubt_g(const struct guide *guide);     /* expanded, of a difference of two readings */
double pour_floor_g(const struct guide *guide);     /* what counts as the first gram, or as lost */

/* guide_target.c */
struct charge_target {
	bool judged;                    /* the other reactive part is in: the ratio decides */
	double target_g, low_g, high_g; /* of the present charge */
	double dispensed_g;             /* live */
};
void charge_target(const struct guide *guide, struct charge_target *ret);
double charge_room_g(const struct guide *guide); /* more that cup and Max can hold */
bool charge_is_reactive(enum component component);
bool charge_is_powder(const struct guide *guide); /* sprinkled: steps without a slope */
enum component charge_other(enum component component);
enum component charge_of_part(enum part part);

/* guide_charge.c; guide_relabel.c has charge_other_part(), guide_start.c what comes
 * after it here */
void charge_enter(struct guide *guide, uint32_t charge, enum identity identity);
void charge_reading(struct guide *guide);
void charge_press(struct guide *guide);
void charge_other_part(struct guide *guide);
void charge_scan(struct guide *guide, const char *code);
void charge_next(struct guide *guide, enum identity identity);
void charge_first_gram(struct guide *guide);
const struct recipe_charge *charge_following(const struct guide *guide); /* NULL: none */
void charge_refresh_start(struct guide *guide);
/* The tail that came after the change: of the charge before (true), or of this one. */
void charge_tail(struct guide *guide, bool was_before);
/* Mass went missing and that was accepted. */
void charge_lose(struct guide *guide);

/* guide_judge.c: what the ratio says at rest, and the way on from there. */
void judge_rested(struct guide *guide);
/* A recorded mass has moved: the verdict follows at once, withdrawn if need be. */
void judge_again(struct guide *guide);

/* guide_cup.c, guide_pan.c, guide_hold.c, guide_bottle.c */
void cup_reading(struct guide *guide);
void pan_lifted(struct guide *guide, bool lifted); /* to stir */
void stir_reading(struct guide *guide);
void stir_press(struct guide *guide);
void pour_out_reading(struct guide *guide);
void pour_out_press(struct guide *guide);
void hold_for(struct guide *guide, struct message reason);
/* By a person or the store: what it was held for already comes back afterwards. */
void hold_over(struct guide *guide, struct message reason);
void hold_leave(struct guide *guide);
void hold_reading(struct guide *guide);
void hold_press(struct guide *guide);
void hold_other_part(struct guide *guide);
enum press_meaning hold_press_meaning(const struct guide *guide);
bool hold_fault(struct guide *guide); /* is the newest reading one? then it is held */
void hold_thing(struct guide *guide); /* a gain without a slope: bottle, or not resin */
bool bottle_recognise(struct guide *guide, double mass_g, struct message *ret);
void bottle_gone(struct guide *guide, const struct message *was); /* off the pan again */
void bottle_ready(struct guide *guide);  /* a reading before the cup */
void bottle_poured(struct guide *guide); /* a charge ended: its bottle is lighter */

/* guide_say.c */
void guide_say(struct guide *guide);
bool life_over(const struct guide *guide);
enum press_meaning guide_press_meaning(const struct guide *guide);

static inline struct message say(enum message_id id)
{
	return (struct message){.id = id};
}

static inline struct message say_mass(enum message_id id, double mass_g)
{
	return (struct message){.id = id, .has = MESSAGE_HAS_MASS_G, .mass_g = mass_g};
}

static inline struct message say_component(enum message_id id, enum component component)
{
	return (struct message){.id = id, .has = MESSAGE_HAS_COMPONENT, .component = component};
}

static inline struct message say_dose(enum message_id id, enum component component, double mass_g)
{
	return (struct message){.id = id,
	                        .has = MESSAGE_HAS_COMPONENT | MESSAGE_HAS_MASS_G,
	                        .component = component,
	                        .mass_g = mass_g};
}

#endif
