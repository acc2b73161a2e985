/* SPDX-License-Identifier: MIT */
#include "tests/support/fault_proxy.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#define FRAME_MAX 300u
#define STEP_MS   20 /* how soon a stop is seen */
#define UNIT_MS   1000

struct fault_proxy {
	struct fault_proxy_config config;
	uint64_t chance;
	pthread_t thread;
	atomic_bool stopping;
	int listening; /* TCP */
	int port;
	int keeper;           /* RTU: our side's other end, so that it never hangs up */
	int master, unit;     /* fds to the master and to the unit; -1 none */
	enum fault_kind kind; /* of the reply under way */
	int amount;
	pthread_mutex_t lock; /* over what follows */
	struct fault_proxy_state state;
	enum fault_kind next_kind;
	int next_amount;
	unsigned n_next;
};

static const char *const names[] = {
        [FAULT_NONE] = "none",
        [FAULT_LATE] = "late",
        [FAULT_DROP] = "dropped",
        [FAULT_CRC] = "crc",
        [FAULT_FLIP] = "flipped",
        [FAULT_DATA] = "data",
        [FAULT_TRUNCATE] = "truncated",
        [FAULT_SPLIT] = "split",
        [FAULT_JUNK] = "junk",
        [FAULT_UNIT] = "unit",
        [FAULT_TRANSACTION] = "transaction",
        [FAULT_CLOSE] = "closed",
        [FAULT_EXCEPTION] = "exception",
        [FAULT_TWICE] = "twice",
};

const char *fault_name(enum fault_kind kind)
{
	return kind < FAULT_KINDS ? names[kind] : NULL;
}

static void die(const char *what)
{
	perror(what);
	abort();
}

/* splitmix64 (Steele, Lea and Flood 2014), here once more: the drivers and the tests
 * each have a struct random, and this is linked with both. */
static double between(struct fault_proxy *proxy, double low, double high)
{
	uint64_t z = (proxy->chance += 0x9e3779b97f4a7c15u);

	z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
	z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
	return low + (high - low) * ((double)((z ^ (z >> 31)) >> 11) * 0x1p-53);
}

static void sleep_ms(int ms)
{
	nanosleep(&(struct timespec){.tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000L}, NULL);
}

/* 1 readable, 0 stopped or too late. */
static int wait_fd(struct fault_proxy *proxy, int fd, int timeout_ms)
{
	for (int waited = 0; !atomic_load(&proxy->stopping) && waited < timeout_ms;
	     waited += STEP_MS) {
		struct pollfd p = {.fd = fd, .events = POLLIN};

		if (poll(&p, 1, STEP_MS) > 0)
			return 1;
	}
	return 0;
}

/* Until n bytes are there. False at the end of the link, or when nothing comes. */
static bool read_all(struct fault_proxy *proxy, int fd, uint8_t *ret, size_t n, int timeout_ms)
{
	for (size_t have = 0; have < n;) {
		ssize_t r;

		if (!wait_fd(proxy, fd, timeout_ms))
			return false;
		r = read(fd, ret + have, n - have);
		if (r <= 0)
			return false;
		have += (size_t)r;
	}
	return true;
}

static bool write_all(int fd, const uint8_t *bytes, size_t n)
{
	while (n > 0) {
		ssize_t r = send(fd, bytes, n, MSG_NOSIGNAL);

		if (r < 0 && errno == ENOTSOCK)
			r = write(fd, bytes, n);
		if (r <= 0)
			return false;
		bytes += r;
		n -= (size_t)r;
	}
	return true;
}

/* Functions 3 to 6 only: a request is as long as any other. */
static size_t read_request(struct fault_proxy *proxy, uint8_t *ret)
{
	size_t n = proxy->config.link == MODBUS_TCP ? 12 : 8;

	return read_all(proxy, proxy->master, ret, n, 1 << 30) ? n : 0;
}

static size_t read_reply(struct fault_proxy *proxy, uint8_t *ret)
{
	size_t n;

	if (proxy->config.link == MODBUS_TCP) {
		if (!read_all(proxy, proxy->unit, ret, 6, UNIT_MS))
			return 0;
		n = (size_t)(ret[4] << 8 | ret[5]);
		return n <= 254 && read_all(proxy, proxy->unit, ret + 6, n, UNIT_MS) ? 6 + n : 0;
	}
	if (!read_all(proxy, proxy->unit, ret, 3, UNIT_MS))
		return 0;
	n = (ret[1] & 0x80) != 0 ? 2u : ret[1] >= 5 ? 5u : ret[2] + 2u;
	return read_all(proxy, proxy->unit, ret + 3, n, UNIT_MS) ? 3 + n : 0;
}

static void sign(uint8_t *frame, size_t n)
{
	unsigned crc = modbus_crc16(frame, n - 2);

	frame[n - 2] = (uint8_t)crc;
	frame[n - 1] = (uint8_t)(crc >> 8);
}

static void flip(struct fault_proxy *proxy, uint8_t *frame, size_t from, size_t to)
{
	size_t i = (size_t)between(proxy, (double)from, (double)to);

	frame[i] ^= (uint8_t)(1u << (unsigned)between(proxy, 0, 8));
}

static size_t make_exception(struct fault_proxy *proxy, uint8_t *frame)
{
	const size_t at = proxy->config.link == MODBUS_TCP ? 7 : 1;

	frame[at] |= 0x80;
	frame[at + 1] = (uint8_t)proxy->amount;
	if (proxy->config.link == MODBUS_TCP) {
		frame[5] = 3;
		return 9;
	}
	sign(frame, 5);
	return 5;
}

static bool send_late(struct fault_proxy *proxy, const uint8_t *frame, size_t n)
{
	sleep_ms(proxy->amount);
	return write_all(proxy->master, frame, n);
}

static bool send_split(struct fault_proxy *proxy, const uint8_t *frame, size_t n)
{
	size_t first = (size_t)between(proxy, 1, (double)n);

	return write_all(proxy->master, frame, first) && send_late(proxy, frame + first, n - first);
}

static bool send_junk(struct fault_proxy *proxy, uint8_t *frame, size_t n)
{
	size_t n_junk = (size_t)between(proxy, 1, 5);

	memmove(frame + n_junk, frame, n);
	for (size_t i = 0; i < n_junk; i++)
		frame[i] = (uint8_t)between(proxy, 0, 256);
	return write_all(proxy->master, frame, n + n_junk);
}

/* Sends the reply, spoilt. False: the link is to be closed. */
static bool send_spoilt(struct fault_proxy *proxy, uint8_t *frame, size_t n)
{
	const bool tcp = proxy->config.link == MODBUS_TCP;

	switch (proxy->kind) {
	case FAULT_NONE:
		break;
	case FAULT_LATE:
		return send_late(proxy, frame, n);
	case FAULT_DROP:
		return true;
	case FAULT_CRC:
		frame[n - 1] ^= 0x55;
		break;
	case FAULT_FLIP:
		flip(proxy, frame, 0, tcp ? 9 : n);
		break;
	case FAULT_DATA:
		flip(proxy, frame, tcp ? 9 : 3, tcp ? n : n - 2);
		break;
	case FAULT_TRUNCATE:
		n = (size_t)between(proxy, 1, (double)n);
		break;
	case FAULT_SPLIT:
		return send_split(proxy, frame, n);
	case FAULT_JUNK:
		return send_junk(proxy, frame, n);
	case FAULT_UNIT:
		frame[tcp ? 6 : 0] ^= (uint8_t)between(proxy, 1, 256);
		if (!tcp)
			sign(frame, n);
		break;
	case FAULT_TRANSACTION:
		frame[1] = (uint8_t)(frame[1] - 1);
		break;
	case FAULT_CLOSE:
		return false;
	case FAULT_EXCEPTION:
		n = make_exception(proxy, frame);
		break;
	case FAULT_TWICE:
		memcpy(frame + n, frame, n);
		n *= 2;
		break;
	case FAULT_KINDS:
		break;
	}
	return write_all(proxy->master, frame, n);
}

static void note(struct fault_proxy *proxy, const uint8_t *frame, size_t n, bool spoilt)
{
	const uint8_t *pdu = frame + (proxy->config.link == MODBUS_TCP ? 7 : 1);
	struct fault_proxy_state *state = &proxy->state;

	(void)n;
	pthread_mutex_lock(&proxy->lock);
	state->n_requests++;
	state->n_spoilt += spoilt;
	state->n_of[proxy->kind] += spoilt;
	state->spoilt = spoilt;
	state->n_registers = pdu[0] <= 4 ? pdu[1] / 2u : 0;
	for (size_t i = 0; i < 2 && i < state->n_registers; i++)
		state->registers[i] = (uint16_t)(pdu[2 + 2 * i] << 8 | pdu[3 + 2 * i]);
	pthread_mutex_unlock(&proxy->lock);
}

/* What is to be done to the reply that has come; false: nothing. */
static bool choose(struct fault_proxy *proxy)
{
	bool ordered;

	proxy->kind = proxy->config.kind;
	proxy->amount = proxy->config.amount;
	pthread_mutex_lock(&proxy->lock);
	ordered = proxy->n_next > 0;
	if (ordered) {
		proxy->n_next--;
		proxy->kind = proxy->next_kind;
		proxy->amount = proxy->next_amount;
	}
	pthread_mutex_unlock(&proxy->lock);
	return ordered || between(proxy, 0, 1) < proxy->config.share;
}

/* One exchange after another until the link ends. */
static void serve(struct fault_proxy *proxy)
{
	uint8_t frame[2 * FRAME_MAX];

	for (;;) {
		size_t n = read_request(proxy, frame);
		bool spoilt;

		if (n == 0)
			return;
		if (proxy->config.link == MODBUS_RTU)
			tcflush(proxy->unit, TCIFLUSH);
		if (!write_all(proxy->unit, frame, n))
			return;
		n = read_reply(proxy, frame);
		if (n == 0) {
			if (proxy->config.link == MODBUS_TCP)
				return;
			continue;
		}
		spoilt = choose(proxy);
		note(proxy, frame, n, spoilt);
		if (!(spoilt ? send_spoilt(proxy, frame, n) : write_all(proxy->master, frame, n)))
			return;
	}
}

static void close_fd(int *fd)
{
	if (*fd >= 0)
		close(*fd);
	*fd = -1;
}

static bool accept_tcp(struct fault_proxy *proxy)
{
	struct sockaddr_in address = {.sin_family = AF_INET,
	                              .sin_port = htons((uint16_t)proxy->config.unit_port),
	                              .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	const int on = 1;

	if (!wait_fd(proxy, proxy->listening, 1 << 30))
		return false;
	proxy->master = accept(proxy->listening, NULL, NULL);
	proxy->unit = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
	if (connect(proxy->unit, (struct sockaddr *)&address, sizeof(address)) < 0)
		die("proxy: connect");
	setsockopt(proxy->master, IPPROTO_TCP, TCP_NODELAY, &on, sizeof(on));
	setsockopt(proxy->unit, IPPROTO_TCP, TCP_NODELAY, &on, sizeof(on));
	return true;
}

static void make_raw(int fd)
{
	struct termios settings;

	if (tcgetattr(fd, &settings) < 0)
		die("proxy: tcgetattr");
	cfmakeraw(&settings);
	tcsetattr(fd, TCSANOW, &settings);
}

/* A new port, and the symbolic link to it in one step: the name is always there. */
static void make_port(struct fault_proxy *proxy)
{
	char name[128], beside[300];

	proxy->master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
	if (proxy->master < 0 || grantpt(proxy->master) < 0 || unlockpt(proxy->master) < 0 ||
	    ptsname_r(proxy->master, name, sizeof(name)) != 0)
		die("proxy: pty");
	proxy->keeper = open(name, O_RDWR | O_NOCTTY | O_CLOEXEC);
	make_raw(proxy->keeper);
	snprintf(beside, sizeof(beside), "%.250s.new", proxy->config.link_path);
	unlink(beside);
	if (symlink(name, beside) < 0 || rename(beside, proxy->config.link_path) < 0)
		die("proxy: link");
	proxy->unit = open(proxy->config.unit_path, O_RDWR | O_NOCTTY | O_CLOEXEC);
	if (proxy->unit < 0)
		die(proxy->config.unit_path);
	make_raw(proxy->unit);
}

static void *run(void *context)
{
	struct fault_proxy *proxy = context;

	while (!atomic_load(&proxy->stopping)) {
		if (proxy->config.link == MODBUS_RTU && proxy->master < 0)
			make_port(proxy);
		if (proxy->config.link == MODBUS_TCP && !accept_tcp(proxy))
			break;
		serve(proxy);
		close_fd(&proxy->master);
		close_fd(&proxy->keeper);
		close_fd(&proxy->unit);
	}
	return NULL;
}

static void listen_tcp(struct fault_proxy *proxy)
{
	struct sockaddr_in address = {.sin_family = AF_INET,
	                              .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	socklen_t size = sizeof(address);

	proxy->listening = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
	if (bind(proxy->listening, (struct sockaddr *)&address, sizeof(address)) < 0 ||
	    listen(proxy->listening, 8) < 0 ||
	    getsockname(proxy->listening, (struct sockaddr *)&address, &size) < 0)
		die("proxy: listen");
	proxy->port = ntohs(address.sin_port);
}

struct fault_proxy *fault_proxy_start(const struct fault_proxy_config *config)
{
	struct fault_proxy *proxy = calloc(1, sizeof(*proxy));

	proxy->config = *config;
	proxy->chance = config->seed;
	proxy->listening = proxy->keeper = proxy->master = proxy->unit = -1;
	pthread_mutex_init(&proxy->lock, NULL);
	if (config->link == MODBUS_TCP)
		listen_tcp(proxy);
	else
		make_port(proxy);
	if (pthread_create(&proxy->thread, NULL, run, proxy) != 0)
		die("proxy: thread");
	return proxy;
}

void fault_proxy_stop(struct fault_proxy *proxy)
{
	atomic_store(&proxy->stopping, true);
	pthread_join(proxy->thread, NULL);
	close_fd(&proxy->listening);
	close_fd(&proxy->master);
	close_fd(&proxy->keeper);
	close_fd(&proxy->unit);
	if (proxy->config.link == MODBUS_RTU)
		unlink(proxy->config.link_path);
	pthread_mutex_destroy(&proxy->lock);
	free(proxy);
}

int fault_proxy_port(const struct fault_proxy *proxy)
{
	return proxy->port;
}

void fault_proxy_next(struct fault_proxy *proxy, enum fault_kind kind, int amount, unsigned n)
{
	pthread_mutex_lock(&proxy->lock);
	proxy->next_kind = kind;
	proxy->next_amount = amount;
	proxy->n_next = n;
	pthread_mutex_unlock(&proxy->lock);
}

void fault_proxy_state(struct fault_proxy *proxy, struct fault_proxy_state *ret)
{
	pthread_mutex_lock(&proxy->lock);
	*ret = proxy->state;
	pthread_mutex_unlock(&proxy->lock);
}
