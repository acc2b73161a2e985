/* SPDX-License-Identifier: MIT */
#ifndef AMBO_RECORDS_STORE_H
#define AMBO_RECORDS_STORE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "daemon/mixing/guide.h"

/* The records: batches, their steps, curves and stamps, in SQLite (WAL,
 * synchronous=FULL), and the hash chain over finished batches. One connection,
 * used by one thread: the store thread of the station (store_thread.h), or a
 * command that needs no station. */
struct store;

#define STORE_VERSION     4 /* of the schema; migrations go forward only */
#define STORE_MESSAGE_MAX 512u

/* Opens or creates path (file 0600; its folder must exist), locks it against a
 * second daemon (flock on path.lock, which stays), looks it over for damage, migrates
 * forward. On 0 the caller owns *ret. On failure -errno and one sentence in message
 * (STORE_MESSAGE_MAX): -EBUSY another daemon has it, -EPROTO it is of a newer
 * version, -EROFS, -ENOSPC, -EBADMSG not a store or damaged, -EACCES. The store's
 * bytes are unchanged on failure. read_only: for looking, beside a daemon too; takes
 * no lock, never creates, and wants the newest version (-EPROTO). */
int store_open(const char *path, bool read_only, char *message, struct store **ret);
void store_close(struct store *store); /* NULL does nothing */

/* What the last failed call on this store ran into, as one sentence that says what
 * to do; "" before any. Borrowed until the next call. */
const char *store_message(const struct store *store);
/* A few words for a -errno of these functions, under SYSTEM_LABEL_MAX bytes: "the
 * disk is full". */
const char *store_reason(int error);
/* Likewise what to do about it: "make room on it, then try again". */
const char *store_remedy(int error);

/* When and on which clock: both ends of every duration across a reboot need it. */
struct store_stamp {
	char boot_id[37];    /* /proc/sys/kernel/random/boot_id */
	int64_t boottime_us; /* CLOCK_BOOTTIME */
	int64_t realtime_us; /* CLOCK_REALTIME, UTC */
	bool synchronised;   /* the kernel says the clock is disciplined (adjtimex) */
};
/* Reads the machine's clocks; never fails (unsynchronised where it cannot tell). */
void store_stamp_now(struct store_stamp *ret);
/* Keeps the newest stamp of this boot; once a minute, so that after a power cut the
 * time off is known to a minute. */
int store_keep_stamp(struct store *store, const struct store_stamp *stamp);
/* The newest stamp kept, of this boot or an earlier one; -ENOENT. */
int store_last_stamp(struct store *store, struct store_stamp *ret);

/* A new open batch with the guide's first state as its first step, t_us 0. Returns
 * its id, > 0, never used before. parent_id 0: none (a divided batch has one). */
int64_t store_begin(struct store *store, const struct guide *guide, int64_t parent_id,
                    const struct store_stamp *stamp);

/* One transaction: the step's row with the guide's whole state and, where the
 * guide is finished, the canonical record and its link of the chain. -ENOENT no such
 * batch, -EALREADY it is finished and never changes, else -errno with nothing of the
 * step kept. */
int store_step(struct store *store, int64_t batch_id, int64_t t_us, const struct guide *guide,
               const struct store_stamp *stamp);

/* Steps of several batches in one transaction, all with the one stamp: a divided
 * batch's mass and its parent's loss of it. As store_step(), for all or for none. */
struct store_step {
	int64_t batch_id, t_us;
	const struct guide *guide;
};
int store_steps_at_once(struct store *store, const struct store_step *steps, size_t n_steps,
                        const struct store_stamp *stamp);

/* The pour's own curve, 10 Hz: gross mass over time since the batch began. A block
 * of points is one transaction of its own. -EINVAL for a mass that is not finite. */
struct store_curve_point {
	int64_t t_us;
	double gross_g;
};
int store_curve(struct store *store, int64_t batch_id, const struct store_curve_point *points,
                size_t n_points);

/* Open batches (neither done nor discarded), oldest first, at most max. Returns
 * how many; each *ret_guide is the last committed state. */
struct store_open_batch {
	int64_t id, parent_id;
	int64_t t_us;             /* of the last step, batch time */
	struct store_stamp stamp; /* of the last step */
	struct guide guide;
};
int store_open_batches(struct store *store, struct store_open_batch *ret, int max);

/* Small named finite values that outlive the daemon: the scale's zero, ... Text keys. */
int store_set_number(struct store *store, const char *key, double value);
int store_get_number(struct store *store, const char *key, double *ret); /* -ENOENT */

/* The shelf: gross mass of a bottle as last weighed, by system, part and lot. */
int store_set_shelf(struct store *store, const char *system_id, enum part part, const char *lot,
                    double gross_g, const struct store_stamp *stamp);
int store_get_shelf(struct store *store, const char *system_id, enum part part, const char *lot,
                    double *ret_gross_g); /* -ENOENT */
/* The lot last used of that part; -ENOENT. Writes at most SYSTEM_LABEL_MAX. */
int store_last_lot(struct store *store, const char *system_id, enum part part, char *ret_lot);

/* A row of the table of records. */
struct store_row {
	int64_t id, parent_id;
	char system_id[SYSTEM_ID_MAX], system_name[SYSTEM_LABEL_MAX];
	char piece[SYSTEM_LABEL_MAX], layer[SYSTEM_LABEL_MAX];
	char step[16]; /* "done", "discarded", or where it stands */
	char verdict[16];
	bool provisional; /* the pan under the cup was not read (yet): a spill may be in it */
	int64_t begun_realtime_us, ended_realtime_us; /* 0 while open */
	bool synchronised;                            /* at both ends known so far */
	double resin_g, hardener_g, tint_g;           /* as weighed; what went in by eye is not */
	double total_g, target_total_g; /* resin + hardener; divided: taken out of the parent */
	bool has_ratio;
	double ratio, target_ratio, deviation_pct, u_deviation_pct, tolerance_pct;
};
/* Newest first, ids below cursor (0: from the newest), at most limit rows. Returns
 * how many, *ret_next the next cursor or 0 at the end. */
int store_list(struct store *store, int64_t cursor, struct store_row *ret, int limit,
               int64_t *ret_next);
int store_get(struct store *store, int64_t id, struct store_row *ret); /* -ENOENT */
/* The canonical record of a finished batch, or of an open one as it stands. The
 * caller frees *ret_text. */
int store_canonical(struct store *store, int64_t id, char **ret_text);
/* Every committed step of a batch, oldest first; -ENOENT. The caller frees *ret. */
struct store_step_row {
	int64_t seq, t_us;
	struct store_stamp stamp;
	char step[16], verdict[16], message[32];
};
int store_steps(struct store *store, int64_t id, struct store_step_row **ret, size_t *ret_n);
/* Oldest first; none for a batch without a curve. The caller frees *ret. */
int store_curve_read(struct store *store, int64_t id, struct store_curve_point **ret,
                     size_t *ret_n);

/* The guide of a batch as it was last stored, also when it is finished. -ENOENT. */
int store_guide(struct store *store, int64_t id, struct guide *ret);

/* Walks the chain: hash = SHA-256(previous hash || canonical bytes), FIPS 180-4, 32
 * zero bytes before the first. 0 when whole; 1 with *ret_bad_id the first batch that
 * does not fit, by its bytes or for want of its link; -errno. *ret_n: links that fit.
 * Shows damage and careless edits, not a forger who rewrites it all. */
int store_verify(struct store *store, int64_t *ret_n, int64_t *ret_bad_id);

#endif
