/* SPDX-License-Identifier: MIT */
#ifndef AMBO_RECORDS_STORE_PIECES_H
#define AMBO_RECORDS_STORE_PIECES_H

#include "photos.h"
#include "store.h"

/* Pieces, what was poured into them, the room's temperature, reports and drying
 * weighings. As store.h: one connection, each function one transaction, -errno. Lists
 * come oldest first and are the caller's to free (free). */

struct store_piece {
	int64_t id;
	char name[SYSTEM_LABEL_MAX];
	bool finished;
	int64_t kept_realtime_us; /* first */
	char *file;               /* the caller frees it too */
};
/* A new piece, or a new description of one; it is then not finished. Its id. */
int64_t store_piece_keep(struct store *store, const char *name, const char *file,
                         const struct store_stamp *stamp);
int store_piece_finish(struct store *store, int64_t id); /* -ENOENT */
int store_pieces(struct store *store, struct store_piece **ret, size_t *ret_n);
/* Its name, description and photos go; its pours stay, for what they taught of a system.
 * No batch is touched. -ENOENT. */
int store_piece_delete(struct store *store, int64_t id);

struct store_pour {
	int64_t id, piece_id, layer;
	int64_t batch_id; /* 0: told by hand */
	char system_id[SYSTEM_ID_MAX];
	double a_g, b_g, tint_g;
	double stayed_g;   /* NaN: not weighed back */
	double resin_degc; /* NaN: not told */
	double cup_s;
	double kept_back_g; /* on purpose, and in the cup when that was weighed back */
	uint32_t told;      /* a bit a clock event */
	struct store_stamp stamp;
};
/* Its id; -EEXIST for a batch that has been poured already. */
int64_t store_pour_add(struct store *store, const struct store_pour *pour);
int store_pour_told(struct store *store, int64_t id, uint32_t told); /* adds those bits */
int store_pours(struct store *store, struct store_pour **ret, size_t *ret_n);

struct store_room {
	double degc;
	struct store_stamp stamp;
};
#define STORE_ROOMS_MAX 4096 /* the newest are read */
int store_room_add(struct store *store, double degc, const struct store_stamp *stamp);
int store_rooms(struct store *store, struct store_room **ret, size_t *ret_n);

int store_report_add(struct store *store, int64_t pour_id, const char *system_id,
                     double equivalent_s, const struct store_stamp *stamp);
int store_report_last(struct store *store, const char *system_id, double *ret_s); /* -ENOENT */

struct store_drying {
	double mass_g;
	struct store_stamp stamp;
};
int store_drying_add(struct store *store, const char *name, double mass_g,
                     const struct store_stamp *stamp);
int store_drying(struct store *store, const char *name, struct store_drying **ret, size_t *ret_n);

struct store_photo {
	int64_t id, piece_id, layer, realtime_us;
	struct photo_file file;
};
#define STORE_PHOTOS_MAX       64u                /* of a piece */
#define STORE_PHOTOS_BYTES_MAX (INT64_C(1) << 30) /* of all pieces */
/* Its id; of the same file for the same layer the one there is. -ENOSPC past the limits. */
int64_t store_photo_add(struct store *store, int64_t piece_id, int64_t layer,
                        const struct photo_file *file, const struct store_stamp *stamp);
int store_photos(struct store *store, int64_t piece_id, struct store_photo **ret, size_t *ret_n);
int store_photo(struct store *store, int64_t id, struct store_photo *ret); /* -ENOENT */
int store_photo_delete(struct store *store, int64_t id);                   /* -ENOENT */
/* The files that all photos need: for photos_sweep(). */
int store_photo_files(struct store *store, struct photo_file **ret, size_t *ret_n);

/* What usually stays in a cup of this system: the mean of those weighed back with nothing
 * kept back. -ENOENT. */
int store_cup_loss(struct store *store, const char *system_id, double *ret_g);

#endif
