/* SPDX-License-Identifier: MIT */
/* flock() and TIOCEXCL are not POSIX. */
#define _DEFAULT_SOURCE
#include "modbus_wire.h"

#include <errno.h>
#include <modbus.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/select.h>
#include <sys/socket.h>
#include <unistd.h>

#include "pace.h"

/* The baud rate may be off by as much, and the clock is read a moment late. */
#define WIRE_TIME_SHARE_PCT 90
/* A damaged serial frame is over when the line has been silent so long: USB adapters
 * hand bytes over every 16 ms. */
#define DRAIN_SILENCE_MS 20
#define DRAIN_BYTES_MAX  1024u

struct modbus_wire {
	struct modbus_wire_config config;
	modbus_t *library; /* NULL: closed */
	struct modbus_counts counts;
	struct modbus_request asked;
	int64_t asked_us, deadline_us;
	int64_t quiet_from_us; /* when the line last fell silent, as far as seen here */
};

int modbus_wire_char_bits(const struct modbus_wire_config *config)
{
	return 1 + 8 + (config->parity != 'N') + config->stop_bits;
}

int modbus_wire_new(const struct modbus_wire_config *config, struct modbus_wire **ret)
{
	struct modbus_wire *wire = calloc(1, sizeof(*wire));

	if (wire == NULL)
		return -ENOMEM;
	wire->config = *config;
	*ret = wire;
	return 0;
}

void modbus_wire_free(struct modbus_wire *wire)
{
	if (wire == NULL)
		return;
	modbus_wire_close(wire);
	free(wire);
}

bool modbus_wire_is_open(const struct modbus_wire *wire)
{
	return wire->library != NULL;
}

void modbus_wire_counts(const struct modbus_wire *wire, struct modbus_counts *ret)
{
	*ret = wire->counts;
}

void modbus_wire_close(struct modbus_wire *wire)
{
	if (wire->library == NULL)
		return;
	if (wire->config.link == MODBUS_RTU)
		ioctl(modbus_get_socket(wire->library), TIOCNXCL);
	modbus_close(wire->library);
	modbus_free(wire->library);
	wire->library = NULL;
}

static modbus_t *new_library(const struct modbus_wire_config *config)
{
	char port[16];

	if (config->link == MODBUS_RTU)
		return modbus_new_rtu(config->device, config->baud, config->parity, 8,
		                      config->stop_bits);
	snprintf(port, sizeof(port), "%d", config->port);
	return modbus_new_tcp_pi(config->host, port);
}

static void set_response_timeout(modbus_t *library, int64_t us)
{
	modbus_set_response_timeout(library, (uint32_t)(us / 1000000), (uint32_t)(us % 1000000));
}

/* Two masters on one line hear each other's replies. */
static int claim(const struct modbus_wire *wire)
{
	int fd = modbus_get_socket(wire->library);

	if (fd < 0 || fd >= FD_SETSIZE) /* the library waits with select() */
		return -EMFILE;
	if (wire->config.link == MODBUS_TCP)
		return 0;
	if (flock(fd, LOCK_EX | LOCK_NB) < 0)
		return -EBUSY;
	ioctl(fd, TIOCEXCL);
	return 0;
}

int modbus_wire_open(struct modbus_wire *wire)
{
	int r;

	modbus_wire_close(wire);
	wire->library = new_library(&wire->config);
	if (wire->library == NULL)
		return errno == ENOMEM ? -ENOMEM : -EINVAL;
	modbus_set_error_recovery(wire->library, MODBUS_ERROR_RECOVERY_NONE);
	modbus_set_slave(wire->library, wire->config.unit);
	/* None between bytes: one time-out holds for the whole reply. A frame may come in
	 * pieces, and a unit that sends a byte now and then must not hold us for ever. */
	modbus_set_byte_timeout(wire->library, 0, 0);
	set_response_timeout(wire->library, (int64_t)wire->config.timeout_ms * 1000);
	errno = 0;
	if (modbus_connect(wire->library) < 0) {
		/* A name that cannot be found sets no errno of the system. */
		r = errno > 0 && errno < MODBUS_ENOBASE ? -errno : -EHOSTUNREACH;
		modbus_free(wire->library);
		wire->library = NULL;
		return r;
	}
	r = claim(wire);
	if (r < 0) {
		modbus_close(wire->library);
		modbus_free(wire->library);
		wire->library = NULL;
		return r;
	}
	wire->counts.n_opened++;
	wire->quiet_from_us = pace_now_us();
	return 0;
}

static int broken(struct modbus_wire *wire, int error)
{
	wire->counts.n_broken++;
	modbus_wire_close(wire);
	return error > 0 ? -error : -EIO;
}

/* Over TCP the library's raw request always sends transaction 0, which would leave
 * nothing to tell two replies apart. */
static int send_tcp(struct modbus_wire *wire)
{
	uint8_t frame[MODBUS_REQUEST_MAX];
	size_t n = modbus_frame_request(MODBUS_TCP, &wire->asked, frame);
	ssize_t sent = send(modbus_get_socket(wire->library), frame, n, MSG_NOSIGNAL);

	if (sent < 0)
		return -errno;
	return (size_t)sent == n ? 0 : -EIO;
}

static int send_rtu(struct modbus_wire *wire)
{
	uint8_t frame[MODBUS_REQUEST_MAX];
	size_t n = modbus_frame_request(MODBUS_RTU, &wire->asked, frame);

	/* The library appends the CRC. */
	return modbus_send_raw_request(wire->library, frame, (int)n - 2) < 0 ? -errno : 0;
}

static int64_t chars_us(const struct modbus_wire *wire, size_t n_chars)
{
	if (wire->config.link == MODBUS_TCP)
		return 0;
	return modbus_wire_time_us(wire->config.baud, modbus_wire_char_bits(&wire->config),
	                           n_chars);
}

int modbus_wire_ask(struct modbus_wire *wire, const struct modbus_request *request)
{
	const uint16_t transaction = (uint16_t)(wire->asked.transaction + 1);
	int r;

	if (wire->library == NULL)
		return -ENOTCONN;
	if (wire->config.link == MODBUS_RTU)
		pace_sleep_until_us(wire->quiet_from_us +
		                    modbus_wire_gap_us(wire->config.baud,
		                                       modbus_wire_char_bits(&wire->config)));
	wire->asked = *request;
	wire->asked.unit = wire->config.unit;
	wire->asked.transaction = transaction;
	if (modbus_flush(wire->library) < 0)
		return broken(wire, errno);
	wire->asked_us = pace_now_us();
	r = wire->config.link == MODBUS_TCP ? send_tcp(wire) : send_rtu(wire);
	if (r < 0)
		return broken(wire, -r);
	wire->counts.n_asked++;
	wire->deadline_us =
	        wire->asked_us + (int64_t)wire->config.timeout_ms * 1000 +
	        chars_us(wire, 8 + modbus_frame_reply_size(wire->config.link, &wire->asked));
	return 0;
}

/* 1 readable, 0 not within the time. Rounds up, so that the time is over afterwards. */
static int wait_readable(const struct modbus_wire *wire, int64_t wait_us)
{
	struct pollfd fd = {.fd = modbus_get_socket(wire->library), .events = POLLIN};

	return poll(&fd, 1, wait_us > 0 ? (int)((wait_us + 999) / 1000) : 0);
}

/* Reads on until the line is silent: the rest of a damaged frame must not be there, or
 * still be coming, when the next reply does. */
static void drain(struct modbus_wire *wire)
{
	const int64_t until_us = pace_now_us() + (int64_t)wire->config.timeout_ms * 1000;
	int64_t silence_us = (int64_t)wire->config.timeout_ms * 1000 / 4;
	size_t n_bytes = 0;
	uint8_t bytes[64];

	if (silence_us > DRAIN_SILENCE_MS * 1000)
		silence_us = DRAIN_SILENCE_MS * 1000;
	while (n_bytes < DRAIN_BYTES_MAX && pace_now_us() < until_us &&
	       wait_readable(wire, silence_us) > 0) {
		ssize_t n = read(modbus_get_socket(wire->library), bytes, sizeof(bytes));

		if (n <= 0)
			return; /* the next request finds out why */
		n_bytes += (size_t)n;
	}
}

static int corrupt(struct modbus_wire *wire)
{
	wire->counts.n_corrupt++;
	if (wire->config.link == MODBUS_TCP)
		modbus_wire_close(wire);
	else
		drain(wire);
	return -EBADMSG;
}

static bool is_early(const struct modbus_wire *wire, int64_t heard_us, size_t n_chars)
{
	return (heard_us - wire->asked_us) * 100 <
	       chars_us(wire, 8 + n_chars) * WIRE_TIME_SHARE_PCT;
}

/* One frame, of which the first byte is there. 0: it was not for us. */
static int hear_frame(struct modbus_wire *wire, int64_t left_us, struct modbus_reply *ret)
{
	uint8_t frame[MODBUS_MAX_ADU_LENGTH];
	uint16_t registers[MODBUS_SPAN_MAX];
	enum modbus_verdict verdict;
	int exception = 0, n;
	int64_t heard_us;

	set_response_timeout(wire->library, left_us > 1000 ? left_us : 1000);
	n = modbus_receive_confirmation(wire->library, frame);
	heard_us = wire->quiet_from_us = pace_now_us();
	if (n < 0 && errno == ETIMEDOUT) {
		if (wire->config.link == MODBUS_TCP)
			modbus_wire_close(wire);
		wire->counts.n_timeouts++;
		return -ETIMEDOUT;
	}
	if (n < 0 && (errno == EMBBADCRC || errno == EMBBADDATA))
		return corrupt(wire);
	if (n < 0)
		return broken(wire, errno);
	verdict = n == 0 ? MODBUS_FOREIGN /* the library's word for another serial unit */
	                 : modbus_frame_judge(wire->config.link, &wire->asked, frame, (size_t)n,
	                                      &exception, registers);
	if (verdict == MODBUS_CORRUPT)
		return corrupt(wire);
	if (verdict == MODBUS_FOREIGN) {
		wire->counts.n_foreign++;
		return 0;
	}
	if (is_early(wire, heard_us, (size_t)n)) {
		wire->counts.n_early++;
		return 0;
	}
	/* On a busy machine we may wake long after the time-out, with the reply there: it is
	 * ours, but nobody knows how old. */
	if (heard_us > wire->deadline_us) {
		wire->counts.n_timeouts++;
		return -ETIMEDOUT;
	}
	ret->asked_us = wire->asked_us;
	ret->heard_us = heard_us;
	if (verdict == MODBUS_EXCEPTION) {
		wire->counts.n_exceptions++;
		ret->exception = exception;
		return -EREMOTEIO;
	}
	wire->counts.n_good++;
	if (wire->asked.function == MODBUS_READ_HOLDING ||
	    wire->asked.function == MODBUS_READ_INPUT)
		memcpy(ret->registers, registers, wire->asked.word * sizeof(registers[0]));
	return 1;
}

int modbus_wire_hear(struct modbus_wire *wire, int64_t until_us, struct modbus_reply *ret)
{
	if (wire->library == NULL)
		return -ENOTCONN;
	for (;;) {
		int64_t now_us = pace_now_us();
		const int64_t left_us = wire->deadline_us - now_us;
		int r;

		if (left_us <= 0) {
			wire->counts.n_timeouts++;
			return -ETIMEDOUT;
		}
		r = wait_readable(wire, until_us - now_us < left_us ? until_us - now_us : left_us);
		if (r < 0 && errno != EINTR)
			return broken(wire, errno);
		if (r > 0) {
			r = hear_frame(wire, wire->deadline_us - pace_now_us(), ret);
			if (r != 0)
				return r;
		} else if (pace_now_us() >= until_us && pace_now_us() < wire->deadline_us) {
			return 0;
		}
	}
}
