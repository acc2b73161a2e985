/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_BUS_INSIDE_H
#define AMBO_STATION_BUS_INSIDE_H

#include <stdarg.h>

#include "bus.h"
#include "bus_dict.h"
#include "station.h"

/* What the bus's own files share. */
#define BUS_CALLS_A_SENDER 4u /* waiting at once: the rest of the room is for others */

/* A method call that is answered later. */
struct bus_call {
	struct bus *bus;
	sd_bus_message *message; /* NULL: free */
	int64_t deadline_us;     /* Weigh: CLOCK_MONOTONIC; else 0 */
	int64_t batch_id;        /* answered when that batch's commit is done; else 0 */
};

struct bus {
	struct station *station;
	sd_bus *bus;
	sd_event_source *timer;
	sd_bus_track *watchers;   /* clients that follow the readings */
	bool stale;               /* `shown` is not of now */
	struct batch_shown shown; /* now */
	struct batch_shown sent;  /* as told last */
	char sent_state[16], sent_condition[64 + SCALE_MESSAGE_MAX];
	int64_t sent_sequence;
	uint64_t sent_touches, sent_care, sent_sensed;
	/* Room for Reading signals: 100/s, a few at once. */
	double readings;
	int64_t readings_us;
	struct bus_call calls[STATION_CALLS_MAX];
};

#define BUS_SCALE_PATH   BUS_ROOT "/scale"
#define BUS_BATCH_PATH   BUS_ROOT "/batch"
#define BUS_RECORDS_PATH BUS_ROOT "/records"
#define BUS_PIECES_PATH  BUS_ROOT "/pieces"
#define BUS_BENCH_PATH   BUS_ROOT "/bench"

extern const sd_bus_vtable bus_scale_vtable[];
extern const sd_bus_vtable bus_batch_vtable[];
extern const sd_bus_vtable bus_records_vtable[];
extern const sd_bus_vtable bus_bench_vtable[];
extern const sd_bus_vtable bus_pieces_vtable[];

/* Keeps a call to answer later; NULL when there is no room, answered with Busy. */
struct bus_call *bus_call_keep(struct bus *bus, sd_bus_message *message);
/* Lets it go after it was answered. */
void bus_call_drop(struct bus_call *call);

/* Hands a call's job to the store's thread. False: the store is too slow, the call is
 * refused, and neither run nor done will see the job. */
bool bus_to_store(const struct bus_call *call, void (*run)(struct store *, void *),
                  void (*done)(void *), void *job);

/* "org.ambo.Error.NAME" with one sentence; the handler returns it. */
__attribute__((format(printf, 3, 4))) int bus_refuse(sd_bus_message *message, const char *name,
                                                     const char *format, ...);

/* The answer to a call that is an array of dictionaries, aa{sv}: opened, and once they are
 * in it (r: what came of that) closed, sent and let go. 0 or positive, -errno. */
int bus_rows_begin(sd_bus_message *message, sd_bus_message **ret_reply);
int bus_rows_end(sd_bus_message *reply, int r);

/* The error's name for a -errno of an action. */
const char *bus_error_name(int error);

struct live_piece;
/* NULL: there is none of that name; the call is refused, *ret_refused is for its handler to
 * return. */
const struct live_piece *bus_find_piece(const struct bus *bus, sd_bus_message *message,
                                        const char *name, int *ret_refused);
/* The piece that a call's one argument names. NULL: the call is refused, or has another
 * argument; *ret_refused as above. */
const struct live_piece *bus_read_piece(const struct bus *bus, sd_bus_message *message,
                                        int *ret_refused);

int bus_enter_system(sd_bus_message *message, void *context, sd_bus_error *error); /* bus_enter.c */
int bus_plan(sd_bus_message *message, void *context, sd_bus_error *error);         /* bus_plan.c */
int bus_drying(sd_bus_message *message, void *context, sd_bus_error *error);
int bus_inclusions(sd_bus_message *message, void *context, sd_bus_error *error);
struct cavity;
void bus_put_widths(sd_bus_message *reply, const struct cavity *cavity, double from_mm,
                    double depth_mm);
int bus_checks(sd_bus_message *message, void *context, sd_bus_error *error);
int bus_attach_photo(sd_bus_message *message, void *context, sd_bus_error *error);
int bus_photos(sd_bus_message *message, void *context, sd_bus_error *error);
int bus_photo(sd_bus_message *message, void *context, sd_bus_error *error);
int bus_remove_photo(sd_bus_message *message, void *context, sd_bus_error *error);
int bus_pour_check(sd_bus_message *message, void *context, sd_bus_error *error);

int bus_get_clocks(sd_bus *connection, const char *path, const char *interface,
                   const char *property, sd_bus_message *reply, void *context, sd_bus_error *error);

const struct batch_shown *bus_shown(struct bus *bus);
void bus_weigh_look(struct bus *bus); /* answers waiting Weigh calls; bus_scale.c */
int bus_scale_changed(struct bus *bus);
int bus_batch_changed(struct bus *bus, uint32_t differs, bool open_too);

/* bus_care.c: handlers of /org/ambo/scale */
int bus_approve(sd_bus_message *message, void *context, sd_bus_error *error);
/* A keeper's call, or one that a keeper at the bench has approved. May block a moment. */
bool bus_keepers_word(const struct bus *bus, sd_bus_message *message);
int bus_start_calibration(sd_bus_message *message, void *context, sd_bus_error *error);
int bus_calibration_next(sd_bus_message *message, void *context, sd_bus_error *error);
int bus_cancel_calibration(sd_bus_message *message, void *context, sd_bus_error *error);
int bus_accept_calibration(sd_bus_message *message, void *context, sd_bus_error *error);
int bus_use_calibration(sd_bus_message *message, void *context, sd_bus_error *error);
int bus_calibrations(sd_bus_message *message, void *context, sd_bus_error *error);
int bus_calibration_readings(sd_bus_message *message, void *context, sd_bus_error *error);
int bus_check(sd_bus_message *message, void *context, sd_bus_error *error);
int bus_get_calibration(sd_bus *connection, const char *path, const char *interface,
                        const char *property, sd_bus_message *reply, void *context,
                        sd_bus_error *error);
int bus_get_health(sd_bus *connection, const char *path, const char *interface,
                   const char *property, sd_bus_message *reply, void *context, sd_bus_error *error);

#endif
