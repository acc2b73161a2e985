/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_SENSING_CONFIG_H
#define AMBO_STATION_SENSING_CONFIG_H

/* The configuration's group `sensors`. */
enum sensing_what {
	SENSING_RESIN_DEGC,
	SENSING_AIR_DEGC,
	SENSING_AIR_PCT, /* relative humidity */
};
#define SENSING_COUNT    3
#define SENSING_NAME_MAX 256u

struct sensing_config {
	char sensor[SENSING_COUNT][SENSING_NAME_MAX]; /* as sensor_open(); "": none */
	double every_s;                               /* 0.1..600 */
};

/* The configuration's key: "resin_temperature", ... In config.c. */
const char *sensing_name(enum sensing_what what);

#endif
