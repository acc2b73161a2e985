/* SPDX-License-Identifier: MIT */
/* /org/ambo/records: what was mixed. Every call waits for the store thread. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "bus_inside.h"
#include "send_text.h"

#define LIST_MAX 500u

struct ask {
	struct bus_call *call;
	int64_t id, cursor, next, links, bad_id;
	uint32_t limit;
	struct store_row *rows;
	struct store_step_row *steps;
	size_t n_steps;
	int n_rows;
	bool curve;
	char *text;
	int fd;
	int result;
};

static void ask_free(struct ask *ask)
{
	if (ask == NULL)
		return;
	free(ask->rows);
	free(ask->steps);
	free(ask->text);
	if (ask->fd >= 0)
		close(ask->fd);
	free(ask);
}

static int submit(struct bus *bus, sd_bus_message *message, struct ask *ask,
                  void (*job)(struct store *, void *), void (*done)(void *))
{
	ask->call = bus_call_keep(bus, message);
	if (ask->call == NULL) {
		ask_free(ask);
		return 1;
	}
	if (!bus_to_store(ask->call, job, done, ask)) {
		bus_call_drop(ask->call);
		ask_free(ask);
	}
	return 1;
}

static struct ask *ask_new(void)
{
	struct ask *ask = calloc(1, sizeof(*ask));

	if (ask != NULL)
		ask->fd = -1;
	return ask;
}

/* Ends a call: the reply, or why there is none. */
static void finish(struct ask *ask, int r)
{
	if (r == -ENOENT)
		bus_refuse(ask->call->message, "NotFound", "There is no batch %lld.",
		           (long long)ask->id);
	else if (r < 0)
		bus_refuse(ask->call->message, "StoreFailed", "The records cannot be read: %s.",
		           store_reason(r));
	bus_call_drop(ask->call);
	ask_free(ask);
}

static int put_row(sd_bus_message *reply, const struct store_row *row)
{
	int r = dict_begin(reply);

	if (r < 0)
		return r;
	dict_put_whole(reply, "Id", row->id);
	if (row->parent_id != 0)
		dict_put_whole(reply, "ParentId", row->parent_id);
	dict_put_text(reply, "System", row->system_id);
	dict_put_text(reply, "SystemName", row->system_name);
	dict_put_text(reply, "Piece", row->piece);
	dict_put_text(reply, "Layer", row->layer);
	dict_put_text(reply, "Step", row->step);
	dict_put_text(reply, "Verdict", row->verdict);
	dict_put_bool(reply, "Provisional", row->provisional);
	dict_put_whole(reply, "BegunRealtimeMicroseconds", row->begun_realtime_us);
	if (row->ended_realtime_us != 0)
		dict_put_whole(reply, "EndedRealtimeMicroseconds", row->ended_realtime_us);
	dict_put_bool(reply, "Synchronised", row->synchronised);
	dict_put_double(reply, "ResinGrams", row->resin_g);
	dict_put_double(reply, "HardenerGrams", row->hardener_g);
	dict_put_double(reply, "TintGrams", row->tint_g);
	dict_put_double(reply, "TotalGrams", row->total_g);
	dict_put_double(reply, "TargetTotalGrams", row->target_total_g);
	dict_put_double(reply, "TargetRatio", row->target_ratio);
	dict_put_double(reply, "TolerancePercent", row->tolerance_pct);
	if (row->has_ratio) {
		dict_put_double(reply, "Ratio", row->ratio);
		dict_put_double(reply, "DeviationPercent", row->deviation_pct);
		dict_put_double(reply, "DeviationDoubtPercent", row->u_deviation_pct);
	}
	return dict_end(reply);
}

static int put_step(sd_bus_message *reply, const struct store_step_row *step)
{
	int r = dict_begin(reply);

	if (r < 0)
		return r;
	dict_put_whole(reply, "Sequence", step->seq);
	dict_put_whole(reply, "TimeMicroseconds", step->t_us);
	dict_put_whole(reply, "RealtimeMicroseconds", step->stamp.realtime_us);
	dict_put_bool(reply, "Synchronised", step->stamp.synchronised);
	dict_put_text(reply, "Step", step->step);
	dict_put_text(reply, "Message", step->message);
	dict_put_text(reply, "Verdict", step->verdict);
	return dict_end(reply);
}

static void list_run(struct store *store, void *context)
{
	struct ask *ask = context;

	ask->rows = calloc(ask->limit, sizeof(*ask->rows));
	ask->n_rows = ask->rows == NULL ? -ENOMEM
	                                : store_list(store, ask->cursor, ask->rows, (int)ask->limit,
	                                             &ask->next);
}

static void list_done(void *context)
{
	struct ask *ask = context;
	sd_bus_message *reply = NULL;
	int r = ask->n_rows;

	if (r >= 0)
		r = sd_bus_message_new_method_return(ask->call->message, &reply);
	if (r >= 0)
		r = sd_bus_message_open_container(reply, 'a', "a{sv}");
	for (int i = 0; r >= 0 && i < ask->n_rows; i++)
		r = put_row(reply, &ask->rows[i]);
	if (r >= 0)
		r = sd_bus_message_close_container(reply);
	if (r >= 0)
		r = sd_bus_message_append(reply, "x", ask->next);
	if (r >= 0)
		r = sd_bus_send(NULL, reply, NULL);
	sd_bus_message_unref(reply);
	finish(ask, r);
}

static int list(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct ask *ask = ask_new();
	int r;

	(void)error;
	if (ask == NULL)
		return -ENOMEM;
	r = sd_bus_message_read(message, "xu", &ask->cursor, &ask->limit);
	if (r >= 0 && (ask->limit < 1 || ask->limit > LIST_MAX || ask->cursor < 0))
		r = bus_refuse(message, "BadRequest",
		               "The limit is %u and the cursor %lld; expected a limit from 1 to "
		               "%u and a cursor from 0.",
		               ask->limit, (long long)ask->cursor, LIST_MAX);
	else if (r >= 0)
		return submit(context, message, ask, list_run, list_done);
	ask_free(ask);
	return r;
}

static void get_run(struct store *store, void *context)
{
	struct ask *ask = context;

	ask->rows = calloc(1, sizeof(*ask->rows));
	ask->result = ask->rows == NULL ? -ENOMEM : store_get(store, ask->id, ask->rows);
	if (ask->result >= 0)
		ask->result = store_steps(store, ask->id, &ask->steps, &ask->n_steps);
}

static void get_done(void *context)
{
	struct ask *ask = context;
	sd_bus_message *reply = NULL;
	int r = ask->result;

	if (r >= 0)
		r = sd_bus_message_new_method_return(ask->call->message, &reply);
	if (r >= 0)
		r = put_row(reply, ask->rows);
	if (r >= 0)
		r = sd_bus_message_open_container(reply, 'a', "a{sv}");
	for (size_t i = 0; r >= 0 && i < ask->n_steps; i++)
		r = put_step(reply, &ask->steps[i]);
	if (r >= 0)
		r = sd_bus_message_close_container(reply);
	if (r >= 0)
		r = sd_bus_send(NULL, reply, NULL);
	sd_bus_message_unref(reply);
	finish(ask, r);
}

static int get(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct ask *ask = ask_new();
	int r;

	(void)error;
	if (ask == NULL)
		return -ENOMEM;
	r = sd_bus_message_read(message, "x", &ask->id);
	if (r >= 0)
		return submit(context, message, ask, get_run, get_done);
	ask_free(ask);
	return r;
}

static void verify_run(struct store *store, void *context)
{
	struct ask *ask = context;

	ask->result = store_verify(store, &ask->links, &ask->bad_id);
}

static void verify_done(void *context)
{
	struct ask *ask = context;
	int r = ask->result;

	if (r >= 0)
		r = sd_bus_reply_method_return(ask->call->message, "xx", ask->links,
		                               r > 0 ? ask->bad_id : INT64_C(0));
	finish(ask, r);
}

static int verify(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct ask *ask = ask_new();

	(void)error;
	return ask == NULL ? -ENOMEM : submit(context, message, ask, verify_run, verify_done);
}

/* "t_us,gross_g" rows. */
static char *curve_text(const struct store_curve_point *points, size_t n)
{
	const size_t size = 32 + n * 64;
	char *text = malloc(size);
	size_t used;

	if (text == NULL)
		return NULL;
	used = (size_t)snprintf(text, size, "t_us,gross_g\n");
	for (size_t i = 0; i < n; i++)
		used += (size_t)snprintf(text + used, size - used, "%lld,%.17g\n",
		                         (long long)points[i].t_us, points[i].gross_g);
	return text;
}

static void export_run(struct store *store, void *context)
{
	struct ask *ask = context;
	struct store_curve_point *points = NULL;
	struct store_row row;
	size_t n = 0;

	if (!ask->curve) {
		ask->result = store_canonical(store, ask->id, &ask->text);
		return;
	}
	ask->result = store_get(store, ask->id, &row);
	if (ask->result >= 0)
		ask->result = store_curve_read(store, ask->id, &points, &n);
	if (ask->result >= 0) {
		ask->text = curve_text(points, n);
		ask->result = ask->text == NULL ? -ENOMEM : 0;
	}
	free(points);
}

static void export_sent(void *context, int result)
{
	struct ask *ask = context;

	if (result < 0) {
		bus_refuse(ask->call->message, "WriteFailed", "The file cannot be written: %s.",
		           strerror(-result));
		bus_call_drop(ask->call);
		ask_free(ask);
		return;
	}
	sd_bus_reply_method_return(ask->call->message, "");
	finish(ask, 0);
}

static void export_done(void *context)
{
	struct ask *ask = context;
	struct station *station = ask->call->bus->station;

	if (ask->result < 0)
		finish(ask, ask->result);
	else
		send_text(station->event, ask->fd, ask->text, strlen(ask->text), export_sent, ask);
}

static int export(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct ask *ask = ask_new();
	const char *what;
	int fd, r;

	(void)error;
	if (ask == NULL)
		return -ENOMEM;
	r = sd_bus_message_read(message, "xsh", &ask->id, &what, &fd);
	if (r < 0)
		goto out;
	ask->curve = strcmp(what, "curve") == 0;
	if (!ask->curve && strcmp(what, "canonical") != 0) {
		r = bus_refuse(message, "BadRequest",
		               "\"%.40s\" cannot be exported; expected \"canonical\" or \"curve\".",
		               what);
		goto out;
	}
	ask->fd = fcntl(fd, F_DUPFD_CLOEXEC, 3); /* the message owns its own */
	if (ask->fd < 0) {
		r = -errno;
		goto out;
	}
	return submit(context, message, ask, export_run, export_done);
out:
	ask_free(ask);
	return r;
}

#define ANYONE SD_BUS_VTABLE_UNPRIVILEGED
const sd_bus_vtable bus_records_vtable[] = {
        SD_BUS_VTABLE_START(0),
        SD_BUS_METHOD_WITH_NAMES("List", "xu", SD_BUS_PARAM(cursor) SD_BUS_PARAM(limit), "aa{sv}x",
                                 SD_BUS_PARAM(rows) SD_BUS_PARAM(next), list, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Get", "x", SD_BUS_PARAM(id), "a{sv}aa{sv}",
                                 SD_BUS_PARAM(row) SD_BUS_PARAM(steps), get, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Export", "xsh",
                                 SD_BUS_PARAM(id) SD_BUS_PARAM(what) SD_BUS_PARAM(file), "", "",
                                 export, ANYONE),
        SD_BUS_METHOD_WITH_NAMES("Verify", "", "", "xx",
                                 SD_BUS_PARAM(links) SD_BUS_PARAM(first_bad_id), verify, ANYONE),
        SD_BUS_VTABLE_END,
};
