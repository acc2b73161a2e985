/* SPDX-License-Identifier: MIT */
#ifndef AMBO_WORDS_WORDS_TOLD_H
#define AMBO_WORDS_WORDS_TOLD_H

/* Refusals, and what a plan warns of, as the station puts them together: the same
 * sentences with a name for each value. Included by words_read.c alone. A test holds this
 * table against the station's own formats, both ways.
 *
 * A value may itself be a sentence or a phrase of this table. */

#define N_(english) (english) /* collected for the catalogue */

static const char *const words_told[] = {
        /* A batch. */
        N_("There is no batch: begin one first."),
        N_("There is no batch yet to repeat."),
        N_("Batch {id} is not open."),
        N_("Batch {id} is finished: it does not change any more."),
        N_("Batch {id} still has the pan: finish it first."),
        N_("Batch {id} has the pan: {what}."),
        N_("leave it empty for a moment, its verdict needs that"),
        N_("finish or discard it first"),
        N_("{count} batches are open: finish or discard one first."),
        N_("A press does nothing now: {why}"),
        N_("Nothing was poured just now that could be the other part."),
        N_("{system} is invented, for the demo: enter the system that stands on your bottles' "
           "label."),
        N_("There is no resin system \"{system}\": ask for the list of systems."),
        N_("Only a batch that is stirred or poured can be divided, by a mass above 0."),
        N_("The batch is being stored just now: try again."),
        N_("There is not that much in the cup."),

        /* The station is busy, or its disk is not as it should be. */
        N_("The store is too slow now: wait, then try again."),
        N_("The store is too slow now: wait."),
        N_("The store is too slow: nothing more fits now; wait."),
        N_("Too many calls wait for an answer already: wait."),
        N_("There is no memory left: close something."),
        N_("There is no memory left."),
        N_("no memory left"),
        N_("It could not be stored ({reason}): the batch is held."),
        N_("It could not be stored ({reason}): nothing has changed."),
        N_("It could not be stored ({reason})."),
        N_("It is stored, and there is no room for it until ambod starts again."),
        N_("It is not stored: {reason}; {remedy}."),
        N_("The batch cannot be stored: {reason}; {remedy}."),
        N_("The batches cannot be read: {reason}."),
        N_("The records cannot be read: {reason}."),
        N_("The weighings cannot be read ({reason})."),
        N_("There is no batch {id}."),
        N_("The file cannot be written: {reason}."),
        N_("The answer cannot be sent."),
        N_("The list cannot be sent."),
        N_("The plan cannot be sent."),
        N_("the disk is full"),
        N_("make room on it, then try again"),
        N_("it is on a read-only file system"),
        N_("mount that for writing, or move the store"),
        N_("permission denied"),
        N_("give the user of this program the file and its folder"),
        N_("it is damaged, or no store of Ambo's"),
        N_("move it away and put the last backup in its place"),
        N_("another program is using it"),
        N_("close that program, then try again"),
        N_("it was written by a newer Ambo"),
        N_("install that version, or newer"),
        N_("it is not there"),
        N_("check its name"),
        N_("it is finished and never changes"),
        N_("begin a new batch"),
        N_("a value in it is not allowed"),
        N_("report this as a fault of Ambo's"),
        N_("there is no memory left"),
        N_("close other programs, then try again"),
        N_("the disk cannot be read or written"),
        N_("check the disk, then restart"),
        N_("the store failed"),
        N_("look at the system's log for the disk"),

        /* The scale. */
        N_("The pan is not settled: wait until it is."),
        N_("The pan did not settle within 20 s: is something touching it?"),
        N_("A batch is open: its masses hang on the zero; finish it first."),
        N_("There is too much on the pan for a zero (over 20 % of {max} g): clear it."),
        N_("The scale cannot be zeroed now ({reason})."),
        N_("A calibration has the pan: finish or cancel it first."),
        N_("A calibration is being stored just now: wait."),
        N_("A batch is open: its masses hang on the calibration; finish it first."),
        N_("A calibration is under way: finish or cancel it."),
        N_("A calibration cannot begin now ({reason})."),
        N_("No calibration is under way."),
        N_("No calibration is under way: start one."),
        N_("No calibration is ready to be accepted."),
        N_("There is no calibration {id}."),
        N_("This calibration cannot weigh up to {max} g: the one before holds."),
        N_("Calibration {id} is of another scale (driver {driver}): it cannot hold here."),
        N_("{what} has the pan: finish it first."),
        N_("A calibration"),
        N_("A batch"),
        N_("\"{class}\" is no class of weights; expected E1, E2, F1, F2, M1, M2 or M3."),
        N_("Only keepers may calibrate: members of the group {group}, and who holds the "
           "bench's foot switch for five seconds."),
        N_("Only keepers may approve: members of the group {group}."),

        /* A system that is entered. */
        N_("Only keepers may enter a system: members of the group {group}, and who holds the "
           "bench's foot switch for five seconds."),
        N_("A name holds a quote, a backslash or a control character; expected the label's own "
           "words."),
        N_("There is a system \"{system}\" already; expected a name that can be told apart."),
        N_("{count} systems are all there is room for."),
        N_("Another system is being entered: wait."),
        N_("the text is too long; expected at most {count} bytes"),
        N_("there is no text; expected what the label says"),
        N_("the value is {value}; expected {low} to {high}[ {unit}]"),
        N_("the value is {value}; expected {what}"),
        N_("{file}:{line}: {key}: {what}"),
        N_("g of hardener for each gram of resin"),
        N_("% of the ratio (2 to 5 are usual)"),
        N_("% of the mixed mass"),
        N_("the value is {value}; expected the number on the label, above 0 and at most 10000"),
        N_("it is missing; expected the label's density, since the ratio is by volume"),

        /* Pieces. */
        N_("There is no piece \"{piece}\" here."),
        N_("\"{piece}\" is finished: nothing more is poured."),
        N_("Layer {layer} cannot be poured now: the last one is {last}; expected more of it, or "
           "the next."),
        N_("The layer below is ready in {time}: wait with the pour."),
        N_("The layer below is ready in {time} at the soonest: wait with the pour."),
        N_("There is no system \"{system}\" here that can be cast."),
        N_("\"{piece}\" cannot be cast of \"{system}\": its file has no group `casting`."),
        N_("The room is {degc} C; expected -20 to 60."),
        N_("Nothing is poured there yet: the clocks do not run."),
        N_("The layer was poured less than a minute ago: it holds nothing yet."),
        N_("\"{name}\" with {mass} g; expected a name of at most {count} bytes and its mass."),
        N_("A plan is being computed: wait a second."),
        N_("Another plan is being computed: wait a second."),

        /* Why there is no plan. */
        N_("{depth} mm are poured: the piece is full"),
        N_("coat \"{coat}\" may be poured {most} mm deep at {from} mm ({rule}) and {system} levels "
           "only from {least} mm; expected {change}"),
        N_("coat \"{coat}\": {depth} mm at {from} mm would take more than {count} cups of {mass} "
           "g; expected {change}"),
        N_("coat \"{coat}\": at {room} C in the room and {resin} C in the resin no layer stays "
           "under {limit} C ({what}); expected it cooler"),
        N_("coat \"{coat}\": no depth at {from} mm keeps clear of an inclusion's top and under "
           "{limit} C ({what})"),
        N_("{count} layer(s) of {depth} mm: runaway: do not pour"),
        N_("{count} layer(s) of {depth} mm would be too deep (up to {peak} C; the label allows "
           "{label} mm, the limit is {limit} C); expected at least {least}"),
        N_("coat \"{coat}\" is {depth} mm deep and {system} levels only from {least} mm; expected "
           "a deeper coat"),
        N_("more than {count} layers; expected a system that may be poured deeper"),
        N_("coat \"{coat}\": there is no system \"{system}\"; expected one that is configured"),
        N_("{system} has no pour depth from its label: read the label's maximum depth for one "
           "layer and enter it as casting.depth_max_mm; the model never replaces it"),
        N_("coat \"{coat}\" takes {tint} % of tint and {system} at most {most} %; expected less"),
        N_("these numbers leave the range of the arithmetic; expected a piece that someone could "
           "pour"),
        N_("coat \"{coat}\": a cup of {cup} g keeps {kept} g of it, so that nothing is poured; "
           "expected a bigger cup or a smaller loss"),
        N_("coat \"{coat}\": resin of {resin} C in a room of {room} C gives no time to stir {stir} "
           "s and pour even {mass} g of {system}; expected it cooler, or a slower system"),
        N_("layer {layer} never gets hard enough to go on at {room} C; expected a warmer room"),
        N_("layer {layer} takes {minutes} min ({count} batch(es) to weigh, stir and pour, then "
           "{watch} min of watching) and the hours from {opens} to {closes} have {have} min; "
           "expected "
           "longer hours or a smaller piece"),
        N_("layer {layer}: whenever it is poured, its edge tape wants taking off at a time outside "
           "the hours from {opens} to {closes}; expected longer hours"),
        N_("another depth of the coat"),
        N_("a cooler room or resin, a raised metal tray under the mould, a slower system"),
        N_("a system whose label allows a deeper pour"),
        N_("a bigger cup, or more batches to a layer"),
        N_("cooler resin, or more and smaller batches to a layer"),
        N_("an inclusion of another height"),
        N_("a bigger cup: then fewer batches make the layer"),

        /* What a plan warns of. */
        N_("\"{name}\" is not known to be dry: moisture clouds the resin and rots what is in it; "
           "weigh it day by day until a day loses under 1 %"),
        N_("\"{name}\" is not dry yet and would be poured over in {days} days: it takes about "
           "{more} more to constant mass"),
        N_("\"{name}\" is not known to be dry and would be poured over in {days} days: weigh it "
           "until a day loses under 1 %"),
        N_("\"{name}\" was dry {days} days ago and draws moisture again: weigh it once more"),
        N_("\"{name}\" will stand {depth} mm out of the last layer"),
        N_("\"{name}\" ends {depth} mm under the surface and will show through it as the resin "
           "shrinks; {cover} mm cover it safely"),
        N_("a layer may reach {peak} C: flowers keep their colour best up to {best} C and are "
           "damaged at 50"),
        N_("the resin's surface is within 3 K of the dew point, {dew} C: water would settle on "
           "it; warm it or dry the air"),
        N_("the air is too humid to pour, {humidity} %; wait until it is under {most} %"),
        N_("at {humidity} % humidity a clear surface may blush; under {most} % is better"),
        N_("{system}: {needed} g of part A are needed and {there} g are there"),
        N_("{system}: {needed} g of part B are needed and {there} g are there"),
        N_("{mass} g left standing in the cup run away: they gel after {minutes} min and go past "
           "{limit} C, smoke and can ignite; pour at once, spread what is left over thin"),
        N_("{system}: the label gives {what}, so the model's doubt is wide and layers come out "
           "thinner; casting.film_gel_s from a test film narrows it"),
        N_("times too alike to tell more from"),
        N_("a pot life only"),
        N_("layer {layer} is {depth} mm and may not level by itself"),
        N_("how much of \"{name}\" will be seen is not known: the tint of coat \"{coat}\" above it "
           "has no test chip"),

        /* Within a message's sentence. */
        N_("{d} too much {h}"),
        N_("{d} too little {h}"),

        /* A request that cannot be meant. */
        N_("total: grams above 0 expected"),
        N_("volume: millilitres above 0 expected"),
        N_("total or volume: exactly one above 0"),
        N_("cup limit: grams above 0 expected"),
        N_("tint: percent of the mixed mass expected"),
        N_("working life: seconds above 0 expected"),
        N_("resin temperature: -10 to 80 degC expected"),
        N_("scale: Max, interval, doubt above 0 expected"),
        N_("volume: both densities must be known"),
        N_("system: no usable ratio by weight"),
        N_("tolerance: 0.1 to 20 % expected"),

        /* The display's own. */
        N_("sound: no device ({reason}); plug a loudspeaker in, or name its driver in "
           "SDL_AUDIODRIVER; going on without, screen and lamp say the same"),
        N_("sound: out of memory; going on without"),
        N_("speech: espeak-ng is not installed; install it to have sentences spoken; going on "
           "without"),
        N_("speech: out of memory; going on without"),
};

#endif
