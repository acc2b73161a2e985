/* SPDX-License-Identifier: MIT */
#include "guide_fields.h"

#include "guide.h"

_Static_assert(sizeof(enum guide_step) == sizeof(int32_t), "enums are stored as int32_t");
_Static_assert(sizeof(int) == sizeof(int32_t), "enums are stored as int32_t");

/* A member holds one enum type, the table wants int: one adapter each. */
#define NAMES(function, type, of)                                                                  \
	static const char *function(int value)                                                     \
	{                                                                                          \
		return of((type)value);                                                            \
	}
NAMES(step_of, enum guide_step, guide_step_name)
NAMES(component_of, enum component, component_name)
NAMES(verdict_of, enum verdict, verdict_name)
NAMES(message_of, enum message_id, message_name)
NAMES(identity_of, enum identity, identity_name)
NAMES(state_of, enum reading_state, reading_state_name)
#undef NAMES

static const char *letter_of(int value)
{
	return value == PART_A ? "a" : "b";
}

static const char *basis_of(int value)
{
	return value == BASIS_WEIGHT ? "weight" : value == BASIS_VOLUME ? "volume" : "none";
}

static const char *phase_of(int value)
{
	static const char *const names[PHASE_COUNT] = {
	        [PHASE_NONE] = "none",         [PHASE_PAN] = "pan",
	        [PHASE_PLACE] = "place",       [PHASE_LIVE] = "live",
	        [PHASE_BY_EYE] = "by-eye",     [PHASE_RESTED] = "rested",
	        [PHASE_TOO_MUCH] = "too-much", [PHASE_STUCK] = "stuck",
	        [PHASE_VERDICT] = "verdict",   [PHASE_SPILL] = "spill",
	        [PHASE_STIRRING] = "stirring", [PHASE_POURING] = "pouring",
	        [PHASE_EMPTIED] = "emptied",
	};

	return value >= 0 && value < PHASE_COUNT ? names[value] : "none";
}

#define AT(kind, member)                                                                           \
	{                                                                                          \
#member, offsetof(struct OF, member), kind, 0, NULL                                \
	}
#define TEXT(member)                                                                               \
	{                                                                                          \
#member, offsetof(struct OF, member), FIELD_TEXT,                                  \
		        sizeof(((struct OF *)0)->member), NULL                                     \
	}
#define NAME(member, count, names)                                                                 \
	{                                                                                          \
#member, offsetof(struct OF, member), FIELD_NAME, count, names                     \
	}
#define NUMBER(member) AT(FIELD_DOUBLE, member)
#define YES_NO(member) AT(FIELD_BOOL, member)
#define TIME(member)   AT(FIELD_INT64, member)

#define OF guide
static const struct field guide_fields[] = {
        NAME(step, GUIDE_DISCARDED + 1, step_of),
        NAME(resume_step, GUIDE_DISCARDED + 1, step_of),
        NAME(phase, PHASE_COUNT, phase_of),
        AT(FIELD_UINT32, charge),
        NAME(wanted, COMPONENT_MIXED + 1, component_of),
        TIME(note_until_us),
        NAME(verdict, VERDICT_CANNOT_TELL + 1, verdict_of),
        YES_NO(provisional),
        AT(FIELD_UINT32, accepted),
        AT(FIELD_INT32, waiting),
        AT(FIELD_UINT32, n_points),
        AT(FIELD_UINT32, n_dispenses),
        AT(FIELD_UINT32, recipe.n_charges),
        NUMBER(u_g),
        NUMBER(period_us),
        TIME(t_us),
        TIME(touched_us),
        TIME(fault_since_us),
        YES_NO(rest.known),
        NUMBER(rest.gross_g),
        NUMBER(rest.flow_g),
        NUMBER(rest.fastest_g_per_s),
        NUMBER(rest.peak_g),
        TIME(rest.progress_us),
        NUMBER(rest.trough_g),
        NUMBER(rest.still_g),
        NUMBER(pan_g),
        NUMBER(cup_g),
        YES_NO(pan_known),
        YES_NO(cup_known),
        YES_NO(slope_known),
        TIME(slope_us),
        NUMBER(slope_gross_g),
        NUMBER(slope_sd_g),
        NUMBER(drying_g_per_min),
        AT(FIELD_BYTE, start_point),
        YES_NO(start_fresh),
        AT(FIELD_INT32, open),
        TIME(first_gram_us),
        NAME(identity, IDENTITY_CODE + 1, identity_of),
        TIME(change_us),
        NAME(before_change, COMPONENT_MIXED + 1, component_of),
        YES_NO(asks_still_flowing),
        YES_NO(tip_back),
        NUMBER(dilution_pct),
        NUMBER(unexplained_g),
        NAME(top_up.part, 2, letter_of),
        NUMBER(top_up.mass_g),
        NUMBER(top_up.total_g),
        NUMBER(top_up.aim_ratio),
        AT(FIELD_INT32, top_up.fits),
        NUMBER(top_up.short_of_g),
        AT(FIELD_INT32, top_up.reason),
        TIME(life_start_us),
        TIME(life_end_us),
        YES_NO(life_acknowledged),
        YES_NO(pour_soon_told),
        TIME(stir_start_us),
        YES_NO(lifted),
        YES_NO(pan_read),
        NUMBER(free_pan_g),
        NUMBER(residue_g),
        NUMBER(residue_a_pct),
        NUMBER(residue_b_pct),
        YES_NO(residue_counts),
        YES_NO(weighed_back),
        NUMBER(stayed_g),
        NUMBER(given_g),
        AT(FIELD_INT32, bottle_in_use),
        NUMBER(bottle_before_g),
        TIME(bottle_since_us),
        YES_NO(divided),
        NUMBER(inherited_resin_g),
        NUMBER(inherited_hardener_g),
        NUMBER(inherited_u_ratio),
};
#undef OF
#define OF recipe
static const struct field recipe_fields[] = {
        NUMBER(total_g),
        NUMBER(tolerance_pct),
        NUMBER(ratio),
        NUMBER(tint_pct),
        NUMBER(cup_limit_g),
        NUMBER(max_g),
        NUMBER(interval_g),
        NUMBER(stir_s),
        NUMBER(working_life_s),
        YES_NO(resin_known),
        NUMBER(resin_degc),
        NUMBER(smallest_dose_g),
        NUMBER(smallest_tint_g),
        NUMBER(u_reading_g),
        YES_NO(bottles_on_pan),
        TEXT(piece),
        TEXT(layer),
        TEXT(system.id),
        TEXT(system.name),
        NAME(system.hardener, 2, letter_of),
        NAME(system.basis, BASIS_VOLUME + 1, basis_of),
        NUMBER(system.tolerance_pct),
        NUMBER(system.working_life_s),
        NUMBER(system.working_life_mass_g),
        NUMBER(system.working_life_degc),
        NUMBER(system.stir_s),
        NUMBER(system.tint_max_pct),
        YES_NO(system.tint_after_hardener),
        TEXT(system.notes),
};
#undef OF
#define OF system_part
static const struct field part_fields[] = {
        TEXT(label),  NUMBER(parts),       NUMBER(density_g_per_ml), TEXT(lot),
        TEXT(expiry), NUMBER(available_g), NUMBER(bottle_gross_g),   TEXT(code),
};
#undef OF
#define OF recipe_charge
static const struct field charge_fields[] = {
        NAME(component, COMPONENT_MIXED + 1, component_of),
        TEXT(label),
        NUMBER(share_pct),
        NUMBER(target_g),
};
#undef OF
#define OF weighing_point
static const struct field point_fields[] = {NUMBER(gross_g), NUMBER(u_g)};
#undef OF
static const struct field time_fields[] = {{"us", 0, FIELD_INT64, 0, NULL}};
static const struct field bottle_fields[] = {{"gross_g", 0, FIELD_DOUBLE, 0, NULL}};
#define OF guide_dispense
static const struct field dispense_fields[] = {
        NAME(component, COMPONENT_MIXED + 1, component_of),
        NAME(identity, IDENTITY_CODE + 1, identity_of),
        AT(FIELD_BYTE, before),
        AT(FIELD_BYTE, after),
        YES_NO(by_eye),
        YES_NO(top_up),
        NUMBER(mass_g),
        TIME(start_us),
        TIME(end_us),
};
#undef OF
#define OF message
static const struct field message_fields[] = {
        NAME(id, MESSAGE_COUNT, message_of),
        AT(FIELD_UINT32, has),
        NAME(component, COMPONENT_MIXED + 1, component_of),
        NAME(other, COMPONENT_MIXED + 1, component_of),
        NUMBER(mass_g),
        NUMBER(other_mass_g),
        NUMBER(pct),
        NUMBER(other_pct),
        NUMBER(seconds),
        NUMBER(other_seconds),
        TEXT(text),
};
#undef OF
#define OF reading
static const struct field reading_fields[] = {
        TIME(t_us),
        NAME(state, READING_FAULT + 1, state_of),
        YES_NO(known),
        YES_NO(held),
        YES_NO(silent),
        YES_NO(overload),
        YES_NO(underload),
        YES_NO(warm),
        NUMBER(gross_g),
        NUMBER(net_g),
        NUMBER(rate_g_per_s),
        NUMBER(sd_g),
        NUMBER(rate_sd_g_per_s),
        NUMBER(noise_g),
        AT(FIELD_UINT32, n_averaged),
        TIME(still_since_us),
};
#undef OF

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))
#define ONE(prefix, member, fields)                                                                \
	{                                                                                          \
		prefix, offsetof(struct guide, member), 0, 1, SIZE_MAX, fields, COUNT(fields)      \
	}
#define ROWS(prefix, member, rows, used, fields)                                                   \
	{                                                                                          \
		prefix, offsetof(struct guide, member), sizeof(((struct guide *)0)->member[0]),    \
		        rows, used, fields, COUNT(fields)                                          \
	}

const struct field_table guide_tables[] = {
        {"", 0, 0, 1, SIZE_MAX, guide_fields, COUNT(guide_fields)},
        ONE("recipe", recipe, recipe_fields),
        ROWS("part", recipe.system.part, 2, SIZE_MAX, part_fields),
        ROWS("charge", recipe.charge, RECIPE_CHARGES_MAX, offsetof(struct guide, recipe.n_charges),
             charge_fields),
        ROWS("point", point, GUIDE_POINTS_MAX, offsetof(struct guide, n_points), point_fields),
        ROWS("time", point_us, GUIDE_POINTS_MAX, offsetof(struct guide, n_points), time_fields),
        ROWS("dispense", dispense, GUIDE_DISPENSES_MAX, offsetof(struct guide, n_dispenses),
             dispense_fields),
        ROWS("bottle", bottle_g, 2, SIZE_MAX, bottle_fields),
        ONE("held", held, message_fields),
        ONE("held_under", held_under, message_fields),
        ONE("note", note, message_fields),
        ONE("reading", reading, reading_fields),
};
const size_t n_guide_tables = COUNT(guide_tables);
