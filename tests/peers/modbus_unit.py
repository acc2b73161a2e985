#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""A weighing unit made of pymodbus: modbus_unit.py [SERIAL-PORT...]

Serves TCP on a free port of 127.0.0.1, which it prints as "ready PORT", and each
serial port: units 1 to 16 behind TCP, unit 1 on a port, every one with registers of
its own. Holding and input registers:

  0, 1     int32, high word first: how often this unit was read; never twice the same
  2        status: bit 0 settled, 1 overload, 2 fault; can be written
  3        heartbeat: counts the reads, unless coil 1 is set
  10..17   the mass, float32 in the orders ABCD, BADC, CDAB, DCBA, in g
  18, 19   the mass, int32 in 0.01 g, high word first
  20       16 bit, in g, signed; 21 the same, low byte first
  30       write 1: the mass becomes 0
Coils: 0 write: the mass becomes 0; 1: the heartbeat stands still.
"""
import asyncio
import logging
import struct
import sys

from pymodbus.datastore import ModbusServerContext, ModbusSlaveContext
from pymodbus.datastore.store import BaseModbusDataBlock
from pymodbus.server.async_io import ModbusSerialServer, ModbusTcpServer
from pymodbus.transaction import ModbusRtuFramer, ModbusSocketFramer

logging.getLogger("pymodbus").setLevel(logging.CRITICAL)
N_REGISTERS, N_COILS = 40, 8


class Unit:
    def __init__(self):
        self.n, self.beat, self.status, self.mass_g = 0, 0, 1, 1234.5
        self.frozen, self.pressed, self.button = False, False, 0

    def registers(self):
        self.n += 1
        self.beat += not self.frozen
        a, b, c, d = struct.pack(">f", self.mass_g)
        r = [0] * N_REGISTERS
        r[0:2] = struct.unpack(">HH", struct.pack(">i", self.n))
        r[2], r[3] = self.status, self.beat & 0xFFFF
        for i, order in enumerate(((a, b, c, d), (b, a, d, c), (c, d, a, b), (d, c, b, a))):
            r[10 + 2 * i:12 + 2 * i] = struct.unpack(">HH", bytes(order))
        r[18:20] = struct.unpack(">HH", struct.pack(">i", round(self.mass_g * 100)))
        r[20] = round(self.mass_g) & 0xFFFF
        r[21] = (r[20] << 8 | r[20] >> 8) & 0xFFFF
        r[30] = self.button
        return r


class Registers(BaseModbusDataBlock):
    def __init__(self, unit):
        self.unit, self.address, self.default_value, self.values = unit, 0, 0, [0]

    def validate(self, address, count=1):
        return 0 <= address and address + count <= N_REGISTERS

    def getValues(self, address, count=1):
        return self.unit.registers()[address:address + count]

    def setValues(self, address, values):
        if address == 2:
            self.unit.status = values[0]
        if address == 30:  # pymodbus answers a write with what it reads afterwards
            self.unit.button = values[0]
            self.unit.mass_g *= values[0] != 1


class Coils(BaseModbusDataBlock):
    def __init__(self, unit):
        self.unit, self.address, self.default_value, self.values = unit, 0, 0, [0]

    def validate(self, address, count=1):
        return 0 <= address and address + count <= N_COILS

    def getValues(self, address, count=1):
        return [self.unit.pressed, self.unit.frozen, *[False] * 6][address:address + count]

    def setValues(self, address, values):
        if address == 0:
            self.unit.pressed = bool(values[0])
            self.unit.mass_g *= not values[0]
        if address == 1:
            self.unit.frozen = bool(values[0])


def device(unit=None):
    unit = unit or Unit()
    registers = Registers(unit)
    return ModbusSlaveContext(hr=registers, ir=registers, co=Coils(unit), zero_mode=True)


def context(n_units):
    return ModbusServerContext(slaves={i + 1: device() for i in range(n_units)}, single=False)


async def serve(lines, ready, tcp_units=context(16), line_units=context):
    tcp = ModbusTcpServer(tcp_units, framer=ModbusSocketFramer, address=("127.0.0.1", 0), ignore_missing_slaves=True)
    tasks = [asyncio.create_task(tcp.serve_forever())]
    for port in lines:
        # A unit that does not answer what is not for it, as on a shared line.
        line = ModbusSerialServer(line_units(1), framer=ModbusRtuFramer, port=port,
                                  baudrate=115200, timeout=0.005, ignore_missing_slaves=True)
        await line.start()
        tasks.append(asyncio.create_task(line.serve_forever()))
    await tcp.serving
    ready(tcp.server.sockets[0].getsockname()[1])
    await asyncio.gather(*tasks)


if __name__ == "__main__":
    asyncio.run(serve(sys.argv[1:], lambda port: print("ready", port, flush=True)))
