/* SPDX-License-Identifier: MIT */
/* Photos of a piece: AttachPhoto, Photos, Photo and RemovePhoto of /org/ambo/pieces. Files
 * are copied on the worker, so that no step of a batch waits for a slow card. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "bus_inside.h"
#include "pieces.h"
#include "worker.h"

struct photo_ask {
	struct bus_call *call;
	char folder[PATH_MAX];
	int64_t piece_id, layer, id;
	int fd; /* to copy from, or that is handed out; -1 none */
	struct photo_file file;
	struct store_photo one, *rows;
	size_t n;
	int result;
};

static struct photo_ask *ask_new(struct bus *bus, sd_bus_message *message)
{
	struct photo_ask *ask = calloc(1, sizeof(*ask));

	if (ask == NULL)
		return NULL;
	ask->fd = -1;
	station_photos_folder(bus->station, ask->folder);
	ask->call = bus_call_keep(bus, message);
	if (ask->call != NULL)
		return ask;
	free(ask);
	return NULL;
}

static void ask_free(struct photo_ask *ask)
{
	if (ask->fd >= 0)
		close(ask->fd);
	bus_call_drop(ask->call);
	free(ask->rows);
	free(ask);
}

static void failed(struct photo_ask *ask)
{
	sd_bus_message *message = ask->call->message;

	switch (ask->result) {
	case -EINVAL:
		bus_refuse(message, "BadRequest", "It is no photo; expected a JPEG or PNG file.");
		break;
	case -EFBIG:
		bus_refuse(message, "OutOfRange", "The photo is larger than %d MB.",
		           PHOTO_BYTES_MAX >> 20);
		break;
	case -ENOSPC:
		bus_refuse(message, "OutOfRange",
		           "There is no room: at most %u photos a piece, %d MB in all, and a disk "
		           "that is not full.",
		           STORE_PHOTOS_MAX, (int)(STORE_PHOTOS_BYTES_MAX >> 20));
		break;
	case -ENOENT:
		bus_refuse(message, "NotFound", "There is no photo %lld.", (long long)ask->id);
		break;
	case -EBADMSG:
		bus_refuse(message, "StoreFailed",
		           "The file of photo %lld was changed or is damaged: take it from a "
		           "backup.",
		           (long long)ask->id);
		break;
	case -EBUSY:
		bus_refuse(message, "Busy", "The station computes or stores: wait a second.");
		break;
	default:
		bus_refuse(message, "StoreFailed", "It could not be stored (%s).",
		           store_reason(ask->result));
		break;
	}
	ask_free(ask);
}

static int to_store(struct photo_ask *ask, void (*run)(struct store *, void *),
                    void (*done)(void *))
{
	if (store_thread_submit(ask->call->bus->station->records, run, done, ask) < 0) {
		ask->result = -EBUSY;
		failed(ask);
	}
	return 1;
}

static int to_worker(struct photo_ask *ask, void (*run)(void *), void (*done)(void *))
{
	if (worker_submit(ask->call->bus->station->worker, run, done, ask) < 0) {
		ask->result = -EBUSY;
		failed(ask);
	}
	return 1;
}

/* Attaching: the file first, then the row that makes it count. */
static void row_add(struct store *store, void *context)
{
	struct photo_ask *ask = context;
	struct store_stamp now;

	/* Sweeps run on this thread too: there now, it stays. */
	if (!photos_there(ask->folder, &ask->file)) {
		ask->result = -EBUSY;
		return;
	}
	store_stamp_now(&now);
	ask->id = store_photo_add(store, ask->piece_id, ask->layer, &ask->file, &now);
	ask->result = ask->id < 0 ? (int)ask->id : 0;
}

static void row_added(void *context)
{
	struct photo_ask *ask = context;

	if (ask->result < 0) {
		failed(ask);
		return;
	}
	sd_bus_reply_method_return(ask->call->message, "x", ask->id);
	bus_pieces_changed(ask->call->bus);
	ask_free(ask);
}

static void copy(void *context)
{
	struct photo_ask *ask = context;

	ask->result = photos_add(ask->folder, ask->fd, &ask->file);
	if (ask->result == -ENOENT) /* a sweep took the unfinished copy */
		ask->result = -EBUSY;
}

static void copied(void *context)
{
	struct photo_ask *ask = context;

	if (ask->result < 0)
		failed(ask);
	else
		(void)to_store(ask, row_add, row_added);
}

int bus_attach_photo(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	const struct live_piece *piece;
	const struct live_layer *last;
	struct photo_ask *ask;
	const char *name;
	int64_t layer;
	int fd, r = sd_bus_message_read(message, "sxh", &name, &layer, &fd);

	(void)error;
	if (r < 0)
		return r;
	piece = bus_find_piece(bus, message, name, &r);
	if (piece == NULL)
		return r;
	if (layer < 0 || layer > PIECES_LAYERS_MAX)
		return bus_refuse(message, "OutOfRange",
		                  "Layer %lld; expected one from 1, or 0 for the next.",
		                  (long long)layer);
	ask = ask_new(bus, message);
	if (ask == NULL)
		return 1;
	(void)pieces_filled_mm(bus->station->pieces, piece, &last);
	ask->piece_id = piece->id;
	ask->layer = layer > 0 ? layer : last == NULL ? 1 : last->layer + 1;
	ask->fd = fcntl(fd, F_DUPFD_CLOEXEC, 3); /* the message owns its own */
	if (ask->fd < 0) {
		ask->result = -EBUSY;
		failed(ask);
		return 1;
	}
	return to_worker(ask, copy, copied);
}

static void rows_read(struct store *store, void *context)
{
	struct photo_ask *ask = context;

	ask->result = store_photos(store, ask->piece_id, &ask->rows, &ask->n);
}

static int put_photo(sd_bus_message *reply, const struct store_photo *photo)
{
	char hash[2 * PHOTO_HASH_BYTES + 1];
	int r = dict_begin(reply);

	if (r < 0)
		return r;
	for (size_t i = 0; i < PHOTO_HASH_BYTES; i++)
		snprintf(hash + 2 * i, 3, "%02x", photo->file.sha256[i]);
	dict_put_whole(reply, "Id", photo->id);
	dict_put_whole(reply, "Layer", photo->layer);
	dict_put_text(reply, "Kind", photo_kind_name(photo->file.kind));
	dict_put_text(reply, "Sha256", hash);
	dict_put_whole(reply, "Bytes", photo->file.bytes);
	dict_put_whole(reply, "TakenRealtimeMicroseconds", photo->realtime_us);
	return dict_end(reply);
}

static void rows_done(void *context)
{
	struct photo_ask *ask = context;
	sd_bus_message *reply = NULL;
	int r;

	if (ask->result < 0) {
		failed(ask);
		return;
	}
	r = bus_rows_begin(ask->call->message, &reply);
	for (size_t i = 0; r >= 0 && i < ask->n; i++)
		r = put_photo(reply, &ask->rows[i]);
	if (bus_rows_end(reply, r) < 0)
		bus_refuse(ask->call->message, "Busy", "The answer cannot be sent.");
	ask_free(ask);
}

int bus_photos(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	int r;
	const struct live_piece *piece = bus_read_piece(bus, message, &r);
	struct photo_ask *ask;

	(void)error;
	if (piece == NULL)
		return r;
	ask = ask_new(bus, message);
	if (ask == NULL)
		return 1;
	ask->piece_id = piece->id;
	return to_store(ask, rows_read, rows_done);
}

/* Handing out: the row, then the file, held against its hash. */
static void row_read(struct store *store, void *context)
{
	struct photo_ask *ask = context;

	ask->result = store_photo(store, ask->id, &ask->one);
}

static void open_file(void *context)
{
	struct photo_ask *ask = context;

	ask->fd = photos_open(ask->folder, &ask->one.file);
	if (ask->fd < 0)
		ask->result = ask->fd == -ENOENT ? -EBADMSG : ask->fd;
}

static void opened(void *context)
{
	struct photo_ask *ask = context;

	if (ask->result < 0) {
		failed(ask);
		return;
	}
	sd_bus_reply_method_return(ask->call->message, "h", ask->fd);
	ask_free(ask);
}

static void row_found(void *context)
{
	struct photo_ask *ask = context;

	if (ask->result < 0)
		failed(ask);
	else
		(void)to_worker(ask, open_file, opened);
}

static int of_id(sd_bus_message *message, struct bus *bus, void (*run)(struct store *, void *),
                 void (*done)(void *))
{
	struct photo_ask *ask;
	int64_t id;
	int r = sd_bus_message_read(message, "x", &id);

	if (r < 0)
		return r;
	ask = ask_new(bus, message);
	if (ask == NULL)
		return 1;
	ask->id = id;
	return to_store(ask, run, done);
}

int bus_photo(sd_bus_message *message, void *context, sd_bus_error *error)
{
	(void)error;
	return of_id(message, context, row_read, row_found);
}

/* The row goes, and its file with it where no other row needs that. */
static void row_remove(struct store *store, void *context)
{
	struct photo_ask *ask = context;
	struct photo_file *files = NULL;
	size_t n = 0;

	ask->result = store_photo_delete(store, ask->id);
	if (ask->result == 0 && store_photo_files(store, &files, &n) == 0)
		(void)photos_sweep(ask->folder, files, n);
	free(files);
}

static void row_removed(void *context)
{
	struct photo_ask *ask = context;

	if (ask->result < 0) {
		failed(ask);
		return;
	}
	sd_bus_reply_method_return(ask->call->message, "");
	bus_pieces_changed(ask->call->bus);
	ask_free(ask);
}

int bus_remove_photo(sd_bus_message *message, void *context, sd_bus_error *error)
{
	(void)error;
	return of_id(message, context, row_remove, row_removed);
}
