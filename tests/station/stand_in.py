# SPDX-License-Identifier: MIT
"""The bench's wires where the machine has none: ambod as it is, with tests/support/stand_in.c
loaded before its libraries. Line 1 is the foot switch to ground, 2 to 6 are red, yellow,
green, buzzer and vibration, 7 and 8 clock and data of an HX711 at 80 samples/s."""
import mmap
import os
import shutil
import struct
import tempfile
import time

from ambo_bus import BIN, Daemon

LIBRARY = os.path.join(BIN, "stand_in.so")
MISSING = None if os.path.exists(LIBRARY) else "the stand-in knows libgpiod 1.6 only"
RED, YELLOW, GREEN, BUZZER, VIBRATION = LAMP_AND_BELLS = 2, 3, 4, 5, 6

PANEL = ('panel: { chip = "bench"; foot = 1; red = 2; yellow = 3; green = 4; buzzer = 5; '
         'vibration = 6; %s };')
HX711 = 'chip = "bench"; clock = "7"; data = "8"; rate_hz = 80.0; %s'

# linux/input-event-codes.h
KEYS = {c: code for codes, first in (("1234567890-", 2), ("qwertyuiop", 16), ("asdfghjkl", 30),
                                     ("zxcvbnm", 44)) for code, c in enumerate(codes, first)}
KEY_ENTER, KEY_LEFTSHIFT, EV_SYN, EV_KEY = 28, 42, 0, 1


class Bench:
    def __init__(self, codes=False):
        self.folder = tempfile.mkdtemp(prefix="ambo-stand-in.")
        with open(self.path("state"), "wb") as file:
            file.write(struct.pack("=iiIIII", 190000, 0, 0, 0, 0, 0))
        with open(self.path("state"), "r+b") as file:
            self.state = mmap.mmap(file.fileno(), 24)
        os.mkfifo(self.path("foot"))
        # Both ends, so that neither side waits for the other to open.
        self.foot_fd = os.open(self.path("foot"), os.O_RDWR | os.O_NONBLOCK)
        self.codes_fd = None
        if codes:
            os.mkfifo(self.path("codes"))
            self.codes_fd = os.open(self.path("codes"), os.O_RDWR | os.O_NONBLOCK)

    def path(self, name):
        return os.path.join(self.folder, name)

    def panel(self):
        return PANEL % ('codes = "%s";' % self.path("codes") if self.codes_fd is not None else "")

    def environment(self):
        return dict(os.environ, LD_PRELOAD=LIBRARY, AMBO_STAND_IN=self.folder,
                    ASAN_OPTIONS="verify_asan_link_order=0")

    def close(self):
        self.unplug_codes()
        os.close(self.foot_fd)
        self.state.close()
        shutil.rmtree(self.folder, ignore_errors=True)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    # The foot.
    def foot(self, down):
        os.write(self.foot_fd, b"0" if down else b"1")

    def tread(self, seconds=0.15, bounces=0):
        """Down and up again; the contacts bounce within 10 ms."""
        for level in (True, False):
            self.foot(level)
            for _ in range(bounces):
                time.sleep(0.05)
                self.foot(not level)
                time.sleep(0.05)
                self.foot(level)
            time.sleep(seconds)

    # The lines: [(seconds, line, level)] as they were set.
    def lines(self):
        with open(self.path("lines")) as file:
            rows = [row.split() for row in file.read().splitlines()]
        return [(int(t) / 1e6, int(line), int(level)) for t, line, level in rows]

    def levels(self):
        now = dict.fromkeys(LAMP_AND_BELLS, 0)
        for _, line, level in self.lines():
            now[line] = level
        return now

    # The code reader: what a keyboard types, its keys going down and up.
    def key(self, code, value):
        now = time.clock_gettime(time.CLOCK_MONOTONIC)
        event = lambda kind, which, what: struct.pack("=qqHHi", int(now), int(now % 1 * 1e6),
                                                      kind, which, what)
        os.write(self.codes_fd, event(EV_KEY, code, value) + event(EV_SYN, 0, 0))

    def type(self, text, enter=True):
        for c in text:
            shift = c.isupper()
            if shift:
                self.key(KEY_LEFTSHIFT, 1)
            self.key(KEYS[c.lower()], 1)
            self.key(KEYS[c.lower()], 0)
            if shift:
                self.key(KEY_LEFTSHIFT, 0)
        if enter:
            self.key(KEY_ENTER, 1)
            self.key(KEY_ENTER, 0)

    def unplug_codes(self):
        if self.codes_fd is not None:
            os.close(self.codes_fd)
            self.codes_fd = None

    # The converter.
    def put(self, mass_g, zero_counts=190000.0, counts_per_g=429.5):
        self.state[0:4] = struct.pack("=i", round(zero_counts + counts_per_g * mass_g))

    def die(self, dead=True):
        self.state[4:8] = struct.pack("=i", int(dead))

    def chip(self):
        """off: its clock is held high, which no pulse is for 50 ms, not even of a reader that
        lost its processor in the midst of one."""
        names = ("clock", "powerdowns", "resets", "frames")
        before = struct.unpack("=IIII", self.state[8:24])
        time.sleep(0.05)
        now = dict(zip(names, struct.unpack("=IIII", self.state[8:24])))
        now["off"] = now["clock"] == 1 and before == tuple(now[name] for name in names)
        return now


def station(bench, **more):
    """A station on the simulated bench, with the panel on the stand-in's lines."""
    more["groups"] = more.get("groups", "") + bench.panel()
    return Daemon(**more)
