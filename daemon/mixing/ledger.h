/* SPDX-License-Identifier: MIT */
#ifndef AMBO_MIXING_LEDGER_H
#define AMBO_MIXING_LEDGER_H

#include "guide.h"

/* The batch's accounts: points of the pan, masses between two of them, and the
 * ratio with the covariance that shared points bring. Works on a guide's tables;
 * a full table answers -ENOSPC and changes nothing. */

/* A new point at the newest reading. Returns its index. */
int ledger_point(struct guide *guide, double gross_g, double u_g);
/* A point read again: its dispenses' masses follow. */
void ledger_move_point(struct guide *guide, uint32_t index, double gross_g, double u_g);

/* The present charge (guide->wanted, from start_point) up to the newest reading: a
 * new row, or the open one brought up to date. 0 or -ENOSPC. */
int ledger_record(struct guide *guide);
/* The present charge ends; the next begins at its last point. */
void ledger_close(struct guide *guide);

/* Sum of the recorded masses; mixed: all in the cup but the cup. */
double ledger_mass_g(const struct guide *guide, enum component component);
double ledger_contents_g(const struct guide *guide);
/* The same without the open row: what was in before the present charge. */
double ledger_mass_before_g(const struct guide *guide, enum component component);

/* Ratio of the recorded rows; with live, the present charge up to gross_g counts
 * instead of its row. -EDOM, -EINVAL as ratio_of(). */
int ledger_ratio(const struct guide *guide, struct ratio *ret);
int ledger_ratio_live(const struct guide *guide, double gross_g, struct ratio *ret);

/* Deviation in percent with the residue on the pan taken off part A, or part B. */
int ledger_ratio_without(const struct guide *guide, enum part part, double mass_g,
                         struct ratio *ret);

/* Room for two more rows and their points. */
bool ledger_has_room(const struct guide *guide);

#endif
