/* SPDX-License-Identifier: MIT */
#include "words_advice.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "words.h"
#include "words_inside.h"

/* Marks what the catalogues collect. */
#define N_(english) (english)

/*   {v} value as a mass   {o} other as a mass    {x} value bare   {y} other bare
 *   {s} value as a time   {S} other as a time    {n} count        {N} of
 *   {w} the place         {d} "too much" or "too little", by the sign of value
 * [...] is left out when the value is unknown. */
static const char *const sentences[ADVICE_COUNT] = {
        [ADVICE_NONE] = "",

        [ADVICE_CLEAR] = N_("Clear the pan, keep hands and draughts away, wait until it is settled "
                            "and warm, then press."),
        [ADVICE_WARMING] = N_("The load cell is still warming up: its zero drifts. Leave the pan "
                              "alone with the power on, up to a quarter of an hour."),
        [ADVICE_SETTLING] = N_("Wait until the scale has settled, two seconds more, then press."),
        [ADVICE_PUT_LOAD] =
                N_("Put a known load on, {v} to {o}, in the middle, and enter all that is "
                   "on the pan."),
        [ADVICE_PUT_MORE] =
                N_("Taken: {v}. Put more on, up to {o} in all, and enter all that is on "
                   "the pan; or go down when the loads are enough."),
        [ADVICE_TAKE_LOAD] = N_("Take load off until {v} are on the pan, then press."),
        [ADVICE_TAKE_ALL] = N_("Take everything off the pan, then press."),
        [ADVICE_REPEAT_ON] = N_("Put {v} on the middle: {n} of {N}. It is taken by itself."),
        [ADVICE_REPEAT_OFF] = N_("Take it all off again: {n} of {N}. The zero is taken by itself."),
        [ADVICE_PLACE_ON] = N_("Put {v} on {w}, half-way to the edge."),
        [ADVICE_PLACE_OFF] = N_("Take it off {w} again."),
        [ADVICE_READY] = N_("The calibration is ready: look at it, and accept it."),

        [ADVICE_LOAD_TOO_SMALL] =
                N_("A load of {v} is too small for this scale: take a tenth of its "
                   "Max at least, {o}."),
        [ADVICE_LOAD_OVER_MAX] = N_("{v} are over the scale's Max of {o}: take a smaller load."),
        [ADVICE_LOAD_NOT_MORE] =
                N_("{v} are no more than the {o} before: put more on, or go down."),
        [ADVICE_LOAD_NOT_FELT] = N_("The scale feels nothing of the {v}: are they on the pan, does "
                                    "the pan touch anything, are both signal wires connected?"),
        [ADVICE_LOADS_ENOUGH] = N_("{N} loads are enough: go down now."),
        [ADVICE_LOAD_MISSING] = N_("There is no load yet: put one on and enter its mass."),
        [ADVICE_LOAD_NOT_BACK] =
                N_("About {v} are on the pan where {o} are expected: set it right, "
                   "then press."),
        [ADVICE_OVERLOADED] =
                N_("The converter is at its end: take load off at once. With little on "
                   "the pan a wire of the load cell is broken."),

        [ADVICE_SWAPPED_PAIR] = N_("The code falls when load is put on: the two signal wires are "
                                   "swapped, or the cell is upside down. Exchange A+ and A- at the "
                                   "converter."),
        [ADVICE_OPEN_BRIDGE] =
                N_("The converter is at its end with an empty pan: a wire of the load "
                   "cell is broken or loose. Check excitation and signal wires."),
        [ADVICE_WRONG_GAIN] =
                N_("The scale gives {x} times the counts a gram that were expected: the "
                   "converter's gain or channel is not the one configured. Set it "
                   "right, or set counts_per_g."),
        [ADVICE_WRONG_RATE] =
                N_("{x} samples a second come, {y} are configured: the converter's rate "
                   "pin is wired the other way, or rate_hz is not right."),
        [ADVICE_LOOSE_CLOCK] = N_("{x} of 1000 reads are corrupt: the clock wire is loose or too "
                                  "long, or the computer is too busy to read in time."),
        [ADVICE_HUM] =
                N_("The mains hum at {x} Hz in the signal, {o} of it: shield the cell's cable, "
                   "ground the shield at one end, move it away from power cables, or use 10 "
                   "samples a second."),

        [ADVICE_BEND] = N_("The readings bend by {v} more than a curve follows: check the masses "
                           "entered, whether the pan touches anything, how the cell is mounted."),
        [ADVICE_DRIFTED] =
                N_("The zero moved by {v} meanwhile, more than {o}: let the cell warm up, "
                   "look for something left on the pan, and begin again."),
        [ADVICE_UNREADABLE] = N_("The readings give no calibration: begin again."),

        [ADVICE_SPAN_CHANGED] =
                N_("It gives {x} % more or less counts a gram than configured: right "
                   "for another cell, else check the masses entered."),
        [ADVICE_BEND_UNJUDGED] = N_("With one load no bend can be seen: use two or more."),
        [ADVICE_HYSTERESIS] = N_("Going down it reads up to {v} otherwise than going up, over {o}: "
                                 "check that nothing rubs."),
        [ADVICE_SCATTER] =
                N_("The same load reads up to {v} apart, over {o}: check the mounting and "
                   "that nothing rubs."),
        [ADVICE_OFF_CENTRE] =
                N_("On {w} it reads {v} {d}, over {o}: put loads in the middle, or mend "
                   "the pan's mounting."),

        [ADVICE_WELL] = N_("Nothing is wrong that can be seen."),
        [ADVICE_SILENT] = N_("The scale is silent: check its cable and power."),
        [ADVICE_NOT_CALIBRATED] =
                N_("This scale is not calibrated, so its grams are only a guess and nothing is "
                   "mixed by them: calibrate it first, ambo calibrate."),
        [ADVICE_UNDERLOAD] =
                N_("The pan reads {v} below its zero: is it off, or was the zero set with "
                   "something on it? Put it on and set the zero. If it falls when load "
                   "is put on, the two signal wires are swapped."),
        [ADVICE_TEMPERATURE_CHANGED] =
                N_("It is {x} C, and was {y} C when the scale was calibrated: "
                   "check it with a known weight, calibrate again if that "
                   "fails."),
        [ADVICE_NOISY] = N_("The noise of a sample is {v}, three times the {o} expected: look for "
                            "draughts, vibration, a loose shield."),
        [ADVICE_ZERO_DRIFT] =
                N_("The empty pan has moved by {v} in {S}: clean the pan, set the zero."),
        [ADVICE_CHECK_OVERDUE] =
                N_("The daily check is overdue[, the last was {s} ago]: put a known "
                   "weight on, ambo check."),

        [ADVICE_CHECK_PASSED] = N_("Passed: {v} {d}, within {o}."),
        [ADVICE_CHECK_FAILED] =
                N_("The daily check failed: {v} {d}, over {o}. Set the zero and check "
                   "again; if it stays, calibrate."),
        [ADVICE_CHECK_CANNOT_TELL] = N_("The daily check cannot tell: {v} {d}, the weight's own "
                                        "tolerance lies across the {o}. Check again, with a better "
                                        "weight."),
        [ADVICE_WEIGHT_UNKNOWN] = N_("{v} is no single check weight: take one of 1, 2, 5, 10 ... "
                                     "10000 g."),
        [ADVICE_WEIGHT_TOO_COARSE] =
                N_("This weight may itself be off by {v}, more than {o}, a third "
                   "of what the scale may: take a better class, or another "
                   "weight within Max."),
        [ADVICE_WEIGHT_OR_GAIN] =
                N_("About {v} are on the pan where {o} are expected: is it another "
                   "weight? If not, the converter's gain or channel is not the one "
                   "configured."),
        [ADVICE_WEIGHT_NOT_ON] = N_("About {v} are on the pan where {o} are expected: set the zero "
                                    "with an empty pan, put only the weight on, wait."),
};

const char *words_advice_template(unsigned i)
{
	return i < ADVICE_COUNT ? sentences[i] : NULL;
}

static double shown(double value)
{
	return isfinite(value) ? fmin(fabs(value), 1e9) : 0.0;
}

static void mass(double value_g, char *ret)
{
	const double g = shown(value_g);

	/* Whole loads as people say them. */
	snprintf(ret, WORDS_NUMBER_MAX, g == floor(g) ? "%.0f g" : "%.2f g", g);
}

static const char *place(int count)
{
	static const char *const places[] = {N_("the front"), N_("the right"), N_("the back"),
	                                     N_("the left")};

	return count >= 0 && count < 4 ? places[count] : N_("one side");
}

static void number(const struct advice *advice, char which, char *ret)
{
	ret[0] = '\0';
	switch (which) {
	case 'v':
		mass(advice->value, ret);
		break;
	case 'o':
		mass(advice->other, ret);
		break;
	case 'x':
		snprintf(ret, WORDS_NUMBER_MAX, "%.3g", shown(advice->value));
		break;
	case 'y':
		snprintf(ret, WORDS_NUMBER_MAX, "%.3g", shown(advice->other));
		break;
	case 's':
		words_duration(advice->value, ret);
		break;
	case 'S':
		words_duration(advice->other, ret);
		break;
	case 'n':
		snprintf(ret, WORDS_NUMBER_MAX, "%d", advice->count);
		break;
	case 'N':
		snprintf(ret, WORDS_NUMBER_MAX, "%d", advice->of);
		break;
	default:
		break;
	}
}

static void argument(const struct words_language *language, const struct advice *advice, char which,
                     char *ret)
{
	if (which == 'w') {
		snprintf(ret, WORDS_NUMBER_MAX, "%s", words_tr(language, place(advice->count)));
	} else if (which == 'd') {
		snprintf(ret, WORDS_NUMBER_MAX, "%s",
		         words_tr(language,
		                  advice->value < 0.0 ? N_("too little") : N_("too much")));
	} else {
		number(advice, which, ret);
		words_localise(language, ret);
	}
}

size_t words_advice(const struct advice *advice, char *buffer, size_t size)
{
	return words_advice_in(NULL, advice, buffer, size);
}

size_t words_advice_in(const struct words_language *language, const struct advice *advice,
                       char *buffer, size_t size)
{
	const char *from = words_tr(
	        language, (unsigned)advice->id < ADVICE_COUNT ? sentences[advice->id] : "");
	struct words_out out = {.buffer = buffer, .size = size};
	char word[WORDS_NUMBER_MAX];

	if (size == 0)
		return 0;
	buffer[0] = '\0';
	for (; *from != '\0'; from++) {
		const char *close = *from == '[' && isnan(advice->value) ? strchr(from, ']') : NULL;

		if (close != NULL) {
			from = close;
			continue;
		}
		if (*from == '[' || *from == ']')
			continue;
		if (*from == '{' && from[1] != '\0' && from[2] == '}') {
			argument(language, advice, from[1], word);
			words_put(&out, word, strlen(word));
			from += 2;
		} else {
			words_put(&out, from, 1);
		}
	}
	return out.length;
}
