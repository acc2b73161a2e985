/* SPDX-License-Identifier: MIT */
/* /org/ambo/scale: what the pan says, zero and tare. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "bus_inside.h"

#define WEIGH_US 20000000

static int zero(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	char why[ACTION_WHY_MAX];
	int r = action_zero(bus->station, why);

	(void)error;
	if (r == -EAGAIN)
		return bus_refuse(message, "NotSettled", "%s", why);
	if (r < 0)
		return bus_refuse(message, r == -EBUSY ? "PanTaken" : bus_error_name(r), "%s", why);
	return sd_bus_reply_method_return(message, "");
}

static int tare(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;

	(void)error;
	if (weigher_tare(bus->station->weigher) < 0)
		return bus_refuse(message, "NotSettled",
		                  "The pan is not settled: wait until it is.");
	bus->station->has_reading = false; /* what was read is not of this tare */
	return sd_bus_reply_method_return(message, "");
}

static int clear_tare(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;

	(void)error;
	weigher_clear_tare(bus->station->weigher);
	bus->station->has_reading = false;
	return sd_bus_reply_method_return(message, "");
}

/* Until it leaves the bus. */
static int watch(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	const int r = sd_bus_track_add_sender(bus->watchers, message);

	(void)error;
	return r < 0 ? r : sd_bus_reply_method_return(message, "");
}

static double net_doubt_g(const struct station *station)
{
	const struct reading *reading = &station->reading;

	return uncertainty_net_g(&station->config->doubt, reading->sd_g, reading->sd_g,
	                         reading->net_g, 0.0);
}

static bool settled(const struct station *station)
{
	const struct reading *reading = &station->reading;

	return station->has_reading && reading->state == READING_SETTLED && !reading->overload &&
	       !station->ended;
}

static int weigh(sd_bus_message *message, void *context, sd_bus_error *error)
{
	struct bus *bus = context;
	struct bus_call *call;

	(void)error;
	if (settled(bus->station))
		return sd_bus_reply_method_return(message, "dd", bus->station->reading.net_g,
		                                  net_doubt_g(bus->station));
	call = bus_call_keep(bus, message);
	if (call != NULL) {
		call->deadline_us = station_clock_us() + WEIGH_US;
		bus_touch(bus);
	}
	return 1;
}

void bus_weigh_look(struct bus *bus)
{
	const struct station *station = bus->station;
	const bool done = settled(station);
	int64_t now_us = 0;

	for (size_t i = 0; i < STATION_CALLS_MAX; i++) {
		struct bus_call *call = &bus->calls[i];

		if (call->message == NULL || call->deadline_us == 0)
			continue;
		if (now_us == 0)
			now_us = station_clock_us();
		if (done)
			sd_bus_reply_method_return(call->message, "dd", station->reading.net_g,
			                           net_doubt_g(station));
		else if (now_us >= call->deadline_us)
			bus_refuse(call->message, "TimedOut",
			           "The pan did not settle within 20 s: is something touching it?");
		else
			continue;
		bus_call_drop(call);
	}
}

static int get_driver(sd_bus *connection, const char *path, const char *interface,
                      const char *property, sd_bus_message *reply, void *context,
                      sd_bus_error *error)
{
	const struct bus *bus = context;

	(void)connection, (void)path, (void)interface, (void)property, (void)error;
	return sd_bus_message_append(reply, "s", bus->station->config->driver->name);
}

static const char *state_of(const struct station *station)
{
	return station->has_reading && !station->ended ? reading_state_name(station->reading.state)
	       : station->ended                        ? reading_state_name(READING_FAULT)
	                                               : reading_state_name(READING_UNSETTLED);
}

static int get_text(sd_bus *connection, const char *path, const char *interface,
                    const char *property, sd_bus_message *reply, void *context, sd_bus_error *error)
{
	const struct bus *bus = context;
	char condition[64 + SCALE_MESSAGE_MAX];

	(void)connection, (void)path, (void)interface, (void)error;
	if (strcmp(property, "State") == 0)
		return sd_bus_message_append(reply, "s", state_of(bus->station));
	station_condition(bus->station, condition, sizeof(condition));
	return sd_bus_message_append(reply, "s", condition);
}

static int get_limit(sd_bus *connection, const char *path, const char *interface,
                     const char *property, sd_bus_message *reply, void *context,
                     sd_bus_error *error)
{
	const struct bus *bus = context;
	const struct weigher_config *weigher = &bus->station->config->weigher;

	(void)connection, (void)path, (void)interface, (void)error;
	return sd_bus_message_append(reply, "d",
	                             strcmp(property, "MaxGrams") == 0 ? weigher->max_g
	                                                               : weigher->interval_g);
}

static int get_quantities(sd_bus *connection, const char *path, const char *interface,
                          const char *property, sd_bus_message *reply, void *context,
                          sd_bus_error *error)
{
	const struct bus *bus = context;
	const struct station *station = bus->station;
	const struct reading *reading = &station->reading;
	int r;

	(void)connection, (void)path, (void)interface, (void)property, (void)error;
	r = dict_begin(reply);
	if (r >= 0 && station->has_reading && !station->ended && reading->known &&
	    reading->state != READING_FAULT && !reading->overload) {
		dict_put_double(reply, "GrossGrams", reading->gross_g);
		dict_put_double(reply, "NetGrams", reading->net_g);
		dict_put_double(reply, "RateGramsPerSecond", reading->rate_g_per_s);
		dict_put_double(reply, "DoubtGrams", net_doubt_g(station));
		if (reading->noise_g > 0.0)
			dict_put_double(reply, "NoiseGrams", reading->noise_g);
	}
	if (r >= 0 && station->samples > 2 && !station->ended)
		dict_put_double(reply, "SamplesPerSecond", station->rate_hz);
	return r < 0 ? r : dict_end(reply);
}

static int get_sensors(sd_bus *connection, const char *path, const char *interface,
                       const char *property, sd_bus_message *reply, void *context,
                       sd_bus_error *error)
{
	static const char *const keys[SENSING_COUNT][2] = {
	        [SENSING_RESIN_DEGC] = {"ResinCelsius", "ResinProblem"},
	        [SENSING_AIR_DEGC] = {"AirCelsius", "AirProblem"},
	        [SENSING_AIR_PCT] = {"AirHumidityPercent", "AirHumidityProblem"},
	};
	const struct sensing *sensing = ((const struct bus *)context)->station->sensing;
	int r = dict_begin(reply);

	(void)connection, (void)path, (void)interface, (void)property, (void)error;
	for (int what = 0; r >= 0 && what < SENSING_COUNT; what++) {
		const char *problem = sensing_problem(sensing, (enum sensing_what)what);

		dict_put_double(reply, keys[what][0],
		                sensing_or_nan(sensing, (enum sensing_what)what));
		if (problem[0] != '\0')
			dict_put_text(reply, keys[what][1], problem);
	}
	return r < 0 ? r : dict_end(reply);
}

int bus_scale_changed(struct bus *bus)
{
	const struct station *station = bus->station;
	char condition[sizeof(bus->sent_condition)];
	char *names[6] = {NULL};
	size_t n = 0;

	station_condition(station, condition, sizeof(condition));
	if (strcmp(state_of(station), bus->sent_state) != 0)
		names[n++] = (char *)"State";
	if (strcmp(condition, bus->sent_condition) != 0)
		names[n++] = (char *)"Condition";
	if (station->sequence != bus->sent_sequence)
		names[n++] = (char *)"Quantities";
	if (station->care.changes != bus->sent_care)
		names[n++] = (char *)"Calibration";
	if (station->sensed.changes != bus->sent_sensed)
		names[n++] = (char *)"Sensors";
	if (n == 0)
		return 0;
	snprintf(bus->sent_state, sizeof(bus->sent_state), "%s", state_of(station));
	memcpy(bus->sent_condition, condition, sizeof(condition));
	bus->sent_sequence = station->sequence;
	bus->sent_care = station->care.changes;
	bus->sent_sensed = station->sensed.changes;
	return sd_bus_emit_properties_changed_strv(bus->bus, BUS_SCALE_PATH, BUS_SCALE, names);
}

#define CHANGES  SD_BUS_VTABLE_PROPERTY_EMITS_CHANGE
#define CONSTANT SD_BUS_VTABLE_PROPERTY_CONST
const sd_bus_vtable bus_scale_vtable[] = {
        SD_BUS_VTABLE_START(0),
        SD_BUS_METHOD("Zero", "", "", zero, SD_BUS_VTABLE_UNPRIVILEGED),
        SD_BUS_METHOD("Tare", "", "", tare, SD_BUS_VTABLE_UNPRIVILEGED),
        SD_BUS_METHOD("ClearTare", "", "", clear_tare, SD_BUS_VTABLE_UNPRIVILEGED),
        SD_BUS_METHOD("Watch", "", "", watch, SD_BUS_VTABLE_UNPRIVILEGED),
        SD_BUS_METHOD_WITH_NAMES("Weigh", "", "", "dd",
                                 SD_BUS_PARAM(net_grams) SD_BUS_PARAM(doubt_grams), weigh,
                                 SD_BUS_VTABLE_UNPRIVILEGED),
        SD_BUS_METHOD("Approve", "", "", bus_approve, SD_BUS_VTABLE_UNPRIVILEGED),
        SD_BUS_METHOD_WITH_NAMES("StartCalibration", "a{sv}", SD_BUS_PARAM(about), "", "",
                                 bus_start_calibration, SD_BUS_VTABLE_UNPRIVILEGED),
        SD_BUS_METHOD_WITH_NAMES("CalibrationNext", "d", SD_BUS_PARAM(load_grams), "", "",
                                 bus_calibration_next, SD_BUS_VTABLE_UNPRIVILEGED),
        SD_BUS_METHOD("CancelCalibration", "", "", bus_cancel_calibration,
                      SD_BUS_VTABLE_UNPRIVILEGED),
        SD_BUS_METHOD_WITH_NAMES("AcceptCalibration", "", "", "x", SD_BUS_PARAM(id),
                                 bus_accept_calibration, SD_BUS_VTABLE_UNPRIVILEGED),
        SD_BUS_METHOD_WITH_NAMES("UseCalibration", "x", SD_BUS_PARAM(id), "x",
                                 SD_BUS_PARAM(active_id), bus_use_calibration,
                                 SD_BUS_VTABLE_UNPRIVILEGED),
        SD_BUS_METHOD_WITH_NAMES("Calibrations", "", "", "aa{sv}", SD_BUS_PARAM(rows),
                                 bus_calibrations, SD_BUS_VTABLE_UNPRIVILEGED),
        SD_BUS_METHOD_WITH_NAMES("CalibrationReadings", "x", SD_BUS_PARAM(id), "aa{sv}",
                                 SD_BUS_PARAM(readings), bus_calibration_readings,
                                 SD_BUS_VTABLE_UNPRIVILEGED),
        SD_BUS_METHOD_WITH_NAMES("Check", "ds", SD_BUS_PARAM(mass_grams) SD_BUS_PARAM(weight_class),
                                 "sdds",
                                 SD_BUS_PARAM(verdict) SD_BUS_PARAM(error_grams)
                                         SD_BUS_PARAM(limit_grams) SD_BUS_PARAM(sentence),
                                 bus_check, SD_BUS_VTABLE_UNPRIVILEGED),
        SD_BUS_PROPERTY("Calibration", "a{sv}", bus_get_calibration, 0, CHANGES),
        SD_BUS_PROPERTY("Health", "a{sv}", bus_get_health, 0, 0),
        SD_BUS_PROPERTY("Sensors", "a{sv}", get_sensors, 0, CHANGES),
        SD_BUS_PROPERTY("Driver", "s", get_driver, 0, CONSTANT),
        SD_BUS_PROPERTY("State", "s", get_text, 0, CHANGES),
        SD_BUS_PROPERTY("Condition", "s", get_text, 0, CHANGES),
        SD_BUS_PROPERTY("MaxGrams", "d", get_limit, 0, CONSTANT),
        SD_BUS_PROPERTY("IntervalGrams", "d", get_limit, 0, CONSTANT),
        SD_BUS_PROPERTY("Quantities", "a{sv}", get_quantities, 0, CHANGES),
        SD_BUS_SIGNAL_WITH_NAMES("Reading", "xxsa{sv}s",
                                 SD_BUS_PARAM(sequence) SD_BUS_PARAM(t_us) SD_BUS_PARAM(state)
                                         SD_BUS_PARAM(quantities) SD_BUS_PARAM(cue),
                                 0),
        SD_BUS_VTABLE_END,
};
