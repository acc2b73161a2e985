/* SPDX-License-Identifier: MIT */
#include "modbus_config.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* As written. */
struct written {
	const char *link, *host, *device, *parity, *map, *type, *order, *unit;
	const char *settled_bit, *overload_bit, *fault_bit, *zero, *tare;
	double port, baud, stop_bits, unit_id, timeout_ms, rate_hz;
	double function, address, words, factor, count_g, low_g, high_g, jump_g;
	double status, heartbeat, heartbeat_ms;
};

/* Maps often met, by what they contain; each key may be overridden. Common practice, no
 * source. */
static const struct ready_map {
	const char *name, *type, *order, *unit;
	double factor, status, heartbeat;
} ready_maps[] = {
        {"float32 g", "float32", "ABCD", "g", 1.0, NAN, NAN},
        {"float32 kg", "float32", "ABCD", "kg", 1.0, NAN, NAN},
        {"float32 kg, low word first", "float32", "CDAB", "kg", 1.0, NAN, NAN},
        {"int32 0.01 g", "int32", "ABCD", "g", 0.01, NAN, NAN},
        {"int32 0.1 g, low word first", "int32", "CDAB", "g", 0.1, NAN, NAN},
        {"int16 1 g", "int16", "AB", "g", 1.0, NAN, NAN},
        {"float32 g, status, heartbeat", "float32", "ABCD", "g", 1.0, 2.0, 3.0},
};
#define N_READY_MAPS (sizeof(ready_maps) / sizeof(ready_maps[0]))

static const struct {
	const char *name;
	double g; /* pound and ounce: international avoirdupois, exact */
} units[] = {{"mg", 1e-3}, {"g", 1.0}, {"kg", 1e3}, {"lb", 453.59237}, {"oz", 28.349523125}};

static const char *const type_names[] = {"int16", "uint16", "int32", "float32"};
static const char *const order_names[] = {"ABCD", "BADC", "CDAB", "DCBA"};
/* What the library sets; any other it would silently take for 9600. */
static const int bauds[] = {1200,  2400,   4800,   9600,   19200, 38400,
                            57600, 115200, 230400, 460800, 921600};

struct reading {
	const struct scale_option *options;
	size_t n_options;
	option_report *report;
	void *context;
	int n_mistakes;
};

static const struct scale_option *find(const struct reading *of, const char *key)
{
	for (size_t i = 0; i < of->n_options; i++)
		if (strcmp(of->options[i].key, key) == 0)
			return &of->options[i];
	return NULL;
}

static const char *where(const struct reading *of, const char *key)
{
	const struct scale_option *option = find(of, key);

	if (option != NULL)
		return option->where;
	return of->n_options > 0 ? of->options[0].where : "scale";
}

__attribute__((format(printf, 3, 4))) static void mistake(struct reading *of, const char *key,
                                                          const char *format, ...)
{
	char sentence[SCALE_MESSAGE_MAX];
	va_list arguments;
	int n = snprintf(sentence, sizeof(sentence), "%.200s: %s: ", where(of, key), key);

	va_start(arguments, format);
	vsnprintf(sentence + n, sizeof(sentence) - (size_t)n, format, arguments);
	va_end(arguments);
	of->report(of->context, sentence);
	of->n_mistakes++;
}

/* The index of the name, or -1 and a mistake that lists them all. */
static int choose(struct reading *of, const char *key, const char *value, const char *const *names,
                  size_t n_names)
{
	char list[SCALE_MESSAGE_MAX / 2] = "";

	for (size_t i = 0; i < n_names; i++) {
		size_t used = strlen(list);

		if (strcmp(value, names[i]) == 0)
			return (int)i;
		snprintf(list + used, sizeof(list) - used, "%s\"%s\"", i > 0 ? ", " : "", names[i]);
	}
	mistake(of, key, "'%.40s' is none of them; expected one of %s", value, list);
	return -1;
}

/* A ready map's values come first, so that those written replace them. */
static void take_ready_map(struct reading *of, struct written *written)
{
	const struct scale_option *option = find(of, "map");
	const char *names[N_READY_MAPS];
	int i;

	if (option == NULL)
		return;
	for (size_t k = 0; k < N_READY_MAPS; k++)
		names[k] = ready_maps[k].name;
	i = choose(of, "map", option->value, names, N_READY_MAPS);
	if (i < 0)
		return;
	written->type = ready_maps[i].type;
	written->order = ready_maps[i].order;
	written->unit = ready_maps[i].unit;
	written->factor = ready_maps[i].factor;
	written->status = ready_maps[i].status;
	written->heartbeat = ready_maps[i].heartbeat;
	if (!isnan(written->status)) {
		written->settled_bit = "0";
		written->overload_bit = "1";
		written->fault_bit = "2";
	}
	written->address = 0;
}

static void read_written(struct reading *of, struct written *ret)
{
	const struct option_spec specs[] = {
	        {"link", OPTION_TEXT, true, 0, 0, "\"rtu\" or \"tcp\"", &ret->link},
	        {"host", OPTION_TEXT, false, 0, 0, "a name or an address", &ret->host},
	        {"port", OPTION_WHOLE, false, 1, 65535, "", &ret->port},
	        {"device", OPTION_TEXT, false, 0, 0, "the path of a serial port", &ret->device},
	        {"baud", OPTION_WHOLE, false, 1200, 921600, "bit/s", &ret->baud},
	        {"parity", OPTION_TEXT, false, 0, 0, "\"none\", \"even\" or \"odd\"", &ret->parity},
	        {"stop_bits", OPTION_WHOLE, false, 1, 2, "", &ret->stop_bits},
	        {"unit_id", OPTION_WHOLE, false, 0, 255, "", &ret->unit_id},
	        {"timeout_ms", OPTION_WHOLE, false, 10, 10000, "ms", &ret->timeout_ms},
	        {"rate_hz", OPTION_NUMBER, false, 0.1, 1000, "reads/s", &ret->rate_hz},
	        {"map", OPTION_TEXT, false, 0, 0, "the name of a ready map", &ret->map},
	        {"function", OPTION_WHOLE, false, 3, 4, "(3 holding, 4 input registers)",
	         &ret->function},
	        {"address", OPTION_WHOLE, false, 0, 65535, "(as sent, from 0)", &ret->address},
	        {"type", OPTION_TEXT, false, 0, 0, "a type", &ret->type},
	        {"order", OPTION_TEXT, false, 0, 0, "an order of bytes", &ret->order},
	        {"words", OPTION_WHOLE, false, 1, 125, "registers", &ret->words},
	        {"factor", OPTION_NUMBER, false, 1e-9, 1e9, "", &ret->factor},
	        {"unit", OPTION_TEXT, false, 0, 0, "a unit of mass", &ret->unit},
	        {"count_g", OPTION_NUMBER, false, 1e-6, 1000, "g", &ret->count_g},
	        {"low_g", OPTION_NUMBER, false, -1e6, 0, "g", &ret->low_g},
	        {"high_g", OPTION_NUMBER, false, 1, 1e6, "g", &ret->high_g},
	        {"jump_g", OPTION_NUMBER, false, 0, 1e6, "g", &ret->jump_g},
	        {"status", OPTION_WHOLE, false, 0, 65535, "(as sent, from 0)", &ret->status},
	        {"settled_bit", OPTION_TEXT, false, 0, 0, "a bit", &ret->settled_bit},
	        {"overload_bit", OPTION_TEXT, false, 0, 0, "a bit", &ret->overload_bit},
	        {"fault_bit", OPTION_TEXT, false, 0, 0, "a bit", &ret->fault_bit},
	        {"heartbeat", OPTION_WHOLE, false, 0, 65535, "(as sent, from 0)", &ret->heartbeat},
	        {"heartbeat_ms", OPTION_WHOLE, false, 10, 60000, "ms", &ret->heartbeat_ms},
	        {"zero", OPTION_TEXT, false, 0, 0, "a coil or a register", &ret->zero},
	        {"tare", OPTION_TEXT, false, 0, 0, "a coil or a register", &ret->tare},
	};

	of->n_mistakes += options_read("modbus", of->options, of->n_options, specs,
	                               sizeof(specs) / sizeof(specs[0]), of->report, of->context);
}

static void copy_text(struct reading *of, const char *key, const char *text, char *ret, size_t size)
{
	if ((size_t)snprintf(ret, size, "%s", text) >= size)
		mistake(of, key, "is too long; expected at most %zu bytes", size - 1);
}

static void take_tcp(struct reading *of, const struct written *written,
                     struct modbus_wire_config *ret)
{
	static const char *const serial_keys[] = {"device", "baud", "parity", "stop_bits"};

	for (size_t i = 0; i < sizeof(serial_keys) / sizeof(serial_keys[0]); i++)
		if (find(of, serial_keys[i]) != NULL)
			mistake(of, serial_keys[i],
			        "is of a serial line; expected with link "
			        "\"rtu\" only");
	if (written->host == NULL)
		mistake(of, "host", "is missing for link \"tcp\"; expected a name or an address");
	else
		copy_text(of, "host", written->host, ret->host, sizeof(ret->host));
	ret->port = (int)written->port;
}

static void take_rtu(struct reading *of, const struct written *written,
                     struct modbus_wire_config *ret)
{
	static const char *const parities[] = {"none", "even", "odd"};
	int parity = choose(of, "parity", written->parity, parities, 3);
	bool known = false;

	if (find(of, "host") != NULL)
		mistake(of, "host", "is of a network; expected with link \"tcp\" only");
	if (find(of, "port") != NULL)
		mistake(of, "port", "is of a network; expected with link \"tcp\" only");
	if (written->device == NULL)
		mistake(of, "device",
		        "is missing for link \"rtu\"; expected the path of a serial "
		        "port, best one in /dev/serial/by-id");
	else
		copy_text(of, "device", written->device, ret->device, sizeof(ret->device));
	for (size_t i = 0; i < sizeof(bauds) / sizeof(bauds[0]); i++)
		known = known || bauds[i] == (int)written->baud;
	if (!known)
		mistake(of, "baud",
		        "%g is no usual rate; expected 1200, 2400, 4800, 9600, 19200, "
		        "38400, 57600, 115200, 230400, 460800 or 921600",
		        written->baud);
	if (written->unit_id < 1 || written->unit_id > 247)
		mistake(of, "unit_id", "%g is no unit of a serial line; expected 1 to 247",
		        written->unit_id);
	ret->baud = known ? (int)written->baud : 9600;
	ret->parity = parity < 0 ? 'N' : "NEO"[parity];
	ret->stop_bits = (int)written->stop_bits;
}

static void take_wire(struct reading *of, const struct written *written,
                      struct modbus_wire_config *ret)
{
	static const char *const links[] = {"rtu", "tcp"};
	int link = written->link != NULL ? choose(of, "link", written->link, links, 2) : -1;

	if (link < 0)
		return; /* said already */
	ret->link = link == 0 ? MODBUS_RTU : MODBUS_TCP;
	ret->unit = (uint8_t)written->unit_id;
	ret->timeout_ms = (int)written->timeout_ms;
	if (ret->link == MODBUS_TCP)
		take_tcp(of, written, ret);
	else
		take_rtu(of, written, ret);
}

/* "3", or "!3" for a bit that means it by being clear. */
static void take_bit(struct reading *of, const char *key, const char *text, struct modbus_bit *ret)
{
	double bit;

	*ret = (struct modbus_bit){.bit = MODBUS_NONE};
	if (text == NULL)
		return;
	ret->inverted = text[0] == '!';
	if (option_number(text + ret->inverted, &bit) < 0 || bit < 0 || bit > 15 ||
	    bit != floor(bit))
		mistake(of, key,
		        "'%.40s' is no bit; expected 0 (the least) to 15, or \"!3\" for "
		        "one that means it when clear",
		        text);
	else
		ret->bit = (int)bit;
}

/* "coil 5", or "register 16 1": the address, and the value to write. */
static void take_button(struct reading *of, const char *key, const char *text,
                        struct modbus_button *ret)
{
	unsigned address, value = 0;
	char rest;

	*ret = (struct modbus_button){.function = MODBUS_NONE};
	if (text == NULL)
		return;
	if (sscanf(text, "coil %5u%c", &address, &rest) == 1) {
		ret->function = MODBUS_WRITE_COIL;
		value = 0xFF00; /* ON (V1.1b3, 6.5) */
	} else if (sscanf(text, "register %5u %5u%c", &address, &value, &rest) == 2) {
		ret->function = MODBUS_WRITE_REGISTER;
	}
	if (ret->function == MODBUS_NONE || address > 65535 || value > 65535) {
		mistake(of, key,
		        "'%.40s' says not what to write; expected \"coil ADDRESS\" or "
		        "\"register ADDRESS VALUE\", each 0 to 65535",
		        text);
		ret->function = MODBUS_NONE;
		return;
	}
	ret->address = (uint16_t)address;
	ret->value = (uint16_t)value;
}

static void take_order(struct reading *of, const struct written *written, struct modbus_map *ret)
{
	static const char *const short_names[] = {"AB", "BA"};
	const bool is_short = modbus_type_registers(ret->type) == 1;
	const char *order = written->order != NULL ? written->order : is_short ? "AB" : "ABCD";
	int i = is_short ? choose(of, "order", order, short_names, 2)
	                 : choose(of, "order", order, order_names, 4);

	ret->order = i < 0 ? MODBUS_ABCD : (enum modbus_order)i;
}

static void take_value(struct reading *of, const struct written *written, struct modbus_map *ret)
{
	const char *names[sizeof(units) / sizeof(units[0])];
	int type, unit;

	if (written->type == NULL) {
		mistake(of, "type",
		        "is missing, and so is map; expected one of int16, uint16, "
		        "int32, float32, or a ready map");
		return;
	}
	for (size_t i = 0; i < sizeof(names) / sizeof(names[0]); i++)
		names[i] = units[i].name;
	type = choose(of, "type", written->type, type_names, 4);
	unit = choose(of, "unit", written->unit, names, sizeof(names) / sizeof(names[0]));
	if (type < 0 || unit < 0)
		return;
	ret->type = (enum modbus_type)type;
	ret->g_per_step = written->factor * units[unit].g;
	ret->count_g = ret->type == MODBUS_FLOAT32 ? 0.01 : ret->g_per_step;
	if (!isnan(written->count_g))
		ret->count_g = written->count_g;
	if (!isnan(written->words) && (int)written->words != modbus_type_registers(ret->type))
		mistake(of, "words", "%g registers do not hold a value of type %s; expected %d",
		        written->words, type_names[type], modbus_type_registers(ret->type));
	take_order(of, written, ret);
}

static int register_of(double written)
{
	return isnan(written) ? MODBUS_NONE : (int)written;
}

static void check_map(struct reading *of, const struct modbus_map *map)
{
	const char *far = map->status != MODBUS_NONE ? "status" : "heartbeat";
	const int span = modbus_map_span(map), first = modbus_map_first(map);

	if (map->address + modbus_type_registers(map->type) > (int)MODBUS_REGISTERS_MAX)
		mistake(of, "address",
		        "the value's second register would be 65536; expected at "
		        "most 65534 for two registers");
	if (span > (int)MODBUS_SPAN_MAX) {
		if (map->heartbeat != MODBUS_NONE &&
		    (map->status == MODBUS_NONE || map->heartbeat - map->address > 124 ||
		     map->address - map->heartbeat > 123))
			far = "heartbeat";
		mistake(of, far,
		        "registers %d to %d are %d; expected value, status and heartbeat "
		        "within %u, as one read fetches no more",
		        first, first + span - 1, span, MODBUS_SPAN_MAX);
	}
	if (map->status == MODBUS_NONE &&
	    (map->settled.bit != MODBUS_NONE || map->overload.bit != MODBUS_NONE ||
	     map->fault.bit != MODBUS_NONE))
		mistake(of, "status",
		        "is missing, but a bit of it is given; expected its register");
	if (map->status != MODBUS_NONE && map->status >= map->address &&
	    map->status < map->address + modbus_type_registers(map->type))
		mistake(of, "status", "register %d belongs to the value; expected another",
		        map->status);
	if (map->heartbeat != MODBUS_NONE && map->heartbeat >= map->address &&
	    map->heartbeat < map->address + modbus_type_registers(map->type))
		mistake(of, "heartbeat", "register %d belongs to the value; expected another",
		        map->heartbeat);
}

static void take_map(struct reading *of, const struct written *written, struct modbus_map *ret)
{
	*ret = (struct modbus_map){.function = (int)written->function,
	                           .g_per_step = 1.0,
	                           .count_g = 1.0,
	                           .status = register_of(written->status),
	                           .heartbeat = register_of(written->heartbeat)};
	if (isnan(written->address))
		mistake(of, "address",
		        "is missing; expected the first register of the value, as "
		        "sent: 0 to 65535 (40001 in many manuals is 0)");
	else
		ret->address = (int)written->address;
	take_value(of, written, ret);
	take_bit(of, "settled_bit", written->settled_bit, &ret->settled);
	take_bit(of, "overload_bit", written->overload_bit, &ret->overload);
	take_bit(of, "fault_bit", written->fault_bit, &ret->fault);
	take_button(of, "zero", written->zero, &ret->zero);
	take_button(of, "tare", written->tare, &ret->tare);
	ret->high_g = isnan(written->high_g) ? 0x7FFFFF * ret->count_g : written->high_g;
	ret->low_g = isnan(written->low_g) ? -ret->high_g : written->low_g;
	ret->jump_g = isnan(written->jump_g) ? fmax(1.0, 10.0 * ret->count_g) : written->jump_g;
	if (!isnan(written->high_g) && written->high_g > 0x7FFFFF * ret->count_g)
		mistake(of, "high_g",
		        "%g g are over 8388607 counts of %g g; expected at most %g g, "
		        "or a coarser count_g",
		        written->high_g, ret->count_g, 0x7FFFFF * ret->count_g);
	if (of->n_mistakes == 0)
		check_map(of, ret);
}

/* A rate the line cannot carry would only show as gaps. */
static void check_rate(struct reading *of, const struct modbus_config *config)
{
	const struct modbus_wire_config *wire = &config->wire;
	const int64_t read_us =
	        wire->link == MODBUS_RTU
	                ? modbus_wire_read_us(wire->baud, modbus_wire_char_bits(wire),
	                                      (size_t)modbus_map_span(&config->map))
	                : 0;

	if (read_us > 0 && config->rate_hz > 1e6 / (double)read_us)
		mistake(of, "rate_hz",
		        "%g reads a second do not fit: one of %d registers takes "
		        "%.1f ms at %d baud; expected at most %.1f",
		        config->rate_hz, modbus_map_span(&config->map), (double)read_us * 1e-3,
		        wire->baud, floor(1e7 / (double)read_us) / 10.0);
}

int modbus_config_read(const struct scale_option *options, size_t n_options, option_report *report,
                       void *context, struct modbus_config *ret)
{
	struct reading of = {options, n_options, report, context, 0};
	struct written written = {.parity = "none",
	                          .unit = "g",
	                          .port = 502,
	                          .baud = 9600,
	                          .stop_bits = 1,
	                          .unit_id = 1,
	                          .timeout_ms = 1000,
	                          .rate_hz = 10,
	                          .function = 3,
	                          .address = NAN,
	                          .words = NAN,
	                          .factor = 1,
	                          .count_g = NAN,
	                          .low_g = NAN,
	                          .high_g = NAN,
	                          .jump_g = NAN,
	                          .status = NAN,
	                          .heartbeat = NAN,
	                          .heartbeat_ms = NAN};

	memset(ret, 0, sizeof(*ret));
	take_ready_map(&of, &written);
	read_written(&of, &written);
	take_wire(&of, &written, &ret->wire);
	take_map(&of, &written, &ret->map);
	ret->rate_hz = written.rate_hz;
	ret->heartbeat_ms =
	        (int)(isnan(written.heartbeat_ms) ? written.timeout_ms : written.heartbeat_ms);
	snprintf(ret->place, sizeof(ret->place), "%.100s: %s",
	         where(&of, ret->wire.link == MODBUS_TCP ? "host" : "device"),
	         ret->wire.link == MODBUS_TCP ? "host" : "device");
	if (of.n_mistakes == 0)
		check_rate(&of, ret);
	return of.n_mistakes;
}
