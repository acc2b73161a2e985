/* SPDX-License-Identifier: MIT */
/* The driver beside programs we did not write: pymodbus is the unit (modbus_unit.py
 * says what it holds), mbpoll a second master that reads the same and presses the
 * unit's buttons. */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/modbus.h"
#include "tests/support/fault_proxy.h"
#include "tests/support/modbus_peer.h"

static struct modbus_peer *peer;
static char message[SCALE_MESSAGE_MAX];
static char port[16];

/* "key=value ..." apart by semicolons, after link and place. */
static struct scale *open_with(bool tcp, const char *place, const char *more)
{
	static char text[512];
	struct scale_option options[32] = {{"link", tcp ? "tcp" : "rtu", "t:1"},
	                                   {tcp ? "port" : "device", place, "t:2"}};
	struct scale *scale = NULL;
	size_t n = 2;

	if (tcp)
		options[n++] = (struct scale_option){"host", "127.0.0.1", "t:3"};
	snprintf(text, sizeof(text), "%s", more);
	for (char *pair = strtok(text, ";"); pair != NULL; pair = strtok(NULL, ";")) {
		char *equals = strchr(pair, '=');

		*equals = '\0';
		options[n++] = (struct scale_option){pair, equals + 1, "t:4"};
	}
	if (modbus_driver.open(options, n, message, &scale) < 0)
		fail_msg("%s", message);
	return scale;
}

static struct scale *open_tcp(const char *more)
{
	return open_with(true, port, more);
}

static struct scale *open_rtu(const char *more)
{
	return open_with(false, modbus_peer_line(peer, 0), more);
}

/* The next sample or failure; 0 when neither came in 50 turns of 100 ms. */
static int read_next(struct scale *scale, struct scale_sample *ret)
{
	int r = 0;

	message[0] = '\0';
	for (int turn = 0; turn < 50 && r == 0; turn++)
		r = modbus_driver.read(scale, 100, ret, message);
	return r;
}

static int32_t counts_of(struct scale *scale)
{
	struct scale_sample sample = {0};

	if (read_next(scale, &sample) != 1)
		fail_msg("no sample: %s", message);
	modbus_driver.close(scale);
	return sample.counts;
}

static void assert_mbpoll(const char *arguments, const char *expected)
{
	char line[256], output[4096];

	snprintf(line, sizeof(line), "%s", arguments);
	modbus_peer_mbpoll(line, output, sizeof(output));
	if (strstr(output, expected) == NULL)
		fail_msg("mbpoll %s: expected \"%s\" in: %s", line, expected, output);
}

static void tcp_mbpoll(const char *arguments, const char *expected)
{
	char line[256];

	snprintf(line, sizeof(line), "-m tcp -p %s -0 -1 %s", port, arguments);
	assert_mbpoll(line, expected);
}

static void floats_and_integers_of_every_order_are_what_pymodbus_holds(void **state)
{
	static const char *const floats[] = {
	        "address=10;type=float32;order=ABCD", "address=12;type=float32;order=BADC",
	        "address=14;type=float32;order=CDAB", "address=16;type=float32;order=DCBA"};

	(void)state;
	for (size_t i = 0; i < 4; i++)
		assert_int_equal(counts_of(open_tcp(floats[i])), 123450);
	assert_int_equal(counts_of(open_rtu("baud=921600;address=10;type=float32")), 123450);
	assert_int_equal(counts_of(open_tcp("address=18;type=int32;factor=0.01;function=4")),
	                 123450);
	assert_int_equal(counts_of(open_tcp("address=20;type=int16")), 1234);
	assert_int_equal(counts_of(open_tcp("address=21;type=uint16;order=BA")), 1234);
	assert_int_equal(counts_of(open_tcp("address=10;type=float32;unit=oz;count_g=1")),
	                 (int32_t)round(1234.5 * 28.349523125));
}

/* mbpoll's default is low word first. */
static void a_second_master_reads_the_same_at_the_same_time(void **state)
{
	struct scale *scale = open_tcp("address=10;type=float32");
	struct scale_sample sample;

	(void)state;
	assert_int_equal(read_next(scale, &sample), 1);
	tcp_mbpoll("-r 10 -c 1 -t4:float -B 127.0.0.1", "1234.5");
	assert_int_equal(read_next(scale, &sample), 1);
	assert_int_equal(sample.counts, 123450);
	tcp_mbpoll("-r 14 -c 1 -t4:float 127.0.0.1", "1234.5");
	modbus_driver.close(scale);
}

static void the_line_is_free_for_another_master_once_closed(void **state)
{
	char line[256];

	(void)state;
	counts_of(open_rtu("baud=921600;address=10;type=float32"));
	snprintf(line, sizeof(line), "-m rtu -b 115200 -P none -0 -1 -r 10 -c 1 -t3:float -B %s",
	         modbus_peer_line(peer, 0));
	assert_mbpoll(line, "1234.5");
	assert_int_equal(counts_of(open_rtu("baud=921600;address=10;type=float32")), 123450);
}

#define WITH_STATE                                                                                 \
	"unit_id=2;rate_hz=100;address=10;type=float32;status=2;settled_bit=0;overload_bit=1;"     \
	"fault_bit=2;heartbeat=3;heartbeat_ms=300;timeout_ms=2000"

static void the_units_own_state_becomes_flags(void **state)
{
	struct scale *scale = open_tcp(WITH_STATE);
	struct scale_sample sample;

	(void)state;
	assert_int_equal(read_next(scale, &sample), 1);
	assert_int_equal(sample.flags & (SCALE_MOVING | SCALE_RAIL | SCALE_REPEAT), 0);
	tcp_mbpoll("-a 2 -r 2 -t4 127.0.0.1 0", "Written 1 references");
	assert_int_equal(read_next(scale, &sample), 1);
	assert_int_equal(sample.flags & (SCALE_MOVING | SCALE_RAIL), SCALE_MOVING);
	tcp_mbpoll("-a 2 -r 2 -t4 127.0.0.1 3", "Written 1 references");
	assert_int_equal(read_next(scale, &sample), 1);
	assert_int_equal(sample.flags & (SCALE_MOVING | SCALE_RAIL), SCALE_RAIL);
	tcp_mbpoll("-a 2 -r 2 -t4 127.0.0.1 5", "Written 1 references");
	assert_int_equal(read_next(scale, &sample), 1);
	assert_int_equal(sample.flags & (SCALE_MOVING | SCALE_RAIL), SCALE_RAIL);
	tcp_mbpoll("-a 2 -r 2 -t4 127.0.0.1 1", "Written 1 references");
	assert_int_equal(read_next(scale, &sample), 1);
	assert_int_equal(sample.flags & (SCALE_MOVING | SCALE_RAIL), 0);
	modbus_driver.close(scale);
}

static void a_heartbeat_that_stands_still_silences_the_scale(void **state)
{
	struct scale *scale = open_tcp(WITH_STATE);
	struct modbus_scale_counts counts;
	struct scale_sample sample;
	int64_t last_us;
	int r;

	(void)state;
	assert_int_equal(read_next(scale, &sample), 1);
	tcp_mbpoll("-a 2 -r 1 -t0 127.0.0.1 1", "Written 1 references");
	/* What was on its way is live; then repeats, flagged; then nothing. */
	last_us = sample.t_us;
	while ((r = read_next(scale, &sample)) == 1) {
		if ((sample.flags & SCALE_REPEAT) == 0)
			last_us = sample.t_us;
		assert_true(sample.t_us - last_us <= 300000);
	}
	assert_int_equal(r, -ESTALE);
	assert_non_null(strstr(message, "answers, but its heartbeat in register 3 has stood still "
	                                "for "));
	for (int i = 0; i < 10; i++)
		assert_int_equal(read_next(scale, &sample), -ESTALE);
	modbus_scale_counts(scale, &counts);
	assert_true(counts.n_frozen >= 11);
	tcp_mbpoll("-a 2 -r 1 -t0 127.0.0.1 0", "Written 1 references");
	do
		r = read_next(scale, &sample);
	while (r == -ESTALE);
	assert_int_equal(r, 1);
	assert_int_equal(sample.counts, 123450);
	modbus_driver.close(scale);
}

static void press_until_zero(const char *options, const char *verb)
{
	struct scale *scale = open_tcp(options);
	struct scale_sample sample;

	assert_int_equal(read_next(scale, &sample), 1);
	assert_int_equal(sample.counts, 123450);
	assert_int_equal(modbus_driver.act(scale, verb, 0), 0);
	assert_int_equal(read_next(scale, &sample), 1);
	assert_int_equal(sample.counts, 0);
	modbus_driver.close(scale);
}

static void zero_and_tare_press_the_units_buttons(void **state)
{
	struct scale *scale = open_tcp("address=10;type=float32");

	(void)state;
	assert_int_equal(modbus_driver.act(scale, "zero", 0), -EINVAL);
	assert_int_equal(modbus_driver.act(scale, "pour-a", 20), -EINVAL);
	modbus_driver.close(scale);
	press_until_zero("unit_id=3;rate_hz=100;address=10;type=float32;zero=coil 0", "zero");
	press_until_zero("unit_id=4;rate_hz=100;address=10;type=float32;tare=register 30 1",
	                 "tare");
}

static void assert_never(struct scale *scale, int error, const char *sentence)
{
	struct scale_sample sample;

	assert_int_equal(read_next(scale, &sample), error);
	assert_string_equal(message, sentence);
	modbus_driver.close(scale);
}

static void a_press_that_is_refused_is_told(void **state)
{
	struct scale *scale = open_tcp("address=10;type=float32;zero=coil 100;rate_hz=100");
	struct scale_sample sample;
	char expected[SCALE_MESSAGE_MAX];

	(void)state;
	assert_int_equal(read_next(scale, &sample), 1);
	assert_int_equal(modbus_driver.act(scale, "zero", 0), 0);
	snprintf(expected, sizeof(expected),
	         "modbus: unit 1 at 127.0.0.1 port %s refuses: told to set coil 100 (function 5), "
	         "exception 2, illegal data address; expected addresses it has, counted from 0 "
	         "(40001 in many manuals is 0); trying again",
	         port);
	assert_never(scale, -EREMOTEIO, expected);
}

static void a_map_the_unit_does_not_have_is_told_by_its_exception(void **state)
{
	char expected[SCALE_MESSAGE_MAX];

	(void)state;
	snprintf(expected, sizeof(expected),
	         "modbus: unit 1 at 127.0.0.1 port %s refuses: asked for 2 holding registers from "
	         "39 (function 3), exception 2, illegal data address; expected addresses it has, "
	         "counted from 0 (40001 in many manuals is 0); trying again",
	         port);
	assert_never(open_tcp("address=39;type=float32;timeout_ms=200"), -EREMOTEIO, expected);
}

static void a_unit_that_does_not_answer_is_told_with_how_it_was_asked(void **state)
{
	char expected[SCALE_MESSAGE_MAX];

	(void)state;
	snprintf(expected, sizeof(expected),
	         "modbus: unit 9 on %s (921600 baud 8N1) does not answer: asked for 2 input "
	         "registers from 10 (function 4), no whole reply within 250 ms; check its power, "
	         "its wiring, its unit id, baud rate and parity; trying again",
	         modbus_peer_line(peer, 0));
	assert_never(open_rtu("unit_id=9;baud=921600;function=4;address=10;type=float32;"
	                      "timeout_ms=250"),
	             -ETIMEDOUT, expected);
}

static void nobody_listening_is_told_with_the_line_to_change(void **state)
{
	(void)state;
	assert_never(open_with(true, "1", "address=10;type=float32;timeout_ms=100"), -ECONNREFUSED,
	             "t:3: host: '127.0.0.1' port 1 cannot be reached (Connection refused); "
	             "expected a unit or gateway that listens there");
}

/* A pty carries bytes at once: at 9600 baud no true reply could be as fast. */
static void a_reply_faster_than_its_wire_time_is_not_believed(void **state)
{
	struct scale *scale =
	        open_rtu("baud=1200;rate_hz=2;address=10;type=float32;timeout_ms=300");
	struct modbus_scale_counts counts;
	struct scale_sample sample;

	(void)state;
	assert_int_equal(read_next(scale, &sample), -ETIMEDOUT);
	assert_non_null(strstr(message, "what came was faster than 1200 baud can carry"));
	modbus_scale_counts(scale, &counts);
	assert_int_equal(counts.n_samples, 0);
	assert_true(counts.wire.n_early > 0);
	modbus_driver.close(scale);
}

static struct scale *open_through(struct fault_proxy **ret, enum fault_kind kind, int amount,
                                  const char *more)
{
	const struct fault_proxy_config config = {.link = MODBUS_TCP,
	                                          .unit_port = modbus_peer_port(peer),
	                                          .kind = kind,
	                                          .amount = amount,
	                                          .share = 1.0,
	                                          .seed = 5};
	char at[16];

	*ret = fault_proxy_start(&config);
	snprintf(at, sizeof(at), "%d", fault_proxy_port(*ret));
	return open_with(true, at, more);
}

/* The library's own time-outs, 500 ms for the first byte and for each that follows, would
 * lose both. */
static void a_reply_slower_than_half_a_second_is_waited_for(void **state)
{
	struct fault_proxy *proxy;

	(void)state;
	assert_int_equal(
	        counts_of(open_through(&proxy, FAULT_LATE, 650, "address=10;type=float32")),
	        123450);
	fault_proxy_stop(proxy);
	assert_int_equal(
	        counts_of(open_through(&proxy, FAULT_SPLIT, 650, "address=10;type=float32")),
	        123450);
	fault_proxy_stop(proxy);
}

static void a_reply_that_stops_within_a_frame_is_given_up_in_time(void **state)
{
	struct modbus_scale_counts counts;
	struct fault_proxy_state seen;
	struct fault_proxy *proxy;
	struct scale *scale =
	        open_through(&proxy, FAULT_SPLIT, 400, "address=10;type=float32;timeout_ms=150");
	struct scale_sample sample;

	(void)state;
	for (int i = 0; i < 5; i++)
		assert_int_equal(read_next(scale, &sample), -ETIMEDOUT);
	modbus_scale_counts(scale, &counts);
	fault_proxy_state(proxy, &seen);
	assert_int_equal(counts.n_samples, 0);
	assert_int_equal(counts.wire.n_asked, 5);
	modbus_driver.close(scale);
	fault_proxy_stop(proxy);
}

static void a_unit_slower_than_the_time_out_is_told_as_such(void **state)
{
	struct fault_proxy *proxy;
	struct scale *scale =
	        open_through(&proxy, FAULT_LATE, 150, "address=10;type=float32;timeout_ms=100");
	struct scale_sample sample;
	const char *late = NULL;

	(void)state;
	for (int i = 0; i < 20 && late == NULL; i++) {
		assert_int_equal(read_next(scale, &sample), -ETIMEDOUT);
		late = strstr(message, "within 100 ms only replies to something else came (late, "
		                       "or another unit's); raise timeout_ms");
	}
	assert_non_null(late);
	modbus_driver.close(scale);
	fault_proxy_stop(proxy);
}

static int start_peer(void **state)
{
	(void)state;
	peer = modbus_peer_start(1);
	snprintf(port, sizeof(port), "%d", modbus_peer_port(peer));
	return 0;
}

static int stop_peer(void **state)
{
	(void)state;
	modbus_peer_stop(peer);
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(floats_and_integers_of_every_order_are_what_pymodbus_holds),
	        cmocka_unit_test(a_second_master_reads_the_same_at_the_same_time),
	        cmocka_unit_test(the_line_is_free_for_another_master_once_closed),
	        cmocka_unit_test(the_units_own_state_becomes_flags),
	        cmocka_unit_test(a_heartbeat_that_stands_still_silences_the_scale),
	        cmocka_unit_test(zero_and_tare_press_the_units_buttons),
	        cmocka_unit_test(a_press_that_is_refused_is_told),
	        cmocka_unit_test(a_map_the_unit_does_not_have_is_told_by_its_exception),
	        cmocka_unit_test(a_unit_that_does_not_answer_is_told_with_how_it_was_asked),
	        cmocka_unit_test(nobody_listening_is_told_with_the_line_to_change),
	        cmocka_unit_test(a_reply_faster_than_its_wire_time_is_not_believed),
	        cmocka_unit_test(a_reply_slower_than_half_a_second_is_waited_for),
	        cmocka_unit_test(a_unit_slower_than_the_time_out_is_told_as_such),
	        cmocka_unit_test(a_reply_that_stops_within_a_frame_is_given_up_in_time),
	};
	const char *missing = modbus_peer_missing();

	if (missing != NULL) {
		printf("skip: %s is missing, install it\n", missing);
		return 77;
	}
	return cmocka_run_group_tests(tests, start_peer, stop_peer);
}
