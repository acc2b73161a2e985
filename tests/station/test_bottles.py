# SPDX-License-Identifier: MIT
"""The bottle check through the whole station: bottles rested on the pan and known by their
mass, codes over the bus in every wrong order. The scale cannot tell A from B: nothing
here may make a batch be called better than what is known of it."""
import json
import time
import unittest

from ambo_bus import SYSTEM, Daemon, Hands, error_of, main, until

BOTTLES = {"a": 1250.0, "b": 640.0}
SHELF = SYSTEM.replace('lot = "TA-014";', 'lot = "TA-014"; code = "TP-A"; bottle_gross_g = 1250.0;') \
    .replace('lot = "TB-009";', 'lot = "TB-009"; code = "TP-B"; bottle_gross_g = 640.0;')


class Bench:
    """A station on which bottles may be rested, and hands that rest them."""

    def __init__(self, bottles_on_pan=True, **more):
        self.daemon = Daemon(station="bottles_on_pan = true;" if bottles_on_pan else "", **more)
        self.daemon.write("systems.d/tidepool-clear.conf", SHELF)
        self.bottle = dict(BOTTLES)

    def __enter__(self):
        self.daemon.start()
        return self

    def __exit__(self, *_):
        self.daemon.close()

    def message(self):
        return str(self.daemon.get("batch", "Message"))

    def step(self):
        return str(self.daemon.get("batch", "Step"))

    def until_message(self, *names):
        until("one of %s, not %s" % (names, self.message()), lambda: self.message() in names)

    def rest(self, mass_g, *messages):
        """Beside the cup for 4 s of the bench's time, until it is said what it is."""
        self.daemon.act("object", mass_g)
        self.until_message(*messages)
        time.sleep(0.5)
        self.daemon.act("object", -mass_g)

    def begin(self, **request):
        self.batch, _ = self.daemon.begin(**request)
        self.hands = Hands(self.daemon)
        until("the first charge", lambda: self.hands.look() or
              (self.step() == "charge" and self.message() == "add"))
        self.hands.stop()

    def pour(self, part, spilt_g=0.0):
        """To the target: the bottle loses what the cup gains, and what is spilt."""
        before = self.gross_g()

        def poured():
            if str(self.daemon.get("batch", "Component")) != part or \
                    self.message() in ("charge-done", "next-bottle", "ratio-within",
                                       "lift-and-stir"):
                self.hands.stop()
                return True
            shown = self.daemon.all("batch")
            if str(shown["Message"]) in ("add", "tip-back"):
                self.hands.pour(part, shown["Quantities"].get("RemainingGrams"),
                                str(shown["Message"]))
            else:
                self.hands.stop()
            return False
        until("the end of %s" % part, poured)
        until("a rest", lambda: str(self.daemon.get("scale", "State")) == "settled")
        self.bottle[part] -= self.gross_g() - before + spilt_g

    def gross_g(self):
        """On a busy machine there may be none for a moment."""
        shown = []
        until("a reading", lambda: shown.append(self.daemon.get("scale", "Quantities")) or
              "GrossGrams" in shown[-1])
        return float(shown[-1]["GrossGrams"])

    def dispenses(self):
        return [(d["component"], d["identity"])
                for d in json.loads(self.daemon.canonical(self.batch))["dispenses"]]


class OnThePan(unittest.TestCase):
    def test_each_bottle_is_known_and_b_needs_no_press(self):
        with Bench() as bench:
            bench.begin()
            bench.rest(bench.bottle["a"], "bottle-known")
            until("the charge", lambda: bench.step() == "charge")
            bench.pour("a")
            bench.rest(bench.bottle["b"], "bottle-known")
            until("b", lambda: str(bench.daemon.get("batch", "Component")) == "b")
            bench.pour("b")
            bench.hands.mix()
            self.assertEqual(bench.dispenses(), [("a", "bottle"), ("b", "bottle")])
            record = json.loads(bench.daemon.canonical(bench.batch))
            self.assertEqual(record["verdict"], "within")
            # The shelf knows them by what is left, over a restart too.
            bench.daemon.stop()
            bench.daemon.start()
            bench.begin()
            bench.rest(bench.bottle["a"], "bottle-known")

    def test_the_other_bottle_is_told_and_pours_nothing(self):
        with Bench() as bench:
            bench.begin()
            bench.daemon.act("object", bench.bottle["b"])
            bench.until_message("bottle-wrong")
            self.assertEqual(bench.step(), "held")
            sentence = str(bench.daemon.get("batch", "Sentence"))
            self.assertIn("B", sentence)
            bench.daemon.act("object", -bench.bottle["b"])
            until("the charge of a again", lambda: bench.step() == "charge")
            self.assertEqual(str(bench.daemon.get("batch", "Component")), "a")
            self.assertLess(abs(float(bench.daemon.get("batch", "Quantities")
                                      .get("DispensedGrams", 0.0))), 0.5)

    def test_a_thing_that_is_no_bottle_is_told(self):
        with Bench() as bench:
            bench.begin()
            bench.rest(333.0, "bottle-unknown", "not-resin")
            until("the charge", lambda: bench.step() == "charge")
            self.assertEqual(str(bench.daemon.get("batch", "Component")), "a")

    def test_a_bottle_that_lost_more_than_the_cup_gained_is_asked_about(self):
        """25 g beside the cup: poured elsewhere, spilt, or another bottle poured."""
        with Bench() as bench:
            bench.begin()
            bench.rest(bench.bottle["a"], "bottle-known")
            until("the charge", lambda: bench.step() == "charge")
            bench.pour("a", spilt_g=25.0)
            bench.daemon.act("object", bench.bottle["a"])
            bench.until_message("bottle-disagrees")
            self.assertEqual(bench.step(), "held")
            bench.daemon.act("object", -bench.bottle["a"])
            time.sleep(1.0)
            self.assertEqual(bench.message(), "bottle-disagrees")  # asked until answered
            bench.daemon.press()
            until("on with it", lambda: bench.step() != "held")
            bench.hands.mix()
            record = json.loads(bench.daemon.canonical(bench.batch))
            self.assertIn("bottle", record["accepted"])

    def test_without_the_setting_a_bottle_is_a_thing(self):
        with Bench(bottles_on_pan=False) as bench:
            bench.begin()
            bench.daemon.act("object", bench.bottle["a"])
            bench.until_message("not-resin")


class Codes(unittest.TestCase):
    """Codes over the bus."""

    def scan(self, bench, code):
        bench.daemon.call("batch", "Scan", "s", code)

    def test_the_next_bottles_code_is_the_press_and_a_repeat_is_nothing(self):
        with Bench(keep=5) as bench:
            bench.begin()
            for _ in range(3):
                self.scan(bench, "TP-A")
            bench.pour("a")
            bench.until_message("charge-done")
            self.scan(bench, "TP-B")
            until("b", lambda: str(bench.daemon.get("batch", "Component")) == "b")
            for _ in range(3):
                self.scan(bench, "TP-B")
            self.assertEqual((bench.step(), str(bench.daemon.get("batch", "Component"))),
                             ("charge", "b"))
            bench.pour("b")
            bench.hands.mix()
            self.assertEqual(bench.dispenses(), [("a", "code"), ("b", "code")])

    def test_after_a_the_code_of_a_again_holds(self):
        with Bench() as bench:
            bench.begin()
            bench.pour("a")
            bench.until_message("charge-done")
            self.scan(bench, "TP-A")
            bench.until_message("bottle-wrong")
            self.assertEqual(bench.step(), "held")
            self.scan(bench, "TP-B")
            until("b", lambda: bench.step() == "charge" and
                  str(bench.daemon.get("batch", "Component")) == "b")

    def test_codes_before_and_after_the_charges_move_nothing(self):
        with Bench() as bench:
            bench.batch, _ = bench.daemon.begin()
            self.scan(bench, "TP-B")
            self.assertEqual(bench.step(), "ready")
            bench.daemon.press()
            self.scan(bench, "TP-A")
            self.assertEqual(bench.step(), "cup")
            bench.hands = Hands(bench.daemon)
            until("the stirring", lambda: bench.hands.look() or bench.step() == "stir")
            self.scan(bench, "TP-A")
            self.scan(bench, "nothing")
            self.assertEqual(bench.step(), "stir")
            bench.hands.mix()
            # What was scanned before its bottle was asked for is no identity; after a
            # slip there is a top-up, which was not scanned either.
            dispenses = bench.dispenses()
            self.assertEqual(dispenses[:2], [("a", "by-hand"), ("b", "by-hand")])
            self.assertEqual({identity for _, identity in dispenses}, {"by-hand"})
            self.assertEqual(error_of(self.scan, bench, "TP-A")[0], "Finished")

    def test_long_and_odd_codes_are_refused_or_told(self):
        with Bench() as bench:
            self.assertEqual(error_of(self.scan, bench, "TP-A")[0], "NoBatch")
            bench.begin()
            for code in ("", "x" * 48, "x" * 100000):
                name, sentence = error_of(self.scan, bench, code)
                self.assertEqual(name, "BadRequest")
                self.assertIn("%d bytes" % len(code), sentence)
            self.assertEqual(bench.step(), "charge")
            for code in ("x" * 47, "TP-A\n", "tp-a", "%41", "\u00e9\u4e2d"):
                self.scan(bench, code)
                bench.until_message("bottle-wrong")
                self.scan(bench, "TP-A")
                until("the charge", lambda: bench.step() == "charge")


if __name__ == "__main__":
    main()
