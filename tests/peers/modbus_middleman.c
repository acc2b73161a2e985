/* SPDX-License-Identifier: MIT */
/* modbus_middleman tcp UNIT-PORT | rtu UNIT-PATH LINK-PATH: the fault proxy as a program,
 * for tests that are not in C. Prints "ready PORT". Each line of its input, `KIND AMOUNT
 * N`, spoils the next N replies so (fault_proxy.h); `count` prints how many there were:
 * "requests N", then "KIND N" for each kind, in one line. Ends with its input. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/fault_proxy.h"

static void print_counts(struct fault_proxy *proxy)
{
	struct fault_proxy_state state;

	fault_proxy_state(proxy, &state);
	printf("requests %llu", (unsigned long long)state.n_requests);
	for (enum fault_kind kind = 0; kind < FAULT_KINDS; kind++)
		printf(" %s %llu", fault_name(kind), (unsigned long long)state.n_of[kind]);
	printf("\n");
}

static enum fault_kind kind_of(const char *name)
{
	enum fault_kind kind = 0;

	while (kind < FAULT_KINDS && strcmp(name, fault_name(kind)) != 0)
		kind++;
	return kind;
}

int main(int argc, char **argv)
{
	struct fault_proxy_config config = {.share = 0.0, .seed = 1};
	struct fault_proxy *proxy;
	char line[128], name[32];
	unsigned n;
	int amount;

	if (argc == 3 && strcmp(argv[1], "tcp") == 0) {
		config.link = MODBUS_TCP;
		config.unit_port = atoi(argv[2]);
	} else if (argc == 4 && strcmp(argv[1], "rtu") == 0) {
		config.link = MODBUS_RTU;
		config.unit_path = argv[2];
		config.link_path = argv[3];
	} else {
		fprintf(stderr, "usage: modbus_middleman tcp PORT | rtu UNIT-PATH LINK-PATH\n");
		return 2;
	}
	setvbuf(stdout, NULL, _IOLBF, BUFSIZ);
	proxy = fault_proxy_start(&config);
	printf("ready %d\n", fault_proxy_port(proxy));
	while (fgets(line, sizeof(line), stdin) != NULL) {
		if (strcmp(line, "count\n") == 0)
			print_counts(proxy);
		else if (sscanf(line, "%31s %d %u", name, &amount, &n) == 3 &&
		         kind_of(name) < FAULT_KINDS)
			fault_proxy_next(proxy, kind_of(name), amount, n);
		else
			fprintf(stderr, "modbus_middleman: not known: %s", line);
	}
	fault_proxy_stop(proxy);
	return 0;
}
