# SPDX-License-Identifier: MIT
"""A pan whose load is known to the test alone, a person who works at it by what the bus
shows, and somebody who meddles with the wires meanwhile.

For tests of a whole batch over a real driver: at true speed, so everything here is short.
"""
import os
import sys
import threading
import time

TOP = os.environ["AMBO_TOP"]
sys.path.insert(0, os.path.join(TOP, "tests", "station"))

from ambo_bus import SYSTEM, Daemon, Hands  # noqa: E402

STIR_S = 1.0


class Pan:
    """What truly stands on it, in grams: pieces of line over CLOCK_MONOTONIC."""

    def __init__(self):
        self.lock = threading.Lock()
        self.lines = [(0.0, 0.0, 0.0)]  # from when (s), grams then, grams a second
        self.truth = {"a": 0.0, "b": 0.0}
        self.pouring = None
        self.cup_g = self.in_cup_g = 0.0
        self.changed = lambda from_s, mass_g, rate_g_per_s: None

    def line_at(self, when_s):
        with self.lock:
            return next(line for line in reversed(self.lines) if line[0] <= when_s)

    def at(self, when_s):
        from_s, mass_g, rate = self.line_at(when_s)
        return mass_g + rate * (when_s - from_s)

    def still_s(self, when_s):
        """For how long it has been still."""
        with self.lock:
            from_s, _, rate = self.lines[-1]
        return 0.0 if rate else when_s - from_s

    def go_on(self, rate=0.0, mass_g=None):
        now_s = time.monotonic()
        with self.lock:
            from_s, before_g, before_rate = self.lines[-1]
            came_g = before_rate * (now_s - from_s)
            if self.pouring:
                self.truth[self.pouring] += came_g
                self.in_cup_g += came_g
            self.lines.append((now_s, before_g + came_g if mass_g is None else mass_g, rate))
            line = self.lines[-1]
        self.changed(*line)

    def act(self, verb, amount=0.0):
        """As the bench's verbs of the same names."""
        if verb == "cup":
            self.cup_g, self.in_cup_g = amount, 0.0
            self.go_on(mass_g=amount)
        elif verb.startswith("pour-"):
            self.go_on()
            self.pouring = verb[5:]
            self.go_on(amount)
        elif verb == "taper":
            self.go_on(amount)
        elif verb == "stop":
            self.go_on()
            self.pouring = None
        elif verb == "lift":
            self.go_on(mass_g=0.0)
        elif verb == "return":
            self.go_on(mass_g=self.cup_g + self.in_cup_g)
        else:
            raise ValueError(verb)


class Station(Daemon):
    """A daemon whose hands act on the pan, not on a simulated bench."""

    def __init__(self, pan, **settings):
        super().__init__(**settings)
        self.pan = pan
        self.write("systems.d/tidepool-clear.conf",
                   SYSTEM.replace("stir_s = 15.0", "stir_s = %r" % STIR_S))

    def act(self, verb, amount=0.0):
        self.pan.act(verb, amount)


class Person(Hands):
    """Looks at nothing but the bus. Blind while the scale is: then nothing is poured."""

    def __init__(self, daemon, meddler):
        super().__init__(daemon)
        self.meddler = meddler
        self.rate_now = 0.0

    def look(self):
        done = super().look()
        step = self.seen[-1][0]
        if step not in ("ready", "done", "discarded"):
            self.meddler.go_on()
        return done

    def in_hand(self, component):
        """The station asks for 3 s between two bottles."""
        if self.bottle is None or self.bottle[0] != component:
            self.bottle = (component, time.monotonic())
        return time.monotonic() - self.bottle[1] > 3.2

    def pour(self, component, left, message):
        cue = str(self.daemon.get("batch", "Cue"))
        if left is None or cue == "silent" or message == "tip-back" or left < 0.4:
            self.stop()
            return
        if not self.in_hand(component):
            return
        rate = 15.0 if left > 8.0 else 3.0 if left > 2.0 else 0.8
        if self.pouring is None:
            self.daemon.act("pour-" + component, rate)
            self.pouring = component
        elif rate != self.rate_now:
            self.daemon.act("taper", rate)
        self.rate_now = rate

    def answer(self, step, message, means):
        if step == "pour" and not self.meddler.is_done():
            return  # nothing may be left undone
        super().answer(step, message, means)


class Meddler:
    """Does one thing after another to the wires, each once it has been seen to work."""

    AGAIN_S = 4.0

    def __init__(self, deeds, pause_s=0.4):
        """@deeds: names, what to do, and whether it has been done (asked until true)."""
        self.deeds, self.pause_s = list(deeds), pause_s
        self.n_done, self.since_s, self.under_way = 0, None, False

    def is_done(self):
        return self.n_done == len(self.deeds)

    def go_on(self):
        now_s = time.monotonic()
        if self.since_s is None:
            self.since_s = now_s
        if self.is_done():
            return
        if self.under_way:
            if self.deeds[self.n_done][2]():
                self.n_done += 1
                self.under_way, self.since_s = False, now_s
            elif now_s - self.since_s > self.AGAIN_S:
                # On a busy machine it may hit what was given up already: once more.
                self.under_way, self.since_s = False, now_s
        elif now_s - self.since_s > self.pause_s:
            self.deeds[self.n_done][1]()
            self.under_way, self.since_s = True, now_s


class Watch:
    """Every settled reading the bus told of, held against the truth of its own time."""

    HEARD_S = 0.25

    def __init__(self, daemon, pan):
        self.pan, self.n, self.worst_g, self.wrong = pan, 0, 0.0, []
        daemon.bus.add_signal_receiver(self.hear, "Reading", "org.ambo.Scale1")

    def hear(self, _sequence, t_us, state, quantities, _cue):
        if str(state) != "settled" or "GrossGrams" not in quantities:
            return
        # Whoever weighs it hears of a change a moment later than it is made.
        if t_us * 1e-6 - self.pan.line_at(t_us * 1e-6)[0] < self.HEARD_S:
            return
        self.n += 1
        off_g = abs(float(quantities["GrossGrams"]) - self.pan.at(t_us * 1e-6))
        self.worst_g = max(self.worst_g, off_g)
        if off_g > 0.3:
            self.wrong.append((int(t_us), float(quantities["GrossGrams"]), off_g))


def check_record(test, daemon, pan, batch):
    """The committed record against what was truly poured."""
    row, _ = daemon.call("records", "Get", "x", batch)
    record = {"step": str(row["Step"]), "verdict": str(row["Verdict"]),
              "a": float(row["ResinGrams"]), "b": float(row["HardenerGrams"])}
    print("record %(step)s, %(verdict)s: A %(a).3f g, B %(b).3f g" % record,
          "; truly A %(a).3f g, B %(b).3f g" % pan.truth)
    test.assertEqual((record["step"], record["verdict"]), ("done", "within"))
    test.assertFalse(bool(row["Provisional"]))
    for part in ("a", "b"):
        test.assertAlmostEqual(record[part], pan.truth[part], delta=0.1)
    # Within by the truth too, and by no more off than the record says it may be.
    deviation_pct = 100.0 * (pan.truth["b"] / pan.truth["a"] / 0.45 - 1.0)
    test.assertLess(abs(deviation_pct), 2.0)
    test.assertLessEqual(abs(deviation_pct - float(row["DeviationPercent"])),
                         float(row["DeviationDoubtPercent"]))
    links, bad = daemon.call("records", "Verify", "")
    test.assertEqual((int(links), int(bad)), (1, 0))


def run_batch(test, daemon, pan, meddler, total_g=100.0, timeout_s=90.0):
    """A whole guided batch; returns the watch over its readings."""
    watch = Watch(daemon, pan)
    begun_s = time.monotonic()
    batch, _ = daemon.begin(TotalGrams=total_g)
    person = Person(daemon, meddler)
    try:
        person.mix(timeout_s)
    except AssertionError as error:
        raise AssertionError("%s\nundone: %s" % (error, [deed[0] for deed in
                                                         meddler.deeds[meddler.n_done:]]))
    print("a batch of %.0f s; settled readings %d, the worst %.3f g off" %
          (time.monotonic() - begun_s, watch.n, watch.worst_g))
    print(" -> ".join("%s %s" % pair for pair in person.seen))
    test.assertTrue(meddler.is_done(), "only %d of %d" % (meddler.n_done, len(meddler.deeds)))
    test.assertGreater(watch.n, 20)
    test.assertEqual(watch.wrong, [])
    check_record(test, daemon, pan, batch)
