/* SPDX-License-Identifier: MIT */
#include "simulated.h"

#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include "options.h"
#include "pace.h"

/* The state file: two slots written in turn, so that one of them is whole whenever the
 * program is killed. turn counts the saves; the slot to read is turn % 2. */
struct state {
	_Atomic uint64_t turn; /* 0: new file */
	unsigned char slots[];
};

struct scale {
	pthread_mutex_t lock; /* over bench and state: read() and act() are of two threads */
	struct bench *bench;
	struct pace pace;
	int state_fd; /* -1: none */
	struct state *state;
};

struct simulated_options {
	struct bench_config bench;
	double seed, speed;
	const char *state;
	const char *state_where; /* file:line, for messages */
};

static int read_options(const struct scale_option *options, size_t n_options, option_report *report,
                        void *context, struct simulated_options *ret)
{
	struct bench_config *bench = &ret->bench;
	const struct option_spec specs[] = {
	        {"seed", OPTION_WHOLE, false, 0, 0x1p53, "", &ret->seed},
	        {"rate_hz", OPTION_NUMBER, false, 1, 1000, "samples/s", &bench->rate_hz},
	        {"speed", OPTION_NUMBER, false, 0, 10000, "(1: true speed, 0: as fast as it can)",
	         &ret->speed},
	        {"noise_g", OPTION_NUMBER, false, 0, 100, "g", &bench->noise_g},
	        {"corrupt_ratio", OPTION_NUMBER, false, 0, 0.5, "of the samples",
	         &bench->corrupt_ratio},
	        {"warm_up_counts_per_s", OPTION_NUMBER, false, -1000, 1000, "counts/s",
	         &bench->warm_up_counts_per_s},
	        {"creep_ratio", OPTION_NUMBER, false, -0.1, 0.1, "of the load in 30 min",
	         &bench->creep_ratio},
	        {"counts_per_g", OPTION_NUMBER, false, 0.001, 1e6, "counts/g",
	         &bench->counts_per_g},
	        {"zero_counts", OPTION_NUMBER, false, -8388608, 8388607, "counts",
	         &bench->zero_counts},
	        {"max_g", OPTION_NUMBER, false, 1, 1e6, "g", &bench->max_g},
	        {"state", OPTION_TEXT, false, 0, 0, "the path of a file", &ret->state},
	};
	int n;

	*ret = (struct simulated_options){.seed = 1.0, .speed = 1.0};
	bench_config_default(bench);
	n = options_read("simulated", options, n_options, specs, sizeof(specs) / sizeof(specs[0]),
	                 report, context);
	for (size_t i = 0; i < n_options; i++)
		if (strcmp(options[i].key, "state") == 0)
			ret->state_where = options[i].where;
	bench->seed = (uint64_t)ret->seed;
	bench->overload_g = 0.5 * bench->max_g;
	return n;
}

static int simulated_check(const struct scale_option *options, size_t n_options,
                           option_report *report, void *context)
{
	struct simulated_options parsed;

	return read_options(options, n_options, report, context, &parsed);
}

static size_t state_size(void)
{
	return sizeof(struct state) + 2 * bench_size();
}

static void save(struct scale *scale)
{
	uint64_t turn;

	if (scale->state == NULL)
		return;
	turn = atomic_load_explicit(&scale->state->turn, memory_order_relaxed) + 1;
	bench_save(scale->bench, scale->state->slots + turn % 2 * bench_size());
	atomic_store_explicit(&scale->state->turn, turn, memory_order_release);
}

/* One bench, one daemon. The lock goes with the process, however it ends. */
static int lock_file(int fd)
{
	struct flock lock = {.l_type = F_WRLCK, .l_whence = SEEK_SET};

	return fcntl(fd, F_SETLK, &lock) < 0 ? -EBUSY : 0;
}

/* Puts "file:line: state: 'path' ..." in message and returns r. */
static int refuse(const struct simulated_options *options, char *message, int r, const char *why)
{
	snprintf(message, SCALE_MESSAGE_MAX, "%.150s: state: '%.200s' %s", options->state_where,
	         options->state, why);
	return r;
}

static int refuse_errno(const struct simulated_options *options, char *message, int error)
{
	char why[128];

	snprintf(why, sizeof(why), "cannot be used (%s); expected a file that can be written",
	         strerror(error));
	return refuse(options, message, -error, why);
}

static const char not_a_bench[] = "holds no bench of this version; expected one, or no file";

static int map_state(struct scale *scale, const struct simulated_options *options, char *message)
{
	struct stat status;
	void *map;
	int r;

	scale->state_fd = open(options->state, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
	if (scale->state_fd < 0 || fstat(scale->state_fd, &status) < 0)
		return refuse_errno(options, message, errno);
	if (lock_file(scale->state_fd) < 0)
		return refuse(options, message, -EBUSY,
		              "is in use by another process; expected a file of its own");
	if (status.st_size != 0 && (size_t)status.st_size != state_size())
		return refuse(options, message, -EINVAL, not_a_bench);
	/* Allocated, not only sized: a full disk must show here, not as a SIGBUS. */
	r = status.st_size == 0 ? posix_fallocate(scale->state_fd, 0, (off_t)state_size()) : 0;
	if (r != 0)
		return refuse_errno(options, message, r);
	map = mmap(NULL, state_size(), PROT_READ | PROT_WRITE, MAP_SHARED, scale->state_fd, 0);
	if (map == MAP_FAILED)
		return refuse_errno(options, message, errno);
	scale->state = map;
	return 0;
}

static int make_bench(struct scale *scale, const struct simulated_options *options, char *message)
{
	uint64_t turn;
	int r;

	if (options->state != NULL) {
		r = map_state(scale, options, message);
		if (r < 0)
			return r;
	}
	turn = scale->state != NULL ? atomic_load(&scale->state->turn) : 0;
	if (turn > 0)
		r = bench_restore(scale->state->slots + turn % 2 * bench_size(), &options->bench,
		                  &scale->bench);
	else
		r = bench_new(&options->bench, &scale->bench);
	if (r == -EINVAL && turn > 0)
		return refuse(options, message, r, not_a_bench);
	if (r < 0)
		snprintf(message, SCALE_MESSAGE_MAX, "simulated: cannot be set up: %s",
		         strerror(-r));
	return r;
}

static void simulated_close(struct scale *scale)
{
	if (scale == NULL)
		return;
	if (scale->state != NULL)
		munmap(scale->state, state_size());
	if (scale->state_fd >= 0)
		close(scale->state_fd);
	bench_free(scale->bench);
	pthread_mutex_destroy(&scale->lock);
	free(scale);
}

static int simulated_open(const struct scale_option *options, size_t n_options, char *message,
                          struct scale **ret)
{
	struct simulated_options parsed;
	struct scale *scale;
	int r;

	message[0] = '\0';
	if (read_options(options, n_options, option_keep_first, message, &parsed) > 0)
		return -EINVAL;
	scale = calloc(1, sizeof(*scale));
	if (scale == NULL) {
		snprintf(message, SCALE_MESSAGE_MAX, "simulated: there is no memory to open it");
		return -ENOMEM;
	}
	scale->state_fd = -1;
	scale->pace.speed = parsed.speed;
	pthread_mutex_init(&scale->lock, NULL);
	r = make_bench(scale, &parsed, message);
	if (r < 0) {
		simulated_close(scale);
		return r;
	}
	save(scale);
	*ret = scale;
	return 0;
}

static int simulated_read(struct scale *scale, int timeout_ms, struct scale_sample *ret_sample,
                          char *message)
{
	const int64_t timeout_us = (int64_t)timeout_ms * 1000;
	const int64_t deadline_us = pace_now_us() + timeout_us;
	int64_t next_us, silent_us = 0;
	int r;

	(void)message; /* a bench does not fail */
	do {
		/* Only this thread moves the time, so reading it needs no lock. */
		next_us = bench_next_us(scale->bench);
		if (!pace_wait(&scale->pace, next_us, deadline_us)) {
			ret_sample->t_us = pace_own_us(&scale->pace, next_us);
			return 0;
		}
		pthread_mutex_lock(&scale->lock);
		silent_us += next_us - bench_time_us(scale->bench);
		r = bench_next(scale->bench, ret_sample);
		save(scale);
		pthread_mutex_unlock(&scale->lock);
		/* As fast as it can, silence lasts as long as it would in its own time. */
	} while (r == 0 && (scale->pace.speed > 0.0 || silent_us < timeout_us));
	if (r == 0)
		ret_sample->t_us = bench_time_us(scale->bench);
	return r;
}

static int simulated_act(struct scale *scale, const char *verb, double amount)
{
	int r;

	pthread_mutex_lock(&scale->lock);
	r = bench_act(scale->bench, verb, amount);
	save(scale);
	pthread_mutex_unlock(&scale->lock);
	return r;
}

const struct scale_driver simulated_driver = {
        .name = "simulated",
        .own_time = 1,
        .open = simulated_open,
        .check = simulated_check,
        .read = simulated_read,
        .act = simulated_act,
        .close = simulated_close,
};
