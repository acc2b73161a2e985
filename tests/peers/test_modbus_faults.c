/* SPDX-License-Identifier: MIT */
/* test_modbus_faults tcp|rtu: the driver against pymodbus with a middleman who spoils
 * many of the replies, a kind a link, several links at once. The unit's value counts its
 * reads, so that each reply can be told from every other. 100 exchanges a kind at true
 * times; with AMBO_LONG=1 also 10 000 with the times scaled. */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/modbus.h"
#include "tests/support/fault_proxy.h"
#include "tests/support/modbus_peer.h"

#define JUMP_COUNTS 10

struct times {
	const char *name;
	uint64_t n_exchanges;
	int timeout_ms, late_ms, too_late_ms, split_ms;
	size_t n_threads;
	double share; /* of the replies spoilt */
};
static const struct times true_times = {"true times", 100, 300, 100, 500, 150, 16, 0.3};
static const struct times scaled_times = {"scaled times", 10000, 20, 15, 30, 5, 8, 0.3};

/* What of a kind may become a reading. */
enum expected {
	ALL_GOOD, /* the spoilt ones too: they are only slow */
	CLEAN_ONLY,
	PLAUSIBLE, /* nothing in the frame shows the damage: what the gate cannot see */
};

struct fault {
	const char *name;
	enum fault_kind kind;
	int amount;
	enum expected expected;
	double share; /* of the times' */
	bool tcp, rtu;
};

struct job {
	struct fault fault;
	struct fault_proxy_state seen;
	struct modbus_scale_counts counts;
	uint64_t n_samples, n_told, n_wrong, n_slipped;
	char wrong[256];
};

static enum modbus_link link_kind;
static struct modbus_peer *peer;
static const struct times *times;
static struct job jobs[16];
static size_t n_jobs;
static atomic_size_t next_job;

static void make_jobs(void)
{
	const struct fault all[] = {
	        {"none", FAULT_NONE, 0, CLEAN_ONLY, 0.0, true, true},
	        {"late", FAULT_LATE, times->late_ms, ALL_GOOD, 1.0, true, true},
	        {"too late", FAULT_LATE, times->too_late_ms, CLEAN_ONLY, 1.0, true, true},
	        {"dropped", FAULT_DROP, 0, CLEAN_ONLY, 1.0, true, true},
	        {"CRC broken", FAULT_CRC, 0, CLEAN_ONLY, 1.0, false, true},
	        {"bit flipped", FAULT_FLIP, 0, CLEAN_ONLY, 1.0, true, true},
	        {"data bit flipped", FAULT_DATA, 0, PLAUSIBLE, 0.2, true, false},
	        {"truncated", FAULT_TRUNCATE, 0, CLEAN_ONLY, 1.0, true, true},
	        {"split", FAULT_SPLIT, times->split_ms, ALL_GOOD, 1.0, true, true},
	        {"junk first", FAULT_JUNK, 0, CLEAN_ONLY, 1.0, true, true},
	        {"wrong unit", FAULT_UNIT, 0, CLEAN_ONLY, 1.0, true, true},
	        {"wrong transaction", FAULT_TRANSACTION, 0, CLEAN_ONLY, 1.0, true, false},
	        {"closed", FAULT_CLOSE, 0, CLEAN_ONLY, 1.0, true, true},
	        {"exception 2", FAULT_EXCEPTION, 2, CLEAN_ONLY, 1.0, true, true},
	        {"exception 4", FAULT_EXCEPTION, 4, CLEAN_ONLY, 1.0, true, true},
	        {"exception 6", FAULT_EXCEPTION, 6, CLEAN_ONLY, 1.0, true, true},
	        {"twice", FAULT_TWICE, 0, ALL_GOOD, 1.0, true, true},
	};

	n_jobs = 0;
	for (size_t i = 0; i < sizeof(all) / sizeof(all[0]); i++)
		if (link_kind == MODBUS_TCP ? all[i].tcp : all[i].rtu)
			jobs[n_jobs++] = (struct job){.fault = all[i]};
	atomic_store(&next_job, 0);
}

static struct scale *open_scale(const struct fault_proxy *proxy, const char *path, size_t i)
{
	char message[SCALE_MESSAGE_MAX], port[16], timeout[16], unit[16];
	const bool tcp = link_kind == MODBUS_TCP;
	const struct scale_option options[] = {
	        {"link", tcp ? "tcp" : "rtu", "t:1"},
	        {tcp ? "host" : "device", tcp ? "127.0.0.1" : path, "t:2"},
	        {tcp ? "port" : "baud", tcp ? port : "921600", "t:3"},
	        {"timeout_ms", timeout, "t:4"},
	        {"rate_hz", tcp ? "1000" : "250", "t:5"},
	        {"address", "0", "t:6"},
	        {"type", "int32", "t:7"},
	        {"unit_id", unit, "t:8"},
	};
	struct scale *scale = NULL;

	snprintf(port, sizeof(port), "%d", fault_proxy_port(proxy));
	snprintf(unit, sizeof(unit), "%d", tcp ? (int)i + 1 : 1);
	snprintf(timeout, sizeof(timeout), "%d", times->timeout_ms);
	if (modbus_driver.open(options, 8, message, &scale) < 0) {
		fprintf(stderr, "%s\n", message);
		abort();
	}
	return scale;
}

static void wrong(struct job *job, const char *why, int32_t counts, int32_t expected)
{
	if (job->n_wrong++ == 0)
		snprintf(job->wrong, sizeof(job->wrong),
		         "%s: after %llu requests a reading of %d (the unit said %d) %s",
		         job->fault.name, (unsigned long long)job->seen.n_requests, counts,
		         expected, why);
}

/* The newest reply the middleman saw must be this sample's, and fit to be one. */
static void judge(struct job *job, int32_t counts, int32_t before)
{
	const int32_t expected =
	        (int32_t)((uint32_t)job->seen.registers[0] << 16 | job->seen.registers[1]);
	const int32_t off = counts > expected ? counts - expected : expected - counts;

	if (job->fault.expected == PLAUSIBLE) {
		job->n_slipped += off != 0;
		/* The gate compares with the value before, a few reads old. */
		if (off > 2 * JUMP_COUNTS)
			wrong(job, "was taken", counts, expected);
		return;
	}
	if (off != 0 || job->seen.n_registers != 2)
		wrong(job, "is another reply's", counts, expected);
	else if (job->seen.spoilt && job->fault.expected == CLEAN_ONLY)
		wrong(job, "came from a spoilt reply", counts, expected);
	else if (counts <= before)
		wrong(job, "is an old one", counts, expected);
}

static void run_job(struct job *job, size_t i)
{
	char path[128], message[SCALE_MESSAGE_MAX];
	struct fault_proxy_config config = {.link = link_kind,
	                                    .unit_port = modbus_peer_port(peer),
	                                    .link_path = path,
	                                    .kind = job->fault.kind,
	                                    .amount = job->fault.amount,
	                                    .share = job->fault.share * times->share,
	                                    .seed = 1000 + i};
	struct fault_proxy *proxy;
	struct scale *scale;
	int32_t before = 0;

	snprintf(path, sizeof(path), "%s/port%zu", modbus_peer_folder(peer), i);
	if (link_kind == MODBUS_RTU)
		config.unit_path = modbus_peer_line(peer, i);
	proxy = fault_proxy_start(&config);
	scale = open_scale(proxy, path, i);
	/* Each turn waits for at most 50 ms: bounded, however little comes through. */
	for (uint64_t turn = 0;
	     turn < 10 * times->n_exchanges && job->seen.n_requests < times->n_exchanges; turn++) {
		struct scale_sample sample;
		int r = modbus_driver.read(scale, 50, &sample, message);

		fault_proxy_state(proxy, &job->seen);
		job->n_told += r < 0;
		if (r <= 0 || (sample.flags & SCALE_VOID) != 0)
			continue;
		job->n_samples++;
		judge(job, sample.counts, before);
		before = sample.counts;
	}
	modbus_scale_counts(scale, &job->counts);
	modbus_driver.close(scale);
	fault_proxy_stop(proxy);
}

static void *work(void *context)
{
	(void)context;
	for (;;) {
		size_t i = atomic_fetch_add(&next_job, 1);

		if (i >= n_jobs)
			return NULL;
		run_job(&jobs[i], i);
	}
}

static void print_jobs(void)
{
	printf("%s, %s, time-out %d ms\n"
	       "%-18s %9s %7s %8s %6s %8s %8s %8s %6s %7s %11s %8s %6s\n",
	       link_kind == MODBUS_TCP ? "TCP" : "RTU", times->name, times->timeout_ms, "kind",
	       "exchanges", "spoilt", "readings", "told", "timeouts", "foreign", "corrupt",
	       "broken", "probes", "implausible", "slipped", "wrong");
	for (size_t i = 0; i < n_jobs; i++) {
		const struct job *job = &jobs[i];
		const struct modbus_scale_counts *counts = &job->counts;

		printf("%-18s %9llu %7llu %8llu %6llu %8llu %8llu %8llu %6llu %7llu %11llu %8llu "
		       "%6llu\n",
		       job->fault.name, (unsigned long long)job->seen.n_requests,
		       (unsigned long long)job->seen.n_spoilt, (unsigned long long)job->n_samples,
		       (unsigned long long)job->n_told, (unsigned long long)counts->wire.n_timeouts,
		       (unsigned long long)counts->wire.n_foreign,
		       (unsigned long long)counts->wire.n_corrupt,
		       (unsigned long long)counts->wire.n_broken,
		       (unsigned long long)counts->n_probes,
		       (unsigned long long)counts->n_implausible,
		       (unsigned long long)job->n_slipped, (unsigned long long)job->n_wrong);
	}
	fflush(stdout);
}

static void run_all(const struct times *which)
{
	pthread_t threads[16];

	times = which;
	make_jobs();
	peer = modbus_peer_start(link_kind == MODBUS_RTU ? n_jobs : 0);
	for (size_t i = 0; i < times->n_threads; i++)
		assert_int_equal(pthread_create(&threads[i], NULL, work, NULL), 0);
	for (size_t i = 0; i < times->n_threads; i++)
		pthread_join(threads[i], NULL);
	modbus_peer_stop(peer);
	print_jobs();
	for (size_t i = 0; i < n_jobs; i++) {
		if (jobs[i].n_wrong > 0 && jobs[i].fault.expected != PLAUSIBLE)
			fail_msg("%llu wrong; the first: %s", (unsigned long long)jobs[i].n_wrong,
			         jobs[i].wrong);
		/* Two replies in a row with the same bit flipped: one spoilt in 320 here. */
		if (jobs[i].n_wrong * 50 > jobs[i].seen.n_spoilt)
			fail_msg("the gate let %llu through; the first: %s",
			         (unsigned long long)jobs[i].n_wrong, jobs[i].wrong);
		/* The second of two has come when the next question is asked: it is flushed, and
		 * never even judged, unless both come after their time-out. */
		if (jobs[i].fault.kind == FAULT_TWICE &&
		    jobs[i].counts.wire.n_early + jobs[i].counts.wire.n_foreign >
		            4 * jobs[i].counts.wire.n_timeouts)
			fail_msg("%s: what was left from the last exchange was read",
			         jobs[i].fault.name);
		if (jobs[i].seen.n_requests < times->n_exchanges || jobs[i].n_samples == 0)
			fail_msg("%s: %llu exchanges and %llu readings only", jobs[i].fault.name,
			         (unsigned long long)jobs[i].seen.n_requests,
			         (unsigned long long)jobs[i].n_samples);
	}
}

static void at_true_times_no_late_foreign_or_damaged_reply_becomes_a_reading(void **state)
{
	(void)state;
	run_all(&true_times);
}

static void at_scaled_times_no_late_foreign_or_damaged_reply_becomes_a_reading(void **state)
{
	const char *wanted = getenv("AMBO_LONG");

	(void)state;
	if (wanted == NULL || strcmp(wanted, "1") != 0) {
		printf("10 000 exchanges a kind only with AMBO_LONG=1\n");
		return;
	}
	run_all(&scaled_times);
}

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(at_true_times_no_late_foreign_or_damaged_reply_becomes_a_reading),
	        cmocka_unit_test(
	                at_scaled_times_no_late_foreign_or_damaged_reply_becomes_a_reading),
	};
	const char *missing = modbus_peer_missing();

	if (missing != NULL) {
		printf("skip: %s is missing, install it\n", missing);
		return 77;
	}
	link_kind = argc > 1 && strcmp(argv[1], "rtu") == 0 ? MODBUS_RTU : MODBUS_TCP;
	return cmocka_run_group_tests(tests, NULL, NULL);
}
