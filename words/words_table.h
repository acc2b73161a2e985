/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WORDS_WORDS_TABLE_H
#define AMBO_WORDS_WORDS_TABLE_H

/* Every message's headline, sentence and caution. Included by words.c alone.
 *
 *   {C} the component's letter or short word   {c} its label    {o} the other's label
 *   {m} mass   {g} mass while pouring   {M} other mass
 *   {p} percent   {P} other percent     {d} deviation in words  {h} the hardener's label
 *   {s} seconds   {S} other seconds     {t} text                {r} the system read back
 *
 * [...] is left out when an argument inside is unknown; in a headline also when it
 * would not fit. A '|' inside [...] starts what stands there instead. */

#define CAUTION_SKIN                                                                               \
	"Uncured parts can sensitise skin for life: nitrile gloves, sleeves, eye protection, "     \
	"fresh air. The safety data sheet, local rules and licensed practice come first."
#define CAUTION_HEAT                                                                               \
	"Mixed resin left standing in the cup heats, smokes and can ignite: pour it, or spread "   \
	"it thin on something that does not burn, before it heats."
#define CAUTION_HOT                                                                                \
	"Once hot or smoking do not pour, spread or lean over it: keep away, let air in, follow "  \
	"the safety data sheet."
#define CAUTION_SOLVENT "No flame or heat gun near alcohol; wait until the solvent has gone."
#define CAUTION_DUST                                                                               \
	"Keep pigment powder out of the air: sprinkle low and slowly, wear a respirator."
#define CAUTION_CAST                                                                               \
	"Residue in the cup still heats: let it cure on something that does not burn. Sand wet "   \
	"or with a respirator. A cured cast is not food-safe unless the maker says so."

struct words_row {
	const char *headline, *sentence, *caution;
};

static const struct words_row words_rows[MESSAGE_COUNT] = {
        [MESSAGE_NONE] = {"", "", ""},

        [MESSAGE_READ_BACK] = {"RIGHT LABEL?",
                               "Check the entry against the bottles: {r} Press when it agrees.",
                               CAUTION_SKIN},
        [MESSAGE_CLEAR_THE_PAN] = {"CLEAR PAN", "Clear the pan[: {m} is on it].", ""},
        [MESSAGE_PLACE_CUP] =
                {"PUT CUP ON",
                 "Put the cup on the pan: empty, dry and cool, with its stirrer in it.", ""},
        [MESSAGE_CUP_DRYING] = {"CUP DRYING",
                                "The cup is still getting lighter or heavier[, {m} a minute]: "
                                "wait, or wipe it dry and let it cool.",
                                CAUTION_SOLVENT},
        [MESSAGE_CUP_TOO_HEAVY] = {"HEAVY CUP",
                                   "This cup[ of {m}] leaves too little room on the scale for the "
                                   "batch[: {M} too little]. Take a lighter cup.",
                                   ""},
        [MESSAGE_WAIT_SETTLE] = {"WAIT", "Wait: the scale is settling.", ""},

        [MESSAGE_ADD] = {"ADD[ {C}]", "Add {c}[: {g} to go].", ""},
        [MESSAGE_TIP_BACK] = {"TIP BACK", "Tip the {c} back now.", ""},
        [MESSAGE_ADD_POWDER] = {"ADD[ {C}]", "Sprinkle {c}[, {m} to go]: a little, wait, look.",
                                CAUTION_DUST},
        [MESSAGE_BY_EYE] = {"BY EYE[ {C}]",
                            "[{m} of ]{c} is too little to weigh on this scale: add it by eye and "
                            "press. It is recorded as by eye.",
                            ""},
        [MESSAGE_DILUTION] = {"DILUTE[ {C}]",
                              "The {c} is too little to weigh by itself: weigh[ {m} of] a "
                              "dilution[ of {p} in A] instead.",
                              ""},
        [MESSAGE_CHARGE_DONE] = {"[{C} ]IS IN",
                                 "The {c} is in[, {m}]. Put it down[, take up {o}] and press.", ""},
        [MESSAGE_NOT_YET] = {"NOT YET", "Not yet: [{m} of ]{c} still missing.", ""},
        [MESSAGE_STILL_FLOWING] = {"STILL [{C}|IT]?",
                                   "Something still flowed just after the change: was that still "
                                   "{c}? Press if it was; else say it was the other part.",
                                   ""},
        [MESSAGE_TOO_MUCH] = {"TOO MUCH[ {C}]",
                              "[{m} ]too much {c}[: the ratio is {p} out]. Press to set it right.",
                              ""},
        [MESSAGE_TOP_UP] = {"ADD[ {C}]",
                            "To set it right add {c}[: {m} to go][; the batch becomes {M}].", ""},
        [MESSAGE_TOP_UP_WONT_FIT] =
                {"NO ROOM",
                 "Setting it right needs[ {m} of] {c}, which does not fit[: {M} too much for the "
                 "cup, the scale or the stock]. Press to keep it as it is, or discard it.",
                 ""},
        [MESSAGE_RATIO_WITHIN] =
                {"RATIO GOOD",
                 "The ratio is within tolerance[: {d}][, known to {P}]. Lift the cup off and stir.",
                 CAUTION_HEAT},
        [MESSAGE_CANNOT_TELL] =
                {"CANNOT TELL",
                 "This scale cannot tell whether the ratio is within tolerance[: {d}][, known only "
                 "to {P}]. Press to accept the doubt; it is recorded as a doubt.",
                 ""},
        [MESSAGE_RATIO_OUTSIDE] = {"OUT OF RATIO",
                                   "The ratio is outside tolerance[: {d}], and nothing more fits. "
                                   "Press to keep it, recorded as outside, or discard it.",
                                   ""},
        [MESSAGE_RELABELLED] =
                {"NOW[ {C}]",
                 "Noted: [{m} of ]what was poured is {c}. The rest is worked out afresh.", ""},

        [MESSAGE_NOT_RESIN] = {"WHAT IS IT?",
                               "[{m} ]came without being poured: a stick, a cap, a hand? Take it "
                               "off, or press if it was resin.",
                               ""},
        [MESSAGE_CUP_LIFTED] = {"CUP IS OFF", "The cup was lifted: put it back as it was.", ""},
        [MESSAGE_CUP_CHANGED] = {"OTHER CUP?",
                                 "The cup is not as it was[: {m} different]. Put the same cup "
                                 "back, or press if it is the same.",
                                 ""},
        [MESSAGE_BUMPED] = {"BUMPED", "The scale was bumped: wait until it is still.", ""},
        [MESSAGE_HAND_ON_PAN] =
                {"HANDS OFF",
                 "The scale does not settle: take hands, cables and draughts away from the pan.",
                 ""},
        [MESSAGE_LOST_MASS] =
                {"MASS LOST",
                 "[{m} ]has gone from the pan: does the cup touch a cable or an edge, or was "
                 "something taken out? Free it, or press if it is right.",
                 ""},
        [MESSAGE_BOTTLE_KNOWN] = {"BOTTLE[ {C}]", "This bottle is {c}.", ""},
        [MESSAGE_BOTTLE_WRONG] = {"WRONG BOTTLE", "This bottle is [{c}|none of this system's][; {o} is wanted].", ""},
        [MESSAGE_BOTTLE_UNKNOWN] =
                {"WHICH ONE?",
                 "What stands beside the cup[, {m},] is no bottle on the shelf list: take it off.",
                 ""},
        [MESSAGE_BOTTLE_DISAGREES] = {"DISAGREES",
                                      "The bottle of {c} lost[ {m}|something else][, the cup "
                                      "gained {M}]: was something spilt, or another bottle poured?",
                                      ""},
        [MESSAGE_SCALE_SILENT] =
                {"NO SCALE", "The scale is silent: check its wire and power. The batch is kept.",
                 ""},
        [MESSAGE_SCALE_RAIL] =
                {"SCALE FAULT",
                 "The scale reads its end value: overloaded, or a wire of the load cell is broken.",
                 ""},
        [MESSAGE_OVERLOAD] = {"OVERLOAD", "Too heavy for this scale: take something off.", ""},
        [MESSAGE_HELD_BY_HAND] = {"HELD", "Held: nothing moves on until you press.", ""},
        [MESSAGE_STORE_FAILED] =
                {"NOT RECORDED",
                 "The record could not be written[: {t}]. Set that right, then press.", ""},
        [MESSAGE_RESUME_CHECK] = {"SAME CUP?",
                                  "The station was restarted[, and the pan is {m} different]. Is "
                                  "this still the cup of this batch? Press if it is.",
                                  ""},
        [MESSAGE_ABANDONED] =
                {"STILL THERE?",
                 "Nothing has happened[ for {s}]. Press to go on, or discard the batch.",
                 CAUTION_HEAT},

        [MESSAGE_LIFT_AND_STIR] =
                {"LIFT + STIR",
                 "Lift the cup off the pan and stir[ for {s}], scraping sides and bottom.",
                 CAUTION_HEAT},
        [MESSAGE_READING_PAN] = {"READING PAN", "Keep the pan free for a moment: it is being read.",
                                 ""},
        [MESSAGE_SPILL] = {"SPILL",
                           "[{m} ]stayed on the pan; the ratio is still good whichever part it "
                           "was. Wipe the pan.",
                           ""},
        [MESSAGE_SPILL_ASK] = {"SPILL",
                               "[{m} ]stayed on the pan: the ratio may be out[ by {p}][ to {P}]. "
                               "Press to accept the doubt, or discard it.",
                               ""},
        [MESSAGE_PAN_LIGHTER] = {"PAN LIGHTER",
                                 "The pan is lighter than before[ by {m}]: the scale drifted, or "
                                 "something was taken off.",
                                 ""},
        [MESSAGE_STIR] = {"STIR", "Stir, scraping sides and bottom[: {s} left].", ""},
        [MESSAGE_STIR_UNCONFIRMED] = {"STIRRED?",
                                      "The stirring time is over: press when it is stirred.", ""},
        [MESSAGE_POUR] = {"POUR",
                          "Pour it now[: {s} of working life left]. Press when it is poured.", ""},
        [MESSAGE_POUR_SOON] = {"POUR SOON",
                               "More than half of the working life is gone[, {s} left]: pour it, "
                               "or spread it thin.",
                               CAUTION_HEAT},
        [MESSAGE_LIFE_OVER] = {"LIFE IS OVER", "The working life is over: do not pour it.",
                               CAUTION_HOT},
        [MESSAGE_WEIGH_BACK] = {"CUP BACK",
                                "[{m} stayed in the cup.|Put the emptied cup on the pan to weigh "
                                "it back, or press to leave that out.]",
                                ""},
        [MESSAGE_DONE] = {"DONE", "Done[: {m} mixed][, {d}].", CAUTION_CAST},
        [MESSAGE_DISCARDED] = {"DISCARDED",
                               "The batch is discarded; what was weighed stays on record.",
                               CAUTION_HEAT},
        [MESSAGE_VERDICT_WITHDRAWN] = {"LOOK AGAIN",
                                       "What was said of the ratio no longer holds[: now {d}].",
                                       ""},

        [MESSAGE_TOTAL_TOO_SMALL] = {"TOO SMALL",
                                     "[{m} is|This is] too small a batch for this scale[ to judge "
                                     "to {p}][: at least {M}].",
                                     ""},
        [MESSAGE_OVER_MAX] = {"OVER MAX",
                              "[{m} is|This is] more than this scale can hold[: at most {M}].", ""},
        [MESSAGE_OVER_CUP] = {"OVER CUP",
                              "[{m} is|This is] more than the cup may hold[: at most {M}].", ""},
        [MESSAGE_STOCK_SHORT] = {"STOCK SHORT", "Too little {c}[: {m} needed][, {M} there].", ""},
        [MESSAGE_EXPIRED] = {"EXPIRED", "The {c} is past its date[, {t}].", ""},
        [MESSAGE_LOT_CHANGED] = {"NEW LOT", "The {c} comes from another lot than last time[: {t}].",
                                 ""},
        [MESSAGE_STIR_WONT_FIT] = {"TIME TIGHT",
                                   "Stirring[ for {s}] takes more than a quarter of the working "
                                   "life[ of {S}]: mix less, or cooler.",
                                   ""},
        [MESSAGE_TINT_TOO_MUCH] =
                {"TINT TOO BIG",
                 "[{p} of tint|That tint] is more than this system may take[: at most {P}].", ""},
        [MESSAGE_BAD_REQUEST] = {"CHECK ENTRY", "The request cannot be meant[: {t}].", ""},
        [MESSAGE_DIVIDED] = {"DIVIDED", "[{m} ]goes into another cup: put that cup on the pan.",
                             ""},
};

#endif
