/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WEIGHING_ADVICE_H
#define AMBO_WEIGHING_ADVICE_H

/* What there is to say of the scale itself: what a calibration asks for, why it
 * refuses, what is wrong and what to do about it. Ids and typed arguments, no prose:
 * the words are made elsewhere (words/words_advice.h). */

/* One row a piece of advice: id, machine name, what value and other are. Keep the
 * names: clients read them. */
#define ADVICE_TABLE(X)                                                                            \
	X(NONE, "none")                                                                            \
	/* what a calibration asks for */                                                          \
	X(CLEAR, "clear")           /* the pan, then press */                                      \
	X(WARMING, "warming")       /* the zero still drifts: wait */                              \
	X(SETTLING, "settling")     /* wait */                                                     \
	X(PUT_LOAD, "put-load")     /* value g at least, other g at most */                        \
	X(PUT_MORE, "put-more")     /* value g taken, other g at most in all; or go down */        \
	X(TAKE_LOAD, "take-load")   /* until value g are left on the pan, then press */            \
	X(TAKE_ALL, "take-all")     /* off the pan, then press */                                  \
	X(REPEAT_ON, "repeat-on")   /* value g; count of of */                                     \
	X(REPEAT_OFF, "repeat-off") /* count of of */                                              \
	X(PLACE_ON, "place-on")     /* value g; count: enum calibration_place */                   \
	X(PLACE_OFF, "place-off")                                                                  \
	X(READY, "ready") /* accept it */                                                          \
	/* this press does not do; the step stays */                                               \
	X(LOAD_TOO_SMALL, "load-too-small") /* value g given, other g at least */                  \
	X(LOAD_OVER_MAX, "load-over-max")   /* value g given, other g at most */                   \
	X(LOAD_NOT_MORE, "load-not-more")   /* value g given, other g the load before */           \
	X(LOAD_NOT_FELT, "load-not-felt")   /* value g given */                                    \
	X(LOADS_ENOUGH, "loads-enough")     /* of: so many at most */                              \
	X(LOAD_MISSING, "load-missing")     /* not one load yet */                                 \
	X(LOAD_NOT_BACK, "load-not-back")   /* value g on it, other g expected */                  \
	X(OVERLOADED, "overloaded")         /* at the converter's end: take it off */              \
	/* wiring */                                                                               \
	X(SWAPPED_PAIR, "swapped-pair") /* the code falls when loaded */                           \
	X(OPEN_BRIDGE, "open-bridge")   /* at the rail with nothing on it */                       \
	X(WRONG_GAIN, "wrong-gain")     /* value: found over expected, 0.25 0.5 2 4 */             \
	X(WRONG_RATE, "wrong-rate")     /* value samples/s found, other expected */                \
	X(LOOSE_CLOCK, "loose-clock")   /* value corrupt reads a thousand */                       \
	X(HUM, "hum")                   /* value Hz, other g of amplitude */                       \
	/* what a whole calibration is refused for */                                              \
	X(BEND, "bend")             /* value g, the greatest residual */                           \
	X(DRIFTED, "drifted")       /* value g, other g at most */                                 \
	X(UNREADABLE, "unreadable") /* the fit has no answer */                                    \
	/* what it is accepted with */                                                             \
	X(SPAN_CHANGED, "span-changed")   /* value: percent off what was expected */               \
	X(BEND_UNJUDGED, "bend-unjudged") /* one load shows no bend */                             \
	X(HYSTERESIS, "hysteresis")       /* value g, other g the limit */                         \
	X(SCATTER, "scatter")             /* of repeats: value g, other g the limit */             \
	X(OFF_CENTRE, "off-centre")       /* value g, other g the limit; count: the place */       \
	/* health */                                                                               \
	X(WELL, "well")                                                                            \
	X(SILENT, "silent")                                                                        \
	X(NOT_CALIBRATED, "not-calibrated")                                                        \
	X(UNDERLOAD, "underload")                     /* value g below zero */                     \
	X(TEMPERATURE_CHANGED, "temperature-changed") /* value C now, other C when calibrated */   \
	X(NOISY, "noisy")                             /* value g found, other g expected */        \
	X(ZERO_DRIFT, "zero-drift")       /* value g in other s, since the zero was set */         \
	X(CHECK_OVERDUE, "check-overdue") /* value s since the last; unknown: never */             \
	/* the daily check */                                                                      \
	X(CHECK_PASSED, "check-passed") /* value g of error, other g the limit */                  \
	X(CHECK_FAILED, "check-failed") /* likewise */                                             \
	X(CHECK_CANNOT_TELL,                                                                       \
	  "check-cannot-tell") /* likewise: the weight's own tolerance lies between */             \
	X(WEIGHT_UNKNOWN, "weight-unknown")       /* value g is no nominal value */                \
	X(WEIGHT_TOO_COARSE, "weight-too-coarse") /* value g its tolerance, other g at most */     \
	X(WEIGHT_OR_GAIN, "weight-or-gain")       /* likewise: a half, a quarter, twice ... */     \
	X(WEIGHT_NOT_ON, "weight-not-on")         /* value g on the pan, other g expected */

enum advice_id {
#define ADVICE_ENUM(id, name) ADVICE_##id,
	ADVICE_TABLE(ADVICE_ENUM)
#undef ADVICE_ENUM
	        ADVICE_COUNT
};

/* An argument that the table does not name is 0; an unknown one NaN. */
struct advice {
	enum advice_id id;
	double value, other;
	int count, of;
};

const char *advice_name(enum advice_id id); /* "none" for what is no id */

#endif
