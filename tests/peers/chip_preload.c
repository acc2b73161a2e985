/* SPDX-License-Identifier: MIT */
/* An HX711 on the lines of a GPIO chip inside the unmodified ambod: loaded before
 * libgpiod (LD_PRELOAD), it answers libgpiod's calls with the stand-in of fake_gpiod.h,
 * and behind lines 4 (clock) and 5 (data) of the chip "bench" there is hx711_chip.h. All
 * time is the machine's own: a wait sleeps, a pulse is as long as it is held.
 *
 * AMBO_CHIP names a folder with a FIFO `control`, which takes lines:
 *   rate HZ                   10 or 80, before ambod opens the lines
 *   load T_NS COUNTS PER_S    the bridge from CLOCK_MONOTONIC T_NS on
 *   rail 1|0                  the bridge is at its end
 *   dead high|low|no          the data line
 *   long                      the next frame has a clock pulse of 70 us
 *   restart                   the supply fails for a moment, between two conversions
 *   glitch                    the clock is high for 100 us there: power-down and reset
 *   say                       one line of counts to the file `said` */
#include <fcntl.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "tests/support/fake_gpiod.h"
#include "tests/support/hx711_chip.h"

#define CLOCK   4u
#define DATA    5u
#define LONG_NS 70000
#define NOISE   8.0 /* counts: sd of a conversion */

static struct {
	pthread_mutex_t lock; /* over all of it */
	struct hx711_chip chip;
	double load, per_s;
	int64_t load_ns;
	bool rail, make_long;
	unsigned n_long, falls;
	uint32_t seed;
	FILE *control;
	char said[256];
} bench = {.lock = PTHREAD_MUTEX_INITIALIZER, .load = 190000.0};

static int64_t now_ns(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

static void sleep_until_ns(int64_t until_ns)
{
	const struct timespec until = {.tv_sec = until_ns / 1000000000,
	                               .tv_nsec = until_ns % 1000000000};

	clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &until, NULL);
}

static int32_t sample(void *context, int input)
{
	const double since_s = (double)(bench.chip.next_ns - bench.load_ns) * 1e-9;
	double noise = 0.0;

	(void)context;
	(void)input;
	if (bench.rail)
		return 0x7fffff;
	for (int i = 0; i < 12; i++) {                            /* near enough to normal */
		bench.seed = bench.seed * 1664525u + 1013904223u; /* Numerical Recipes, 7.1 */
		noise += (double)(bench.seed >> 8) / 0x1p24 - 0.5;
	}
	return (int32_t)(bench.load + bench.per_s * (since_s > 0.0 ? since_s : 0.0) +
	                 NOISE * noise);
}

/* As the kernel does: each falling edge of the data pin is kept until it is taken. */
static void raise_edges(void)
{
	struct fake_line *pin = &fake_gpiod.line[DATA];

	for (; bench.falls != bench.chip.falls; bench.falls++) {
		pin->edges += pin->edges < 16;
		pin->edge_ns = bench.chip.fell_ns;
	}
}

static void on_set(void *context, unsigned line, int level)
{
	(void)context;
	if (line != CLOCK)
		return;
	pthread_mutex_lock(&bench.lock);
	hx711_chip_clock(&bench.chip, level, now_ns());
	raise_edges();
	if (level == 1 && bench.make_long && bench.chip.pulses == 5) {
		const int64_t until_ns = now_ns() + LONG_NS;

		bench.make_long = false;
		bench.n_long++;
		while (now_ns() < until_ns)
			;
	}
	pthread_mutex_unlock(&bench.lock);
}

static int on_get(void *context, unsigned line)
{
	int level = 0;

	(void)context;
	if (line != DATA)
		return 0;
	pthread_mutex_lock(&bench.lock);
	level = hx711_chip_data(&bench.chip, now_ns());
	raise_edges();
	pthread_mutex_unlock(&bench.lock);
	return level;
}

/* Sleeps in pieces of a period at most: what the control does may move the next edge. */
static void on_wait(void *context, unsigned line, int64_t timeout_ns)
{
	const int64_t until_ns = now_ns() + timeout_ns;

	(void)context;
	while (now_ns() < until_ns) {
		int64_t wake_ns;

		pthread_mutex_lock(&bench.lock);
		hx711_chip_advance(&bench.chip, now_ns());
		raise_edges();
		wake_ns = now_ns() + bench.chip.period_ns / 2;
		if (hx711_chip_next_ns(&bench.chip) < wake_ns)
			wake_ns = hx711_chip_next_ns(&bench.chip);
		pthread_mutex_unlock(&bench.lock);
		if (line != DATA || fake_gpiod.line[line].edges > 0)
			return;
		sleep_until_ns(wake_ns < until_ns ? wake_ns : until_ns);
	}
}

/* With the lock held again: three quarters of a period after a conversion that has been
 * read. Earlier a restart of this chip leaves no gap (hx711.h). */
static void await_gap(void)
{
	for (int tries = 0; tries < 200; tries++) {
		const struct hx711_chip *chip = &bench.chip;
		const int64_t since_ns = now_ns() - chip->ready_ns;

		if (!chip->off && chip->pulses >= 25 && 4 * since_ns > 3 * chip->period_ns &&
		    20 * since_ns < 19 * chip->period_ns)
			return;
		pthread_mutex_unlock(&bench.lock);
		sleep_until_ns(now_ns() + bench.chip.period_ns / 20);
		pthread_mutex_lock(&bench.lock);
		hx711_chip_advance(&bench.chip, now_ns());
		raise_edges();
	}
}

static void glitch(void)
{
	await_gap();
	hx711_chip_clock(&bench.chip, 1, now_ns());
	sleep_until_ns(now_ns() + 100000);
	hx711_chip_clock(&bench.chip, 0, now_ns());
}

static void say(void)
{
	const struct hx711_chip *chip = &bench.chip;
	FILE *file = fopen(bench.said, "a");

	if (file == NULL)
		return;
	/* A long pulse may be the machine's doing; no other rule may be broken. */
	fprintf(file, "frames %u resets %u powerdowns %u long %u off %d broken %u\n", chip->frames,
	        chip->resets, chip->powerdowns, bench.n_long, chip->off,
	        hx711_chip_broken(chip) - chip->long_high);
	fclose(file);
}

static void obey(const char *line)
{
	double rate_hz;
	long long t_ns;

	hx711_chip_advance(&bench.chip, now_ns());
	if (sscanf(line, "rate %lf", &rate_hz) == 1)
		hx711_chip_init(&bench.chip, rate_hz, sample, NULL, now_ns());
	else if (sscanf(line, "load %lld %lf %lf", &t_ns, &bench.load, &bench.per_s) == 3)
		bench.load_ns = t_ns;
	else if (strncmp(line, "rail ", 5) == 0)
		bench.rail = line[5] == '1';
	else if (strncmp(line, "dead ", 5) == 0) {
		bench.chip.dead_high = strncmp(line + 5, "high", 4) == 0;
		bench.chip.dead_low = strncmp(line + 5, "low", 3) == 0;
	} else if (strcmp(line, "long\n") == 0)
		bench.make_long = true;
	else if (strcmp(line, "restart\n") == 0) {
		await_gap();
		hx711_chip_restart(&bench.chip, now_ns());
	} else if (strcmp(line, "glitch\n") == 0)
		glitch();
	else if (strcmp(line, "say\n") == 0)
		say();
	raise_edges();
}

static void *control(void *context)
{
	char line[128];

	(void)context;
	while (fgets(line, sizeof(line), bench.control) != NULL) {
		pthread_mutex_lock(&bench.lock);
		obey(line);
		pthread_mutex_unlock(&bench.lock);
	}
	return NULL;
}

__attribute__((constructor)) static void begin(void)
{
	const char *folder = getenv("AMBO_CHIP");
	sigset_t all, before;
	pthread_t thread;
	char path[256];
	int fd;

	if (folder == NULL)
		return;
	snprintf(path, sizeof(path), "%s/control", folder);
	snprintf(bench.said, sizeof(bench.said), "%s/said", folder);
	fd = open(path, O_RDWR | O_CLOEXEC); /* both ways: it never ends */
	bench.control = fd < 0 ? NULL : fdopen(fd, "r");
	if (bench.control == NULL) {
		perror(path);
		abort();
	}
	hx711_chip_init(&bench.chip, 80.0, sample, NULL, now_ns());
	fake_gpiod.on_set = on_set;
	fake_gpiod.on_get = on_get;
	fake_gpiod.on_wait = on_wait;
	/* ambod's signals are its loop's. */
	sigfillset(&all);
	pthread_sigmask(SIG_SETMASK, &all, &before);
	if (pthread_create(&thread, NULL, control, NULL) != 0)
		abort();
	pthread_sigmask(SIG_SETMASK, &before, NULL);
}
