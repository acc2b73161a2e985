# SPDX-License-Identifier: MIT
"""Random taps and key presses on displays in real windows, each with a station, a bus and a
screen of its own: none crashes, and none comes to a dead end. From any screen the running
batch is one press away at most.

What an event does is waited for, not slept for: `mark` in --touches is told once all before
it has been taken and shown. So every event aims at what is on the glass when it comes, and
every line that was shown is looked at."""
import os
import random
import re
import subprocess
import sys
import time
import unittest

import dbus

LONG = os.environ.get("AMBO_LONG") == "1"
EVENTS = 10000 if LONG else 250
WORKERS = 8 if LONG else 2
SEED = 20261125
STRETCH = 25       # events between two looks for the way back
LOSS = 6           # stretches between two losses of the station or the bus
AT_ONCE_S = 15.0   # for what takes the screen by itself: generous
MARK_S = 30.0
BATCH, HEARD_YES = 3, 6
OVER = ("-", "done", "discarded")
KEYS = ("Space", "F1", "Return", "A", "Escape", "Keypad Enter")


class Shown:
    """A line that the display told: which screen, and what can be touched on it."""

    def __init__(self, line):
        self.line = line
        self.screen, self.step = line.split()[1:3]
        self.up = " link=up " in line
        self.asleep = " asleep" in line
        self.spots = [(name, int(value), int(x), int(y)) for name, value, x, y in
                      re.findall(r"([a-z-]+)/(-?\d+)@(\d+),(\d+)", line)]
        self.open = self.up and self.step not in OVER

    def at(self, name, value):
        return next(((x, y) for n, v, x, y in self.spots if (n, v) == (name, value)), None)

    def is_dead_end(self):
        """Nothing to touch; or a batch is open, and no touch leads to it."""
        if not self.up:
            return bool(self.spots)  # nobody would answer
        if self.asleep:
            return self.open
        if not self.open or self.screen == "batch":
            return not self.spots
        return not (self.at("go", BATCH) or
                    (self.screen == "heard" and self.at("sound", HEARD_YES)))


class Worker:
    """One display; one who taps at it blindly, and one who pours."""

    def __init__(self, number, events):
        from ambo_bus import Hands, until
        from display_window import Presses, Screen, Window
        from test_display_bus import Bus
        from test_pieces import PIECE, Station
        self.Hands, self.Presses, self.until = Hands, Presses, until
        self.number, self.events = number, events
        self.chance = random.Random(SEED + number)
        self.bus = Bus()
        self.bus.start()
        os.environ["DBUS_SESSION_BUS_ADDRESS"] = self.bus.address
        self.daemon = Station(options='seed = %d; rate_hz = 80; speed = 8.0; noise_g = 0.05; '
                                      'warm_up_counts_per_s = 0.0; state = "bench.state";' % (7 + number))
        self.daemon.start()
        self.daemon.call("pieces", "Keep", "s", PIECE)
        until("a warm scale", lambda: not self.daemon.get("scale", "Condition"))
        # Some are at their first run, some are asked whether they hear.
        self.daemon.write("display.conf", ("", "first_run_done = true;\n",
                                           "first_run_done = true;\nquiet = true;\n")[number % 3])
        self.screen = Screen()
        self.window = Window(self.screen, "--settings", self.daemon.path("display.conf"))
        self.hands = None
        self.sent, self.n_marks, self.looked = [], 0, 0
        self.n = dict.fromkeys(("taps", "keys", "open", "ways", "losses"), 0)
        self.seen = set()

    def close(self):
        status = self.window.close()
        self.daemon.close()
        self.screen.close()
        self.bus.close()
        return status

    # What is done to the glass.
    def send(self, text):
        """Its lines, and then waits until all of them have been taken and shown."""
        self.n_marks += 1
        self.sent.append(text)
        lines = len(self.window.lines)
        # Told a turn later: what came of them is shown by then.
        self.window.touches.write("%swait 1\nmark %d\n" % (text, self.n_marks))
        self.window.touches.flush()
        end, told = time.monotonic() + MARK_S, "reached %d" % self.n_marks
        while told not in self.window.lines[lines:]:
            if self.window.process.poll() is not None or time.monotonic() > end:
                raise AssertionError("the display is gone or stands still (status %r): %s" % (
                    self.window.process.poll(), self.window.said()))
            time.sleep(0.002)
        self.look()

    def look(self):
        """Every line since the last look; returns the newest."""
        lines = self.window.lines
        for line in lines[self.looked:]:
            if line.startswith("shown "):
                self.now = Shown(line)
                self.seen.add(self.now.screen)
                if self.now.is_dead_end():
                    raise AssertionError("a dead end: " + line)
        self.looked = len(lines)
        return self.now

    def tap(self, x, y, hold_ms=95):  # 80 count: some is lost on a busy machine
        x, y = x / self.window.size[0], y / self.window.size[1]
        self.send("down %.5f %.5f\nwait %d\nup %.5f %.5f\n" % (x, y, hold_ms, x, y))

    def key(self, name="Space"):
        self.send("press %s\nrelease %s\n" % (name, name))

    def random_event(self):
        chance, spots = self.chance, self.look().spots
        width, height = self.window.size
        if chance.random() < 0.1:
            self.n["keys"] += 1
            if chance.random() < 0.1:  # by the window system's own way
                self.window.xdotool("key", chance.choice(("space", "F1", "Return", "a", "Escape")))
            else:
                self.key(chance.choice(KEYS))
            return
        self.n["taps"] += 1
        if spots and chance.random() < 0.75:
            _, _, x, y = chance.choice(spots)
        else:  # a glass may report a little beside itself
            x, y = chance.uniform(-0.1, 1.1) * width, chance.uniform(-0.1, 1.1) * height
        kind = chance.random()
        if kind < 0.01 and 0 <= x < width and 0 <= y < height:
            self.window.xdotool("mousemove", int(x), int(y), "mousedown", 1, "sleep", 0.1, "mouseup", 1)
        elif kind < 0.03:  # two fingers
            self.send("down 0.2 0.9 1\ndown 0.8 0.9 2\nwait 81\nup 0.2 0.9 1\nup 0.8 0.9 2\n")
        else:
            self.tap(x, y, 1600 if kind > 0.997 else 10 if kind > 0.95 else 95)

    # What happens around it.
    def attempt(self, *call):
        """What the station may well refuse just now."""
        try:
            self.daemon.call(*call)
            return True
        except dbus.DBusException:
            return False

    def begin(self):
        self.attempt("scale", "CancelCalibration", "")  # no batch may begin beside one
        self.attempt("bench", "Act", "sd", "lift", 0.0)
        try:
            self.daemon.begin(TotalGrams=120.0)
        except dbus.DBusException as error:
            # The display's own wish was under way: then that one is it.
            if not error.get_dbus_name().endswith(".PanTaken"):
                raise
        # Whoever stands at the display pours too, and presses there.
        self.hands = self.Hands(self.Presses(self.daemon, self.key))
        self.until("a batch on the display", lambda: self.look().open)

    def is_open(self):
        return bool(self.daemon.get("batch", "Id")) and \
            str(self.daemon.get("batch", "Step")) not in OVER

    def pour_on(self):
        """The batch goes on, mostly; where the pan is free it stays for a while: from there
        every screen can be had."""
        free = self.look().step in ("stir", "pour")
        if self.hands and self.now.up and self.chance.random() < (0.01 if free else 0.8):
            if self.hands.look():
                self.hands = None

    def lose(self):
        """The station, or the bus under it, and back."""
        self.n["losses"] += 1
        whole_bus = self.chance.random() < 0.5
        if self.hands:
            self.hands.stop()
        if whole_bus:
            self.bus.kill()
            self.daemon.process.kill()
            self.daemon.process.wait(MARK_S)
        else:
            self.daemon.kill()
        self.until("that it is said", lambda: not self.look().up)
        for _ in range(5):
            self.random_event()
        if whole_bus:
            from ambo_bus import connect
            self.bus.start()
            self.daemon.bus = connect()
        self.daemon.start()
        self.until("that it is back", lambda: self.look().up)

    def way_back(self):
        """One press at most, by finger or by foot, and the running batch is there."""
        if not self.is_open():
            self.begin()
            what = "it takes the screen by itself"
        else:
            self.look()
            what = "one press leads to it"
            if self.now.screen != "batch":
                self.n["ways"] += 1
                spot = self.now.at("go", BATCH)
                if spot and self.chance.random() < 0.5:
                    self.tap(*spot, hold_ms=700)  # no busy machine makes that 80, or 1500
                else:
                    self.key()
        end = time.monotonic() + AT_ONCE_S
        while self.look().screen not in ("batch", "heard") and self.now.open:
            if time.monotonic() > end:
                raise AssertionError("%s did not hold: %s" % (what, self.now.line))
            time.sleep(0.01)

    def run(self):
        for i in range(self.events):
            if i % STRETCH == 0:
                if self.chance.random() < 0.5:  # a keeper was here
                    self.attempt("scale", "Approve", "")
                if self.is_open() or self.chance.random() < 0.8:
                    self.way_back()
            if i % (STRETCH * LOSS) == STRETCH * LOSS // 2:
                self.lose()
            self.random_event()
            self.n["open"] += self.look().open
            self.pour_on()
            if self.look().open and self.now.screen not in ("batch", "heard") and \
                    self.chance.random() < 0.3:
                self.way_back()
        self.way_back()
        if self.close() != 0:
            raise AssertionError("it ended badly: " + self.window.said())
        return self.n


def worker(number, events):
    one = Worker(number, events)
    try:
        one.run()
    except BaseException:
        print("seed %d, event %d; the last of them:\n%s" % (
            SEED + number, one.n["taps"] + one.n["keys"], "".join(one.sent[-12:])))
        one.close()
        raise
    print(" ".join("%s=%d" % item for item in one.n.items()), ",".join(sorted(one.seen)))


class Random(unittest.TestCase):
    def test_random_taps_and_keys_find_no_dead_end(self):
        print("\nseed %d, %d events at %d displays" % (SEED, EVENTS, WORKERS), flush=True)
        begun = time.monotonic()
        share = EVENTS // WORKERS
        workers = [subprocess.Popen([sys.executable, os.path.abspath(__file__), "worker", str(i), str(share)],
                                    stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
                   for i in range(WORKERS)]
        outputs = [one.communicate()[0] for one in workers]
        for i, (one, output) in enumerate(zip(workers, outputs)):
            self.assertEqual(one.returncode, 0, "display %d:\n%s" % (i, output))
        told = [output.splitlines()[-1].split() for output in outputs]
        n = {name: sum(int(row[i].split("=")[1]) for row in told)
             for i, name in enumerate(("taps", "keys", "open", "ways", "losses"))}
        seen = set().union(*(row[-1].split(",") for row in told))
        print("%s; screens %s; %.0f s" % (n, " ".join(sorted(seen)), time.monotonic() - begun))
        self.assertGreaterEqual(n["taps"] + n["keys"], EVENTS)
        self.assertGreater(n["keys"], EVENTS // 20)
        # A batch was open for part of it, and the station went away in between.
        self.assertGreater(n["open"], EVENTS // 5)
        self.assertLess(n["open"], EVENTS)
        self.assertGreaterEqual(n["losses"], WORKERS)
        self.assertGreater(n["ways"], EVENTS // 200 if LONG else 0)


if __name__ == "__main__":
    if sys.argv[1:2] == ["worker"]:
        worker(int(sys.argv[2]), int(sys.argv[3]))
    else:
        from ambo_bus import main
        main()
