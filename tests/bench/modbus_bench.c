/* SPDX-License-Identifier: MIT */
/* modbus_bench: what one read costs (round trip, CPU of the reading thread) and how many
 * go into a second, against the wire's own limit; and whether a loop of 80 Hz keeps its
 * ticks while a unit drops every question. The units are threads; the
 * serial ones keep the wire's time, as a pty does not. */
#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/tcp.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "drivers/modbus.h"
#include "drivers/modbus_frame.h"
#include "drivers/pace.h"

#define READS_MAX 20000

enum answers { AT_ONCE, AT_WIRE_SPEED, NEVER };

struct unit {
	enum modbus_link link;
	enum answers answers;
	int baud, fd;
};

static void check(int ok, const char *what)
{
	if (!ok) {
		perror(what);
		exit(1);
	}
}

/* Two registers: the float 1.0, so that every reading is like the one before. */
static size_t make_reply(const struct unit *unit, uint8_t *frame)
{
	const size_t at = unit->link == MODBUS_TCP ? 7 : 1;
	const uint8_t word = frame[at + 4];
	unsigned crc;

	frame[at + 1] = (uint8_t)(2 * word);
	memcpy(frame + at + 2, "\x3F\x80\0\0", 4);
	if (unit->link == MODBUS_TCP) {
		frame[5] = (uint8_t)(3 + 2 * word);
		return at + 2 + 2u * word;
	}
	crc = modbus_crc16(frame, 3 + 2u * word);
	frame[3 + 2 * word] = (uint8_t)crc;
	frame[4 + 2 * word] = (uint8_t)(crc >> 8);
	return 5 + 2u * word;
}

/* Ends when the link does. */
static void *be_unit(void *context)
{
	struct unit *unit = context;
	const size_t n_request = unit->link == MODBUS_TCP ? 12 : 8;
	uint8_t frame[64];

	for (;;) {
		int64_t asked_us = 0;
		size_t n;

		for (n = 0; n < n_request;) {
			ssize_t r = read(unit->fd, frame + n, n_request - n);

			if (r <= 0)
				return NULL;
			if (n == 0)
				asked_us = pace_now_us();
			n += (size_t)r;
		}
		if (unit->answers == NEVER)
			continue;
		n = make_reply(unit, frame);
		/* On the wire the request takes its time, then comes a gap, then the reply. */
		if (unit->answers == AT_WIRE_SPEED)
			pace_sleep_until_us(asked_us + modbus_wire_time_us(unit->baud, 10, 8 + n) +
			                    modbus_wire_gap_us(unit->baud, 10));
		if (write(unit->fd, frame, n) != (ssize_t)n)
			return NULL;
	}
}

static struct scale *open_scale(const struct scale_option *options, size_t n)
{
	char message[SCALE_MESSAGE_MAX];
	struct scale *scale = NULL;

	if (modbus_driver.open(options, n, message, &scale) < 0) {
		fprintf(stderr, "%s\n", message);
		exit(1);
	}
	return scale;
}

static struct scale *open_rtu(struct unit *unit, const char *baud, const char *rate_hz)
{
	struct termios settings;
	const char *path;
	int keeper;

	unit->fd = posix_openpt(O_RDWR | O_NOCTTY);
	check(unit->fd >= 0 && grantpt(unit->fd) == 0 && unlockpt(unit->fd) == 0, "pty");
	path = ptsname(unit->fd);
	keeper = open(path, O_RDWR | O_NOCTTY); /* stays open: no hang-up at the end */
	check(tcgetattr(keeper, &settings) == 0, path);
	cfmakeraw(&settings);
	tcsetattr(keeper, TCSANOW, &settings);
	return open_scale((const struct scale_option[]){{"link", "rtu", "b:1"},
	                                                {"device", path, "b:2"},
	                                                {"baud", baud, "b:3"},
	                                                {"rate_hz", rate_hz, "b:4"},
	                                                {"map", "float32 g", "b:5"}},
	                  5);
}

static void *accept_unit(void *context)
{
	struct unit *unit = context;
	const int on = 1;
	int listening = unit->fd;

	unit->fd = accept(listening, NULL, NULL);
	setsockopt(unit->fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof(on));
	return be_unit(unit);
}

static struct scale *open_tcp(struct unit *unit)
{
	struct sockaddr_in address = {.sin_family = AF_INET,
	                              .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	socklen_t size = sizeof(address);
	static char port[16];

	unit->fd = socket(AF_INET, SOCK_STREAM, 0);
	check(bind(unit->fd, (struct sockaddr *)&address, sizeof(address)) == 0 &&
	              listen(unit->fd, 1) == 0 &&
	              getsockname(unit->fd, (struct sockaddr *)&address, &size) == 0,
	      "listen");
	snprintf(port, sizeof(port), "%d", ntohs(address.sin_port));
	return open_scale((const struct scale_option[]){{"link", "tcp", "b:1"},
	                                                {"host", "127.0.0.1", "b:2"},
	                                                {"port", port, "b:3"},
	                                                {"rate_hz", "1000", "b:4"},
	                                                {"map", "float32 g", "b:5"}},
	                  5);
}

static int64_t cpu_us(void)
{
	struct timespec now;

	clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
	return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

static int by_size(const void *a, const void *b)
{
	const int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;

	return (x > y) - (x < y);
}

static void measure(const char *name, struct scale *scale, int n_reads, double limit_per_s)
{
	static int64_t took_us[READS_MAX], trip_us[READS_MAX];
	char message[SCALE_MESSAGE_MAX];
	struct scale_sample sample;
	struct modbus_scale_counts counts;
	int64_t begun_us, before_us, cpu_before_us;
	double seconds;
	int n = 0;

	for (int turn = 0; turn < 100; turn++)
		if (modbus_driver.read(scale, 100, &sample, message) == 1)
			break;
	begun_us = before_us = pace_now_us();
	cpu_before_us = cpu_us();
	for (int turn = 0; turn < 2 * n_reads && n < n_reads; turn++) {
		if (modbus_driver.read(scale, 1000, &sample, message) != 1)
			continue;
		/* A sample's time is the middle of its exchange. */
		trip_us[n] = 2 * (pace_now_us() - sample.t_us);
		took_us[n++] = pace_now_us() - before_us;
		before_us = pace_now_us();
	}
	seconds = (double)(before_us - begun_us) * 1e-6;
	qsort(took_us, (size_t)n, sizeof(took_us[0]), by_size);
	qsort(trip_us, (size_t)n, sizeof(trip_us[0]), by_size);
	modbus_scale_counts(scale, &counts);
	printf("%-28s %6d reads, round trip %.2f ms, from one to the next %.2f ms (median; %.2f to "
	       "%.2f), %.1f a "
	       "second",
	       name, n, (double)trip_us[n / 2] * 1e-3, (double)took_us[n / 2] * 1e-3,
	       (double)took_us[0] * 1e-3, (double)took_us[n - 1] * 1e-3, n / seconds);
	if (limit_per_s > 0.0)
		printf(" = %.3f of the wire's %.1f", n / seconds / limit_per_s, limit_per_s);
	printf(", CPU %.1f us a read, %llu failed\n", (double)(cpu_us() - cpu_before_us) / n,
	       (unsigned long long)(counts.wire.n_asked - counts.wire.n_good));
	fflush(stdout);
}

static atomic_bool stopping;

static void *keep_reading(void *context)
{
	char message[SCALE_MESSAGE_MAX];
	struct scale_sample sample;

	while (!atomic_load(&stopping))
		modbus_driver.read(context, 100, &sample, message);
	return NULL;
}

/* Ticks that came before the next was due. */
static void tick_beside(struct scale *scale)
{
	const int64_t begun_us = pace_now_us();
	int n_kept = 0;
	pthread_t reader;

	pthread_create(&reader, NULL, keep_reading, scale);
	for (int i = 1; i <= 320; i++) {
		pace_sleep_until_us(begun_us + i * 12500);
		n_kept += pace_now_us() < begun_us + (i + 1) * 12500;
	}
	atomic_store(&stopping, true);
	pthread_join(reader, NULL);
	printf("80 Hz beside a unit that drops every question: %d of 320 ticks in 4 s\n", n_kept);
}

int main(void)
{
	static struct unit slow = {MODBUS_RTU, AT_WIRE_SPEED, 9600, -1};
	static struct unit quick = {MODBUS_RTU, AT_WIRE_SPEED, 921600, -1};
	static struct unit tcp = {MODBUS_TCP, AT_ONCE, 0, -1};
	static struct unit dead = {MODBUS_TCP, NEVER, 0, -1};
	struct scale *scale;
	pthread_t thread;

	scale = open_rtu(&slow, "9600", "40");
	pthread_create(&thread, NULL, be_unit, &slow);
	measure("RTU 9600 8N1, at its speed", scale, 200,
	        1e6 / (double)modbus_wire_read_us(9600, 10, 2));
	modbus_driver.close(scale);

	scale = open_rtu(&quick, "921600", "250");
	pthread_create(&thread, NULL, be_unit, &quick);
	measure("RTU 921600 8N1, at its speed", scale, 1000,
	        1e6 / (double)modbus_wire_read_us(921600, 10, 2));
	modbus_driver.close(scale);

	scale = open_tcp(&tcp);
	pthread_create(&thread, NULL, accept_unit, &tcp);
	measure("TCP, 1000 reads/s asked", scale, 3000, 0.0);
	modbus_driver.close(scale);

	scale = open_tcp(&dead);
	pthread_create(&thread, NULL, accept_unit, &dead);
	tick_beside(scale);
	modbus_driver.close(scale);
	return 0;
}
