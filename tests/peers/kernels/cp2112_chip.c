/* SPDX-License-Identifier: MIT */
/* cp2112_chip CONTROL WORDS LINES RATE_HZ: a USB GPIO bridge (Silicon Labs CP2112,
 * application note AN495) in user space, over /dev/uhid, with an HX711 soldered to lines
 * 0 (clock) and 1 (data), a foot switch to ground on line 2 and a panel on 3 to 7. The
 * stock kernel's hid-cp2112 drives it: each of its sets and gets waits for this process,
 * so they are in lock step. All time is the machine's own.
 *
 * CONTROL, a FIFO, takes lines: `load COUNTS`, `slope COUNTS_PER_S`, `foot 0|1`,
 * `dead high|low|no`, `restart`, `say TEXT` (into LINES). WORDS gets every word that was
 * clocked out whole, LINES every change of an output: t_us line level. */
#include <errno.h>
#include <fcntl.h>
#include <linux/uhid.h>
#include <poll.h>
#include <sched.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "tests/support/hx711_chip.h"

#define CLOCK_LINE 0
#define DATA_LINE  1
#define FOOT_LINE  2

enum report { GPIO_CONFIG = 2, GPIO_GET = 3, GPIO_SET = 4, VERSION = 5, SMBUS_CONFIG = 6 };

/* A vendor's page with one input report: all the kernel's driver asks for. */
static const uint8_t descriptor[] = {0x06, 0x00, 0xff, 0x09, 0x01, 0xa1, 0x01, 0x15,
                                     0x00, 0x26, 0xff, 0x00, 0x75, 0x08, 0x95, 0x3f,
                                     0x85, 0x01, 0x09, 0x01, 0x81, 0x02, 0xc0};

static struct {
	int uhid;
	FILE *words, *lines;
	struct hx711_chip chip;
	uint8_t direction, latch; /* a bit a line; direction 1: output */
	bool foot_down;
	double load, slope_per_s;
	int64_t load_ns;
	uint32_t seed;
	unsigned frames;
	int32_t newest;
} bridge;

static int64_t now_ns(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

static void bring_load(void)
{
	const int64_t now = now_ns();

	bridge.load += bridge.slope_per_s * (double)(now - bridge.load_ns) / 1e9;
	bridge.load_ns = now;
}

static int32_t sample(void *context, int input)
{
	double noise = 0.0;

	(void)context;
	(void)input;
	bring_load();
	for (int i = 0; i < 12; i++) { /* near enough to normal, sd 8 counts */
		bridge.seed = bridge.seed * 1664525u + 1013904223u; /* Numerical Recipes, 7.1 */
		noise += (double)(bridge.seed >> 8) / 0x1p24 - 0.5;
	}
	bridge.newest = (int32_t)(bridge.load + 8.0 * noise);
	return bridge.newest;
}

/* A word is told of when its 25th pulse has ended: by then the reader has all of it. */
static void tell_word(void)
{
	if (bridge.chip.pulses != 25 || bridge.frames == bridge.chip.conversions)
		return;
	bridge.frames = bridge.chip.conversions;
	fprintf(bridge.words, "%d\n", ((int32_t)(bridge.chip.word << 8)) / 256);
	fflush(bridge.words);
}

static void set_lines(uint8_t values, uint8_t mask)
{
	const uint8_t before = bridge.latch;
	const int64_t now = now_ns();

	bridge.latch = (uint8_t)((before & ~mask) | (values & mask));
	if (mask & 1u << CLOCK_LINE) {
		hx711_chip_clock(&bridge.chip, bridge.latch & 1u << CLOCK_LINE ? 1 : 0, now);
		if ((bridge.latch & 1u << CLOCK_LINE) == 0)
			tell_word();
	}
	for (int line = FOOT_LINE + 1; line < 8; line++)
		if ((before ^ bridge.latch) & 1u << line)
			fprintf(bridge.lines, "%lld %d %d\n", (long long)(now / 1000), line,
			        bridge.latch >> line & 1);
	fflush(bridge.lines);
}

static uint8_t get_lines(void)
{
	uint8_t lines = (uint8_t)(bridge.latch & bridge.direction);

	if (hx711_chip_data(&bridge.chip, now_ns()))
		lines |= 1u << DATA_LINE;
	if (!bridge.foot_down)
		lines |= 1u << FOOT_LINE;
	return lines;
}

static void send_event(const struct uhid_event *event)
{
	if (write(bridge.uhid, event, sizeof(*event)) < 0) {
		perror("/dev/uhid");
		exit(1);
	}
}

static void answer_get(const struct uhid_event *asked)
{
	struct uhid_event answer = {.type = UHID_GET_REPORT_REPLY};
	struct uhid_get_report_reply_req *reply = &answer.u.get_report_reply;

	reply->id = asked->u.get_report.id;
	reply->data[0] = asked->u.get_report.rnum;
	switch (asked->u.get_report.rnum) {
	case GPIO_CONFIG:
		reply->data[1] = bridge.direction;
		reply->size = 5;
		break;
	case GPIO_GET:
		reply->data[1] = get_lines();
		reply->size = 2;
		break;
	case VERSION:
		reply->data[1] = 0x0c; /* part number */
		reply->data[2] = 0x02;
		reply->size = 3;
		break;
	case SMBUS_CONFIG:
		reply->size = 14;
		break;
	default:
		reply->err = EIO;
	}
	send_event(&answer);
}

static void answer_set(const struct uhid_event *asked)
{
	struct uhid_event answer = {.type = UHID_SET_REPORT_REPLY};
	const uint8_t *data = asked->u.set_report.data;

	answer.u.set_report_reply.id = asked->u.set_report.id;
	if (data[0] == GPIO_CONFIG)
		bridge.direction = data[1];
	else if (data[0] == GPIO_SET)
		set_lines(data[1], data[2]);
	send_event(&answer);
}

static void obey(char *line)
{
	bring_load();
	if (strncmp(line, "load ", 5) == 0)
		bridge.load = atof(line + 5);
	else if (strncmp(line, "slope ", 6) == 0)
		bridge.slope_per_s = atof(line + 6);
	else if (strncmp(line, "foot ", 5) == 0)
		bridge.foot_down = line[5] == '1';
	else if (strcmp(line, "restart") == 0)
		hx711_chip_restart(&bridge.chip, now_ns());
	else if (strncmp(line, "dead ", 5) == 0) {
		bridge.chip.dead_high = strcmp(line + 5, "high") == 0;
		bridge.chip.dead_low = strcmp(line + 5, "low") == 0;
	} else if (strncmp(line, "say ", 4) == 0)
		fprintf(bridge.lines,
		        "%lld # %s; rules broken: early %u %u, high %u %u, low %u, "
		        "odd frames %u; unread %u, resets %u\n",
		        (long long)(now_ns() / 1000), line + 4, bridge.chip.early,
		        bridge.chip.early_reads, bridge.chip.short_high, bridge.chip.long_high,
		        bridge.chip.short_low, bridge.chip.odd_frames, bridge.chip.unread,
		        bridge.chip.resets);
	fflush(bridge.lines);
}

static void read_control(int fd)
{
	static char buffer[512];
	static size_t length;
	ssize_t n = read(fd, buffer + length, sizeof(buffer) - 1 - length);
	char *end;

	if (n <= 0)
		return;
	length += (size_t)n;
	buffer[length] = '\0';
	while ((end = strchr(buffer, '\n')) != NULL) {
		*end = '\0';
		obey(buffer);
		length -= (size_t)(end + 1 - buffer);
		memmove(buffer, end + 1, length + 1);
	}
}

static int plug_in(void)
{
	struct uhid_event event = {.type = UHID_CREATE2};

	bridge.uhid = open("/dev/uhid", O_RDWR | O_CLOEXEC);
	if (bridge.uhid < 0)
		return -errno;
	strcpy((char *)event.u.create2.name, "GPIO bridge of the tests");
	memcpy(event.u.create2.rd_data, descriptor, sizeof(descriptor));
	event.u.create2.rd_size = sizeof(descriptor);
	event.u.create2.bus = 3; /* USB */
	event.u.create2.vendor = 0x10c4;
	event.u.create2.product = 0xea90;
	send_event(&event);
	return 0;
}

int main(int argc, char **argv)
{
	const struct sched_param first = {.sched_priority = 80};
	struct uhid_event event;
	int control;

	if (argc != 5)
		return 2;
	bridge.words = fopen(argv[2], "w");
	bridge.lines = fopen(argv[3], "w");
	control = open(argv[1], O_RDWR | O_CLOEXEC);
	if (bridge.words == NULL || bridge.lines == NULL || control < 0)
		return 1;
	/* It stands for hardware, which never waits for a processor. */
	sched_setscheduler(0, SCHED_FIFO, &first);
	bridge.load_ns = now_ns();
	hx711_chip_init(&bridge.chip, atof(argv[4]), sample, NULL, now_ns());
	if (plug_in() < 0) {
		perror("/dev/uhid");
		return 1;
	}
	for (;;) {
		struct pollfd waits[2] = {{.fd = bridge.uhid, .events = POLLIN},
		                          {.fd = control, .events = POLLIN}};

		if (poll(waits, 2, -1) < 0)
			return 1;
		if (waits[1].revents != 0)
			read_control(control);
		if (waits[0].revents == 0)
			continue;
		if (read(bridge.uhid, &event, sizeof(event)) <= 0)
			return 1;
		if (event.type == UHID_GET_REPORT)
			answer_get(&event);
		else if (event.type == UHID_SET_REPORT)
			answer_set(&event);
	}
}
