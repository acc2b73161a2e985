#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""A whole guided batch over an HX711 at its pins: the unmodified ambod with its real driver,
libgpiod's calls answered by chip_preload.c, with each fault of chip, cell and wires on the
way."""
import os
import shutil
import subprocess
import tempfile
import time
import unittest

from true_pan import Meddler, Pan, Station, run_batch
from ambo_bus import BIN, main, until

ZERO_COUNTS, COUNTS_PER_G = 190000.0, 429.5
LIBRARY = os.path.join(os.path.dirname(BIN), "lib", "libchip_preload.so")


class Chip:
    def __init__(self, pan, rate_hz):
        self.folder = tempfile.mkdtemp(prefix="ambo-chip.")
        os.mkfifo(os.path.join(self.folder, "control"))
        self.fifo = os.open(os.path.join(self.folder, "control"), os.O_RDWR)
        self.tell("rate %r" % rate_hz)
        pan.changed = self.load

    def tell(self, line):
        os.write(self.fifo, (line + "\n").encode())

    def load(self, from_s, mass_g, rate_g_per_s):
        self.tell("load %d %r %r" % (from_s * 1e9, ZERO_COUNTS + COUNTS_PER_G * mass_g,
                                     COUNTS_PER_G * rate_g_per_s))

    def said(self):
        path = os.path.join(self.folder, "said")
        before = os.path.getsize(path) if os.path.exists(path) else 0
        self.tell("say")
        until("the chip's answer", lambda: os.path.exists(path) and
              os.path.getsize(path) > before, 10.0)
        with open(path) as file:
            words = file.read().splitlines()[-1].split()
        return dict(zip(words[0::2], (int(n) for n in words[1::2])))

    def close(self):
        os.close(self.fifo)
        shutil.rmtree(self.folder, ignore_errors=True)


class Batch(unittest.TestCase):
    def start(self, rate_hz, options=""):
        self.pan = Pan()
        self.chip = Chip(self.pan, rate_hz)
        self.addCleanup(self.chip.close)
        self.daemon = Station(
            self.pan, driver="hx711", rate=rate_hz, noise=0.03, zero_counts=ZERO_COUNTS,
            counts_per_g=COUNTS_PER_G,
            options='chip = "bench"; clock = 4; data = "5"; rate_hz = %d; %s' % (rate_hz, options))
        self.addCleanup(self.daemon.close)
        # A sanitiser's runtime asks to be loaded first; it may come after this one.
        sanitizer = os.environ.get("ASAN_OPTIONS", "") + ":verify_asan_link_order=0"
        env = dict(os.environ, LD_PRELOAD=LIBRARY, AMBO_CHIP=self.chip.folder,
                   ASAN_OPTIONS=sanitizer)
        self.daemon.start(env=env)
        self.daemon.stop_calibrated()
        self.chip.tell("rate %r" % rate_hz)  # another process, another chip
        self.daemon.start(env=env)
        until("the scale to weigh", lambda: self.counter("Conversions") > 10)

    def counter(self, name):
        return int(self.daemon.get("scale", "Health")["Counters"].get(name, 0))

    def condition(self):
        return str(self.daemon.get("scale", "Condition"))

    def weighs(self):
        return not self.condition().startswith(("silent", "failed", "rail"))

    def counted(self, line, name):
        """Something of a moment, that one of the driver's counters sees."""
        before = []

        def do():
            before[:] = [self.counter(name), self.counter("Conversions")]
            self.chip.tell(line)

        def done():
            return self.counter(name) > before[0] and self.weighs() and \
                self.counter("Conversions") > before[1] + 12
        return line, do, done

    def lasting(self, line, undo, condition):
        """Something that lasts until the station's condition names it."""
        seen = []

        def do():
            seen.clear()
            self.chip.tell(line)

        def done():
            if not seen and self.condition().startswith(condition):
                seen.append(time.monotonic())
            if seen and len(seen) == 1 and time.monotonic() > seen[0] + 0.4:
                self.chip.tell(undo)
                seen.append(self.counter("Conversions"))
            return len(seen) == 2 and self.weighs() and self.counter("Conversions") > seen[1] + 12
        return line, do, done

    def batch(self, rate_hz):
        self.start(rate_hz)
        before = self.chip.said()
        deeds = [
            self.counted("long", "LongPulses"),
            self.counted("restart", "Restarts"),
            self.lasting("dead high", "dead no", "silent"),
            self.counted("glitch", "Restarts"),
            self.lasting("rail 1", "rail 0", "rail"),
            self.lasting("dead low", "dead no", "failed"),
            self.counted("long", "LongPulses"),
            self.counted("restart", "Restarts"),
        ]
        run_batch(self, self.daemon, self.pan, Meddler(deeds, pause_s=1.2))
        after = self.chip.said()
        print("the chip:", after)
        print("the station:", {str(k): int(v) for k, v in
                               self.daemon.get("scale", "Health")["Counters"].items()})
        self.assertEqual(after["broken"], 0)  # no timing rule of the data sheet
        self.assertGreaterEqual(after["long"], 2)
        # Each long pulse and the glitch power down; each restart and power-down resets.
        self.assertGreaterEqual(after["powerdowns"] - before["powerdowns"], 3)
        self.assertGreaterEqual(after["resets"] - before["resets"], 5)
        log = self.daemon.log()
        self.assertIn("data line '5' is low straight after a reset", log)

    def test_at_80_per_s(self):
        self.batch(80)

    def test_at_10_per_s(self):
        self.batch(10)


if __name__ == "__main__":
    main()
