#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""A whole guided batch over Modbus TCP and over RTU: python3-pymodbus is the unit, socat
the serial line, our middleman (modbus_middleman.c) between it and the real ambod spoils a
reply in each way there is. The unit converts slower than it is read, so that it repeats."""
import asyncio
import collections
import os
import random
import shutil
import subprocess
import tempfile
import threading
import time
import unittest

from true_pan import Meddler, Pan, Station, run_batch
from ambo_bus import BIN, main, until

try:
    import modbus_unit
    MISSING = None if shutil.which("socat") else "socat"
except ImportError as error:
    MISSING = "python3-pymodbus or python3-serial-asyncio (%s)" % error

TIMEOUT_MS = 200
RATE_HZ, CONVERTS_HZ = 20.0, 12.0
# Kind, amount, so many replies in a row, and the counter of the station that must see it
# (None: it can not be told from a slow unit). fault_proxy.h says what each is.
FAULTS = [
    ("late", 100, 1, None),
    ("late", 500, 1, "TimedOut"),
    ("dropped", 0, 1, "TimedOut"),
    ("crc", 0, 1, "Damaged"),
    ("flipped", 0, 1, "Spoilt"),
    ("truncated", 0, 1, "Spoilt"),
    ("split", 60, 1, None),
    ("junk", 0, 1, "Spoilt"),
    ("unit", 0, 1, "Spoilt"),  # over TCP its transaction is ours: then it is damaged
    ("transaction", 0, 1, "Foreign"),
    ("closed", 0, 1, "LinksLost"),
    ("exception", 2, 1, "Exceptions"),
    ("exception", 4, 1, "Exceptions"),
    ("exception", 6, 1, "Exceptions"),
]


def unit_of(pan):
    """A pymodbus unit that weighs the pan, CONVERTS_HZ times a second."""
    class Weighing(modbus_unit.Unit):
        def __init__(self):
            super().__init__()
            self.chance = random.Random(5)
            self.newest = None

        def registers(self):
            beat = int(time.monotonic() * CONVERTS_HZ)
            if beat != self.newest:
                when_s = beat / CONVERTS_HZ
                self.newest, self.beat = beat, beat
                self.mass_g = pan.at(when_s) + self.chance.gauss(0.0, 0.02)
                self.status = 1 if pan.still_s(when_s) > 0.4 else 0
            self.frozen = True  # the beat is the conversion's, not the read's
            return super().registers()
    return Weighing()


class Unit:
    """The server, on a thread of this process: it shares the pan with the hands."""

    def __init__(self, pan, lines):
        self.port = None
        self.up = threading.Event()
        server = modbus_unit.ModbusServerContext(slaves={1: modbus_unit.device(unit_of(pan))},
                                                 single=False)
        threading.Thread(target=lambda: asyncio.run(modbus_unit.serve(
            lines, self.ready, server, lambda n: server)), daemon=True).start()
        if not self.up.wait(30.0):
            raise AssertionError("the unit did not come up")

    def ready(self, port):
        self.port = port
        self.up.set()


class Middleman:
    def __init__(self, *args):
        self.process = subprocess.Popen([os.path.join(BIN, "modbus_middleman"), *args], text=True,
                                        stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        self.port = int(self.process.stdout.readline().split()[1])

    def counts(self):
        self.process.stdin.write("count\n")
        self.process.stdin.flush()
        words = self.process.stdout.readline().split()
        return dict(zip(words[0::2], (int(n) for n in words[1::2])))

    def spoil(self, kind, amount, n):
        self.process.stdin.write("%s %d %d\n" % (kind, amount, n))
        self.process.stdin.flush()

    def close(self):
        self.process.stdin.close()
        self.process.wait(30.0)
        self.process.stdout.close()


@unittest.skipIf(MISSING, "%s is missing, install it" % MISSING)
class Batch(unittest.TestCase):
    def setUp(self):
        self.pan = Pan()
        self.folder = tempfile.mkdtemp(prefix="ambo-modbus.")
        self.addCleanup(shutil.rmtree, self.folder, ignore_errors=True)

    def counters(self, daemon):
        seen = collections.Counter({str(k): int(v) for k, v in
                                    daemon.get("scale", "Health")["Counters"].items()})
        # What a flipped or cut off frame is taken for depends on the byte.
        seen["Spoilt"] = sum(seen[k] for k in ("Damaged", "Foreign", "TimedOut", "LinksLost",
                                               "Exceptions"))
        return seen

    def deed(self, daemon, middleman, fault):
        kind, amount, n, counter = fault
        before = {}

        def do():
            before.update(there=middleman.counts()[kind], seen=self.counters(daemon))
            middleman.spoil(kind, amount, n)

        def done():
            if middleman.counts()[kind] < before["there"] + n:
                return False
            seen = self.counters(daemon)
            if counter is not None and seen[counter] == before["seen"][counter]:
                return False
            return seen["Good"] > before["seen"]["Good"] + 2  # and it weighs again
        return fault, do, done

    def batch(self, options, middleman, faults):
        self.addCleanup(middleman.close)
        options += ('unit_id = 1; timeout_ms = %d; rate_hz = %r; address = 10; type = "float32"; '
                    'status = 2; settled_bit = "0"; overload_bit = "1"; fault_bit = "2"; '
                    'heartbeat = 3;' % (TIMEOUT_MS, RATE_HZ))
        daemon = Station(self.pan, driver="modbus", options=options, rate=CONVERTS_HZ, noise=0.03,
                         zero_counts=0.0, counts_per_g=100.0, keep=1)
        self.addCleanup(daemon.close)
        daemon.start()
        until("the unit to be heard", lambda: self.counters(daemon)["Good"] > 10)
        run_batch(self, daemon, self.pan,
                  Meddler(self.deed(daemon, middleman, fault) for fault in faults))
        seen, spoilt = self.counters(daemon), middleman.counts()
        print("the middleman:", spoilt)
        print("the station:", seen)
        for kind in {fault[0] for fault in faults}:
            self.assertGreaterEqual(spoilt[kind], sum(f[2] for f in faults if f[0] == kind), kind)
        # Every spoilt reply that may not be believed was noticed, each in its way.
        noticed = seen["TimedOut"] + seen["Damaged"] + seen["Foreign"] + seen["LinksLost"] + \
            seen["Exceptions"]
        self.assertGreaterEqual(noticed, sum(f[2] for f in faults if f[3]))
        self.assertGreater(seen["Repeats"], 50)
        return daemon

    def test_over_tcp(self):
        unit = Unit(self.pan, [])
        middleman = Middleman("tcp", str(unit.port))
        self.batch('link = "tcp"; host = "127.0.0.1"; port = %d; ' % middleman.port, middleman,
                   [f for f in FAULTS if f[0] != "crc"])

    def test_over_a_serial_line(self):
        near, far, link = (os.path.join(self.folder, name) for name in ("near", "far", "port"))
        line = subprocess.Popen(["socat", "pty,raw,echo=0,link=" + near,
                                 "pty,raw,echo=0,link=" + far])
        self.addCleanup(line.wait, 30.0)
        self.addCleanup(line.terminate)
        until("the line", lambda: os.path.exists(near) and os.path.exists(far), 20.0)
        Unit(self.pan, [far])
        middleman = Middleman("rtu", near, link)
        # A pty keeps no wire time: only so quick a line may answer as quickly.
        self.batch('link = "rtu"; device = "%s"; baud = 921600; ' % link, middleman,
                   [f for f in FAULTS if f[0] != "transaction"])


if __name__ == "__main__":
    main()
