/* SPDX-License-Identifier: MIT */
#include "modbus.h"

#include <errno.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "modbus_config.h"
#include "modbus_gate.h"
#include "modbus_say.h"
#include "pace.h"

#define BACK_OFF_MAX_US 2000000
#define REOPEN_AFTER    3u
#define GAP_PERIODS     1.5
/* A unit that refuses every probe must not be later than so many time-outs. */
#define REFUSED_TIMEOUTS 2

enum purpose {
	PURPOSE_READ,
	PURPOSE_PROBE, /* another number of registers: is the unit back in step? */
	PURPOSE_ZERO,
	PURPOSE_TARE,
};

struct scale {
	struct modbus_config config;
	struct modbus_wire *wire;
	struct modbus_gate gate;

	bool asked; /* request is on its way */
	enum purpose purpose;
	struct modbus_request request;

	bool out_of_step;  /* replies may be late: probe first */
	unsigned n_open;   /* probes since, none of them answered */
	bool again;        /* the gate wants the next reading now */
	unsigned n_failed; /* in a row */
	int64_t due_us, not_before_us;
	int64_t good_us; /* of the last reading, or of open */
	int64_t sample_us;
	struct modbus_counts at_good; /* the wire's, then */

	bool has_beat;
	uint16_t beat;
	int64_t beat_us; /* when it last changed */

	atomic_uint wanted; /* 1 << PURPOSE_ZERO, 1 << PURPOSE_TARE: act() is of any thread */
	uint64_t n_samples, n_probes, n_repeats, n_frozen;
};

static int modbus_check(const struct scale_option *options, size_t n_options, option_report *report,
                        void *context)
{
	struct modbus_config config;

	return modbus_config_read(options, n_options, report, context, &config);
}

static void tell_nobody(void *context, const char *sentence)
{
	(void)context;
	(void)sentence;
}

static double modbus_count_g(const struct scale_option *options, size_t n_options,
                             const char **ret_where)
{
	/* What a count is comes of the first of these that is written. */
	static const char *const keys[] = {"count_g", "factor", "unit", "type", "map"};
	struct modbus_config config;

	if (modbus_config_read(options, n_options, tell_nobody, NULL, &config) > 0)
		return 0.0;
	*ret_where = "scale";
	for (size_t k = sizeof(keys) / sizeof(keys[0]); k-- > 0;)
		for (size_t i = 0; i < n_options; i++)
			if (strcmp(options[i].key, keys[k]) == 0)
				*ret_where = options[i].where;
	return config.map.count_g;
}

static void modbus_close_scale(struct scale *scale)
{
	if (scale == NULL)
		return;
	modbus_wire_free(scale->wire);
	free(scale);
}

/* A port that is wrong in the configuration should say so now; a network or a unit may
 * be up later than we are. */
static int open_port(struct scale *scale, char *message)
{
	int r;

	if (scale->config.wire.link != MODBUS_RTU)
		return 0;
	r = modbus_wire_open(scale->wire);
	if (r < 0)
		modbus_say_not_open(&scale->config, r, message);
	return r;
}

static int modbus_open(const struct scale_option *options, size_t n_options, char *message,
                       struct scale **ret)
{
	struct modbus_config config;
	struct scale *scale;
	int r;

	message[0] = '\0';
	if (modbus_config_read(options, n_options, option_keep_first, message, &config) > 0)
		return -EINVAL;
	scale = calloc(1, sizeof(*scale));
	if (scale == NULL || modbus_wire_new(&config.wire, &scale->wire) < 0) {
		snprintf(message, SCALE_MESSAGE_MAX, "modbus: there is no memory to open it");
		free(scale);
		return -ENOMEM;
	}
	scale->config = config;
	scale->good_us = pace_now_us();
	r = open_port(scale, message);
	if (r < 0) {
		modbus_close_scale(scale);
		return r;
	}
	*ret = scale;
	return 0;
}

static int64_t timeout_us(const struct scale *scale)
{
	return (int64_t)scale->config.wire.timeout_ms * 1000;
}

/* At once, then after half a time-out, one, two, and so on. */
static int64_t back_off_us(const struct scale *scale)
{
	int64_t wait_us = timeout_us(scale) / 2;

	if (scale->n_failed < 2)
		return 0;
	for (unsigned i = 2; i < scale->n_failed && wait_us < BACK_OFF_MAX_US; i++)
		wait_us *= 2;
	return wait_us < BACK_OFF_MAX_US ? wait_us : BACK_OFF_MAX_US;
}

/* Counts a failure and arranges the next try. Returns whether it is to be told. */
static bool note_failure(struct scale *scale)
{
	scale->n_failed++;
	scale->not_before_us = pace_now_us() + back_off_us(scale);
	scale->asked = false;
	scale->again = false;
	modbus_gate_drop(&scale->gate);
	/* A press of zero belongs to the load of its moment: it does not wait. */
	atomic_store(&scale->wanted, 0u);
	return pace_now_us() - scale->good_us >= timeout_us(scale);
}

static int failed(struct scale *scale, int r, const struct modbus_reply *reply, char *message)
{
	const bool is_write = scale->purpose == PURPOSE_ZERO || scale->purpose == PURPOSE_TARE;
	const bool told = note_failure(scale);
	struct modbus_counts now;

	if (r != -EREMOTEIO) {
		scale->out_of_step = true;
		if (scale->n_failed % REOPEN_AFTER == 0)
			modbus_wire_close(scale->wire);
	}
	if (!told && !is_write)
		return 0;
	modbus_wire_counts(scale->wire, &now);
	modbus_say_failure(&scale->config, &scale->request, r, reply->exception, &scale->at_good,
	                   &now, message);
	return r;
}

static int not_opened(struct scale *scale, int r, char *message)
{
	if (!note_failure(scale))
		return 0;
	modbus_say_not_open(&scale->config, r, message);
	return r;
}

static void choose_request(struct scale *scale)
{
	const struct modbus_map *map = &scale->config.map;
	const int span = modbus_map_span(map);
	const struct modbus_button *button = NULL;
	unsigned wanted;

	scale->purpose = scale->out_of_step ? PURPOSE_PROBE : PURPOSE_READ;
	wanted = scale->out_of_step ? 0 : atomic_load(&scale->wanted);
	if ((wanted & 1u << PURPOSE_ZERO) != 0) {
		scale->purpose = PURPOSE_ZERO;
		button = &map->zero;
	} else if ((wanted & 1u << PURPOSE_TARE) != 0) {
		scale->purpose = PURPOSE_TARE;
		button = &map->tare;
	}
	if (button != NULL) {
		atomic_fetch_and(&scale->wanted, ~(1u << scale->purpose));
		scale->request = (struct modbus_request){.function = (uint8_t)button->function,
		                                         .address = button->address,
		                                         .word = button->value};
		return;
	}
	scale->request = (struct modbus_request){.function = (uint8_t)map->function,
	                                         .address = (uint16_t)modbus_map_first(map),
	                                         .word = (uint16_t)span};
	if (scale->purpose == PURPOSE_PROBE) {
		scale->request.word = (uint16_t)modbus_map_probe(map, scale->n_open++);
		scale->n_probes++;
	}
}

/* Opens the link if need be, and asks. */
static int ask(struct scale *scale, char *message)
{
	static const struct modbus_reply none = {.exception = 0};
	int r;

	if (!modbus_wire_is_open(scale->wire)) {
		r = modbus_wire_open(scale->wire);
		if (r < 0)
			return not_opened(scale, r, message);
	}
	choose_request(scale);
	r = modbus_wire_ask(scale->wire, &scale->request);
	if (r < 0)
		return failed(scale, r, &none, message);
	scale->asked = true;
	return 0;
}

/* Returns whether the value is of a conversion recent enough. */
static bool beats(struct scale *scale, uint16_t heartbeat, int64_t t_us, uint32_t *flags)
{
	if (scale->config.map.heartbeat == MODBUS_NONE)
		return true;
	if (!scale->has_beat || heartbeat != scale->beat) {
		scale->has_beat = true;
		scale->beat = heartbeat;
		scale->beat_us = t_us;
		return true;
	}
	*flags |= SCALE_REPEAT;
	scale->n_repeats++;
	return t_us - scale->beat_us <= (int64_t)scale->config.heartbeat_ms * 1000;
}

static int64_t period_us(const struct scale *scale)
{
	return (int64_t)(1e6 / scale->config.rate_hz);
}

static int give(struct scale *scale, const struct modbus_value *value, int64_t t_us, uint32_t flags,
                struct scale_sample *ret_sample)
{
	const int64_t since_us = t_us - scale->sample_us;

	if (!value->known || value->overload || value->fault)
		flags |= SCALE_RAIL;
	if (value->moving)
		flags |= SCALE_MOVING;
	if (scale->n_samples > 0 && (double)since_us > GAP_PERIODS * (double)period_us(scale))
		flags |= SCALE_GAP;
	scale->n_samples++;
	scale->sample_us = t_us;
	*ret_sample = (struct scale_sample){.t_us = t_us, .counts = value->counts, .flags = flags};
	return 1;
}

/* 1 with a sample, 0 when there is none to give, -ESTALE for a converter that stands
 * still. */
static int take_reading(struct scale *scale, const struct modbus_reply *reply,
                        struct scale_sample *ret_sample, char *message)
{
	const int64_t t_us = reply->asked_us + (reply->heard_us - reply->asked_us) / 2;
	struct modbus_value value;
	uint32_t flags = 0;

	modbus_map_decode(&scale->config.map, reply->registers, &value);
	if (!beats(scale, value.heartbeat, t_us, &flags)) {
		scale->n_frozen++;
		modbus_say_frozen(&scale->config, t_us - scale->beat_us, message);
		return -ESTALE;
	}
	switch (modbus_gate_feed(&scale->gate, scale->config.map.jump_g, &value)) {
	case MODBUS_GATE_ASK_AGAIN:
		scale->again = true;
		return 0;
	case MODBUS_GATE_DOUBTFUL:
		flags |= SCALE_VOID;
		break;
	case MODBUS_GATE_BELIEVED:
		break;
	}
	scale->good_us = reply->heard_us;
	modbus_wire_counts(scale->wire, &scale->at_good);
	return give(scale, &value, t_us, flags, ret_sample);
}

static int answered(struct scale *scale, const struct modbus_reply *reply,
                    struct scale_sample *ret_sample, char *message)
{
	scale->asked = false;
	switch (scale->purpose) {
	case PURPOSE_PROBE:
		scale->out_of_step = false;
		scale->n_open = 0;
		scale->n_failed = 0; /* it is there: no need to hold back */
		return 0;
	case PURPOSE_ZERO:
	case PURPOSE_TARE:
		return 0;
	case PURPOSE_READ:
		break;
	}
	scale->n_failed = 0;
	if (!scale->again)
		scale->due_us += period_us(scale);
	scale->again = false;
	if (scale->due_us < reply->asked_us) /* behind: do not hurry to catch up */
		scale->due_us = reply->asked_us + period_us(scale);
	return take_reading(scale, reply, ret_sample, message);
}

/* A refused probe is an answer too: the unit has no such length. But over a serial line
 * nothing tells whose refusal it is, so that what is still to come gets the time to come:
 * the next request flushes it. */
static void refused_probe(struct scale *scale, const struct modbus_reply *reply)
{
	if (scale->config.wire.link == MODBUS_RTU)
		scale->not_before_us = reply->heard_us + REFUSED_TIMEOUTS * timeout_us(scale);
}

static int hear(struct scale *scale, int64_t deadline_us, struct scale_sample *ret_sample,
                char *message)
{
	struct modbus_reply reply = {.exception = 0};
	int r = modbus_wire_hear(scale->wire, deadline_us, &reply);

	if (r == 0)
		return 0;
	if (r == -EREMOTEIO && scale->purpose == PURPOSE_PROBE) {
		refused_probe(scale, &reply);
		r = 1;
	}
	return r > 0 ? answered(scale, &reply, ret_sample, message)
	             : failed(scale, r, &reply, message);
}

static int64_t start_us(const struct scale *scale)
{
	const bool now = scale->again || scale->out_of_step || atomic_load(&scale->wanted) != 0;
	const int64_t due_us = now ? 0 : scale->due_us;

	return due_us > scale->not_before_us ? due_us : scale->not_before_us;
}

static int modbus_read(struct scale *scale, int timeout_ms, struct scale_sample *ret_sample,
                       char *message)
{
	const int64_t deadline_us = pace_now_us() + (int64_t)timeout_ms * 1000;
	int r;

	do {
		if (scale->asked) {
			r = hear(scale, deadline_us, ret_sample, message);
		} else if (start_us(scale) > deadline_us) {
			pace_sleep_until_us(deadline_us);
			r = 0;
		} else {
			pace_sleep_until_us(start_us(scale));
			r = ask(scale, message);
		}
	} while (r == 0 && pace_now_us() < deadline_us);
	return r;
}

static int modbus_act(struct scale *scale, const char *verb, double amount)
{
	const struct modbus_map *map = &scale->config.map;

	(void)amount;
	if (strcmp(verb, "zero") == 0 && map->zero.function != MODBUS_NONE)
		atomic_fetch_or(&scale->wanted, 1u << PURPOSE_ZERO);
	else if (strcmp(verb, "tare") == 0 && map->tare.function != MODBUS_NONE)
		atomic_fetch_or(&scale->wanted, 1u << PURPOSE_TARE);
	else
		return -EINVAL;
	return 0;
}

void modbus_scale_counts(const struct scale *scale, struct modbus_scale_counts *ret)
{
	*ret = (struct modbus_scale_counts){.n_samples = scale->n_samples,
	                                    .n_probes = scale->n_probes,
	                                    .n_implausible = scale->gate.n_refused,
	                                    .n_repeats = scale->n_repeats,
	                                    .n_frozen = scale->n_frozen};
	modbus_wire_counts(scale->wire, &ret->wire);
}

static size_t modbus_counts(const struct scale *scale, struct scale_count *ret)
{
	struct modbus_scale_counts counts;

	modbus_scale_counts(scale, &counts);
	const struct scale_count all[] = {
	        {"Exchanges", counts.wire.n_asked},
	        {"Good", counts.wire.n_good},
	        {"TimedOut", counts.wire.n_timeouts},
	        {"Foreign", counts.wire.n_foreign},
	        {"TooEarly", counts.wire.n_early},
	        {"Damaged", counts.wire.n_corrupt},
	        {"Exceptions", counts.wire.n_exceptions},
	        {"LinksOpened", counts.wire.n_opened},
	        {"LinksLost", counts.wire.n_broken},
	        {"Probes", counts.n_probes},
	        {"Implausible", counts.n_implausible},
	        {"Repeats", counts.n_repeats},
	        {"Frozen", counts.n_frozen},
	};

	_Static_assert(sizeof(all) / sizeof(all[0]) <= SCALE_COUNTS_MAX, "more than fit");
	memcpy(ret, all, sizeof(all));
	return sizeof(all) / sizeof(all[0]);
}

const struct scale_driver modbus_driver = {
        .name = "modbus",
        .own_time = 0,
        .open = modbus_open,
        .check = modbus_check,
        .read = modbus_read,
        .act = modbus_act,
        .close = modbus_close_scale,
        .counts = modbus_counts,
        .count_g = modbus_count_g,
};
