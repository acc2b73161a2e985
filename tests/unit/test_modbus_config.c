/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "drivers/modbus.h"
#include "drivers/modbus_config.h"

static char said[8][SCALE_MESSAGE_MAX];
static int n_said;

static void keep(void *context, const char *sentence)
{
	(void)context;
	if (n_said < 8)
		snprintf(said[n_said], sizeof(said[0]), "%s", sentence);
	n_said++;
}

/* Options as "key=value" lines, the first at a.conf:1. */
static int check(const char *lines, struct modbus_config *ret)
{
	static char text[1024], where[32][16];
	struct scale_option options[32];
	size_t n = 0;

	snprintf(text, sizeof(text), "%s", lines);
	for (char *line = strtok(text, "\n"); line != NULL; line = strtok(NULL, "\n")) {
		char *equals = strchr(line, '=');

		*equals = '\0';
		snprintf(where[n], sizeof(where[0]), "a.conf:%zu", n + 1);
		options[n] = (struct scale_option){line, equals + 1, where[n]};
		n++;
	}
	n_said = 0;
	return modbus_config_read(options, n, keep, NULL, ret);
}

#define TCP "link=tcp\nhost=h\n"
#define RTU "link=rtu\ndevice=/dev/x\n"

static void assert_says(const char *lines, const char *expected)
{
	struct modbus_config config;

	assert_int_equal(check(lines, &config), 1);
	assert_string_equal(said[0], expected);
}

static void a_full_map_is_read(void **state)
{
	struct modbus_config config;

	(void)state;
	assert_int_equal(check(TCP
	                       "port=1502\nunit_id=255\ntimeout_ms=800\nrate_hz=20\nfunction=4\n"
	                       "address=107\ntype=int32\norder=CDAB\nwords=2\nfactor=0.1\nunit=g\n"
	                       "status=100\nsettled_bit=3\noverload_bit=!4\nheartbeat=101\n"
	                       "zero=coil 172\ntare=register 9 1",
	                       &config),
	                 0);
	assert_int_equal(config.wire.link, MODBUS_TCP);
	assert_int_equal(config.wire.port, 1502);
	assert_int_equal(config.wire.unit, 255);
	assert_int_equal(config.wire.timeout_ms, 800);
	assert_int_equal(config.heartbeat_ms, 800);
	assert_int_equal(config.map.function, 4);
	assert_int_equal(config.map.order, MODBUS_CDAB);
	assert_close(config.map.count_g, 0.1, 0);
	assert_int_equal(config.map.settled.bit, 3);
	assert_int_equal(config.map.overload.bit, 4);
	assert_true(config.map.overload.inverted);
	assert_int_equal(config.map.fault.bit, MODBUS_NONE);
	assert_int_equal(modbus_map_first(&config.map), 100);
	assert_int_equal(modbus_map_span(&config.map), 9);
	assert_int_equal(config.map.zero.function, MODBUS_WRITE_COIL);
	assert_int_equal(config.map.zero.value, 0xFF00);
	assert_int_equal(config.map.tare.function, MODBUS_WRITE_REGISTER);
	assert_int_equal(config.map.tare.address, 9);
	assert_int_equal(config.map.tare.value, 1);
}

static void a_ready_map_needs_no_more_and_gives_way_to_what_is_written(void **state)
{
	struct modbus_config config;

	(void)state;
	assert_int_equal(check(TCP "map=float32 g, status, heartbeat", &config), 0);
	assert_int_equal(config.map.type, MODBUS_FLOAT32);
	assert_int_equal(config.map.status, 2);
	assert_int_equal(config.map.heartbeat, 3);
	assert_int_equal(config.map.fault.bit, 2);
	assert_close(config.map.count_g, 0.01, 0);
	assert_int_equal(config.wire.timeout_ms, 1000);
	assert_int_equal(check(TCP "map=float32 kg\norder=DCBA\naddress=40", &config), 0);
	assert_int_equal(config.map.order, MODBUS_DCBA);
	assert_int_equal(config.map.address, 40);
	assert_close(config.map.g_per_step, 1000.0, 0);
}

/* An international avoirdupois pound is 453.59237 g exactly. */
static void pounds_are_turned_into_grams(void **state)
{
	struct modbus_config config;

	(void)state;
	assert_int_equal(check(TCP "address=0\ntype=int32\nfactor=0.001\nunit=lb", &config), 0);
	assert_close(config.map.g_per_step, 0.45359237, 1e-15);
}

static void a_map_that_cannot_be_is_refused_with_its_line(void **state)
{
	(void)state;
	assert_says(TCP "address=0\ntype=float32\nwords=3",
	            "a.conf:5: words: 3 registers do not hold a value of type float32; expected 2");
	assert_says(TCP "address=0\ntype=float32\nstatus=125\nsettled_bit=0",
	            "a.conf:5: status: registers 0 to 125 are 126; expected value, status and "
	            "heartbeat within 125, as one read fetches no more");
	assert_says(TCP "address=0\ntype=float32\nstatus=2\nsettled_bit=0\nheartbeat=300",
	            "a.conf:7: heartbeat: registers 0 to 300 are 301; expected value, status and "
	            "heartbeat within 125, as one read fetches no more");
	assert_says(TCP "address=65535\ntype=float32",
	            "a.conf:3: address: the value's second register would be 65536; expected at "
	            "most 65534 for two registers");
	assert_says(TCP "address=0\ntype=int16\norder=ABCD",
	            "a.conf:5: order: 'ABCD' is none of them; expected one of \"AB\", \"BA\"");
	assert_says(TCP "address=0\ntype=double",
	            "a.conf:4: type: 'double' is none of them; expected one of \"int16\", "
	            "\"uint16\", \"int32\", \"float32\"");
	assert_says(TCP "address=0\ntype=float32\nfunction=5",
	            "a.conf:5: function: '5' is out of range; expected a whole number from 3 to 4 "
	            "(3 holding, 4 input registers)");
	assert_says(
	        TCP "address=0\ntype=float32\nsettled_bit=0",
	        "a.conf:1: status: is missing, but a bit of it is given; expected its register");
	assert_says(TCP "address=0\ntype=float32\nstatus=1\nsettled_bit=16",
	            "a.conf:6: settled_bit: '16' is no bit; expected 0 (the least) to 15, or "
	            "\"!3\" for one that means it when clear");
	assert_says(TCP "address=0\ntype=float32\nheartbeat=1",
	            "a.conf:5: heartbeat: register 1 belongs to the value; expected another");
	assert_says(TCP "address=0\ntype=float32\nzero=coil 70000",
	            "a.conf:5: zero: 'coil 70000' says not what to write; expected \"coil "
	            "ADDRESS\" or \"register ADDRESS VALUE\", each 0 to 65535");
	assert_says(TCP "type=float32",
	            "a.conf:1: address: is missing; expected the first register of the value, as "
	            "sent: 0 to 65535 (40001 in many manuals is 0)");
}

static void a_line_that_cannot_be_is_refused_with_its_line(void **state)
{
	(void)state;
	assert_says("link=tcp\nmap=float32 g",
	            "a.conf:1: host: is missing for link \"tcp\"; expected a name or an address");
	assert_says(TCP "map=float32 g\nbaud=9600",
	            "a.conf:4: baud: is of a serial line; expected with link \"rtu\" only");
	assert_says(
	        RTU "map=float32 g\nbaud=9601",
	        "a.conf:4: baud: 9601 is no usual rate; expected 1200, 2400, 4800, 9600, 19200, "
	        "38400, 57600, 115200, 230400, 460800 or 921600");
	assert_says(RTU "map=float32 g\nunit_id=248",
	            "a.conf:4: unit_id: 248 is no unit of a serial line; expected 1 to 247");
	assert_says(
	        RTU "map=float32 g\nrate_hz=41",
	        "a.conf:4: rate_hz: 41 reads a second do not fit: one of 2 registers takes 25.0 "
	        "ms at 9600 baud; expected at most 40.0");
}

static void all_mistakes_are_told_at_once(void **state)
{
	struct modbus_config config;

	(void)state;
	assert_int_equal(check("link=rtu\nparity=mark\nbaud=12\nadress=3\ntype=float", &config), 6);
	assert_int_equal(n_said, 6);
}

static char message[SCALE_MESSAGE_MAX];

static int open_device(const char *device)
{
	const struct scale_option options[] = {{"link", "rtu", "a.conf:7"},
	                                       {"device", device, "a.conf:8"},
	                                       {"map", "float32 g", "a.conf:9"}};
	struct scale *scale = NULL;
	int r = modbus_driver.open(options, 3, message, &scale);

	if (r == 0)
		modbus_driver.close(scale);
	return r;
}

static void a_port_that_is_not_there_is_named(void **state)
{
	(void)state;
	assert_int_equal(open_device("/dev/no-such-port"), -ENOENT);
	assert_string_equal(message, "a.conf:8: device: '/dev/no-such-port' is not there; expected "
	                             "a port that is, see ls /dev/serial/by-id");
}

/* A lock on a file of its own stands for another program's on the port. */
static void a_port_in_use_is_named(void **state)
{
	int pty = posix_openpt(O_RDWR | O_NOCTTY), other;

	(void)state;
	assert_true(pty >= 0 && grantpt(pty) == 0 && unlockpt(pty) == 0);
	assert_int_equal(open_device(ptsname(pty)), 0);
	other = open(ptsname(pty), O_RDWR | O_NOCTTY);
	assert_int_equal(flock(other, LOCK_EX | LOCK_NB), 0);
	assert_int_equal(open_device(ptsname(pty)), -EBUSY);
	assert_non_null(strstr(message, "is in use by another program"));
	close(other);
	assert_int_equal(open_device(ptsname(pty)), 0);
	close(pty);
}

static void a_port_that_is_not_permitted_names_the_group(void **state)
{
	int pty = posix_openpt(O_RDWR | O_NOCTTY), r;

	(void)state;
	assert_true(pty >= 0 && grantpt(pty) == 0 && unlockpt(pty) == 0);
	assert_int_equal(chmod(ptsname(pty), 0), 0);
	if (geteuid() == 0) /* root may do anything: be nobody for a moment */
		assert_int_equal(seteuid(65534), 0);
	r = open_device(ptsname(pty));
	if (getuid() == 0)
		assert_int_equal(seteuid(0), 0);
	assert_int_equal(r, -EACCES);
	assert_non_null(strstr(message, "is not permitted; expected a user of the group "));
	close(pty);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(a_full_map_is_read),
	        cmocka_unit_test(a_ready_map_needs_no_more_and_gives_way_to_what_is_written),
	        cmocka_unit_test(pounds_are_turned_into_grams),
	        cmocka_unit_test(a_map_that_cannot_be_is_refused_with_its_line),
	        cmocka_unit_test(a_line_that_cannot_be_is_refused_with_its_line),
	        cmocka_unit_test(all_mistakes_are_told_at_once),
	        cmocka_unit_test(a_port_that_is_not_there_is_named),
	        cmocka_unit_test(a_port_in_use_is_named),
	        cmocka_unit_test(a_port_that_is_not_permitted_names_the_group),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
