/* SPDX-License-Identifier: MIT */
/* A reply of any bytes: first what was asked (a byte each for the link, the function and
 * the number of registers), then the frame. What is judged good is also decoded. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/modbus_frame.h"
#include "drivers/modbus_map.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct modbus_map map = {.type = MODBUS_FLOAT32,
	                         .g_per_step = 1.0,
	                         .count_g = 0.01,
	                         .status = MODBUS_NONE,
	                         .heartbeat = MODBUS_NONE,
	                         .low_g = -1e6,
	                         .high_g = 1e6};
	struct modbus_request request = {.unit = 1, .address = 100, .transaction = 0x1234};
	uint16_t registers[MODBUS_SPAN_MAX];
	struct modbus_value value;
	enum modbus_link link;
	uint8_t *frame;
	int exception;

	if (size < 3)
		return 0;
	link = data[0] % 2 == 0 ? MODBUS_RTU : MODBUS_TCP;
	request.function = (uint8_t)(3 + data[1] % 4);
	request.word = (uint16_t)(1 + data[2] % MODBUS_SPAN_MAX);
	map.order = (enum modbus_order)(data[1] / 4 % 4);
	/* A block of its own size, so that a read past its end is found. */
	frame = malloc(size > 3 ? size - 3 : 1);
	if (frame == NULL)
		return 0;
	memcpy(frame, data + 3, size - 3);
	if (modbus_frame_judge(link, &request, frame, size - 3, &exception, registers) ==
	            MODBUS_GOOD &&
	    request.function <= MODBUS_READ_INPUT && request.word >= 2) {
		modbus_map_decode(&map, registers, &value);
		if (value.counts > 0x7FFFFF || value.counts < -0x800000)
			abort();
	}
	free(frame);
	return 0;
}
