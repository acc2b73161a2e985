# SPDX-License-Identifier: MIT
"""The bench's wires through the whole station, on the stand-in's lines: what a foot can
do, what lamp, buzzer and vibration say without any display, what a code reader reads.

Colours: IEC 60073:2002 table 4, from memory: red danger, yellow abnormal, green normal.
Flashes: at most three in any second (WCAG 2.2, success criterion 2.3.1)."""
import json
import time
import unittest

from ambo_bus import AMBOD, SYSTEM, Daemon, Hands, main, until
from stand_in import BUZZER, GREEN, MISSING, RED, VIBRATION, YELLOW, Bench, station

CODED = SYSTEM.replace('lot = "TA-014";', 'lot = "TA-014"; code = "TP-A";').replace(
    'lot = "TB-009";', 'lot = "TB-009"; code = "TP-B";')
LAMPS = (RED, YELLOW, GREEN)


def rises(rows, lines):
    return [(t, line) for t, line, level in rows if level == 1 and line in lines]


class Feet(Hands):
    """Hands at the bench whose every press is the foot's."""

    def __init__(self, daemon, bench, **more):
        super().__init__(daemon, **more)
        self.bench = bench
        daemon.press = lambda: self.bench.tread(bounces=3)


@unittest.skipIf(MISSING, MISSING)
class Panel(unittest.TestCase):
    def setUp(self):
        self.bench = Bench()
        self.addCleanup(lambda: self.bench.close())

    def start(self, daemon):
        daemon.start(env=self.bench.environment())

    def step(self, daemon):
        return str(daemon.get("batch", "Step"))

    def mix_watching(self, daemon, feet):
        """A whole batch; what the lines did under each cue, the changes of both apart."""
        seen = {}
        match = daemon.bus.add_signal_receiver(
            lambda *args: seen.setdefault(str(args[4]), time.clock_gettime(time.CLOCK_MONOTONIC)),
            "Reading", "org.ambo.Scale1")
        feet.mix()
        match.remove()
        return seen

    def test_a_foot_alone_runs_a_batch(self):
        with station(self.bench) as daemon:
            self.start(daemon)
            batch, _ = daemon.begin()
            feet = Feet(daemon, self.bench)
            cues = self.mix_watching(daemon, feet)
            record = json.loads(daemon.canonical(batch))
            self.assertEqual((record["step"], record["verdict"]), ("done", "within"))
            self.assertIn("pour", cues)
            rows = self.bench.lines()
            # Never more than three flashes in a second, of all lamps together. The stamp is
            # of the moment the line was set: a loaded machine sets it late, never early.
            on = sorted({t for t, _ in rises(rows, LAMPS)})
            for first, fourth in zip(on, on[3:]):
                self.assertGreater(fourth - first, 0.8, (first, fourth))
            self.assertEqual(rises(rows, (RED,)), [])  # nothing was dangerous
            self.assertTrue(rises(rows, (GREEN,)))
            # The band was reached: two short notes at least, and felt.
            self.assertGreaterEqual(len(rises(rows, (BUZZER,))), 2)
            self.assertGreaterEqual(len(rises(rows, (VIBRATION,))), 2)
            until("dark and quiet", lambda: not any(self.bench.levels().values()))

    def test_one_tread_with_bouncing_contacts_is_one_press(self):
        with station(self.bench, keep=5) as daemon:
            self.start(daemon)
            daemon.begin()
            until("the step", lambda: self.step(daemon) == "ready")
            self.bench.tread(bounces=5)
            until("the press", lambda: self.step(daemon) == "cup")
            time.sleep(0.5)
            daemon.stop()
            with open(daemon.path("ambo.db.inputs", "1", "presses.csv")) as file:
                self.assertEqual(file.read().count(",press\n"), 1)

    def test_a_long_press_holds_everywhere_and_never_discards(self):
        """In every step that a batch can be in; however long the foot stays down."""
        with station(self.bench) as daemon:
            self.start(daemon)
            daemon.begin()
            hands = Hands(daemon)
            held = {}

            def look():
                step = self.step(daemon)
                if step not in held and step not in ("held", "done", "discarded"):
                    hands.stop()
                    self.bench.foot(True)
                    until("the hold in %s" % step, lambda: self.step(daemon) in ("held", "done"))
                    # It holds while the foot is still down, and stays so.
                    held[step] = str(daemon.get("batch", "Message"))
                    time.sleep(0.3)
                    self.bench.foot(False)
                    time.sleep(0.1)
                    self.assertIn(self.step(daemon), ("held", "done"))
                    levels = self.bench.levels
                    until("yellow", lambda: levels()[YELLOW] == 1 or self.step(daemon) != "held")
                    daemon.press()  # on with it
                    return False
                return hands.look()
            until("the end of the batch", look, 120.0)
            self.assertEqual(self.step(daemon), "done")
            for step in ("ready", "cup", "charge", "stir"):
                self.assertEqual(held.get(step), "held-by-hand", held)

    def test_a_jammed_switch_is_said_and_discards_nothing(self):
        with station(self.bench) as daemon:
            self.start(daemon)
            daemon.begin()
            self.bench.foot(True)
            until("the jam", lambda: "has been down for 20 s" in daemon.log(), 60.0)
            self.assertEqual(self.step(daemon), "held")
            self.bench.foot(False)

    def test_tip_back_repeats_without_a_display(self):
        """Poured on and on past the target: the buzzer does not stop at one note."""
        with station(self.bench) as daemon:
            self.start(daemon)
            daemon.begin(TotalGrams=600.0)
            hands = Hands(daemon, rate=8.0)
            tipped = []

            def look():
                if str(daemon.get("batch", "Message")) == "tip-back":
                    tipped.append(time.clock_gettime(time.CLOCK_MONOTONIC))
                    return True
                return hands.look()
            # Let the bench pour on slowly: the cue lasts.
            def slowly():
                left = daemon.get("batch", "Quantities").get("RemainingGrams")
                if hands.pouring and left is not None and left < 30.0:
                    daemon.act("taper", 0.4)
                    hands.stop = lambda: None
                    return True
                hands.look()
                return False
            until("the end to be near", slowly)
            until("tip-back", lambda: str(daemon.get("batch", "Message")) == "tip-back")
            until("the buzzer to repeat", lambda: len(rises(self.bench.lines(), (BUZZER,))) >= 3)
            rows = self.bench.lines()
            self.assertGreaterEqual(len(rises(rows, (VIBRATION,))), 2)
            self.assertGreaterEqual(len(rises(rows, (YELLOW,))), 2)
            daemon.act("stop", 0.1)

    def test_a_hazard_repeats_until_it_is_acknowledged(self):
        """Working life over: red and both bells, again and again; a foot acknowledges."""
        with station(self.bench) as daemon:
            daemon.write("systems.d/tidepool-clear.conf",
                         SYSTEM.replace("s = 2400.0", "s = 150.0").replace("stir_s = 15.0",
                                                                             "stir_s = 30.0"))
            self.start(daemon)
            daemon.begin()
            hands = Hands(daemon)
            until("the stirring", lambda: hands.look() or self.step(daemon) == "stir")
            until("the end of the working life",
                  lambda: str(daemon.get("batch", "Message")) == "life-over")
            before = len(self.bench.lines())
            until("three more notes", lambda: len(
                rises(self.bench.lines()[before:], (BUZZER,))) >= 6)
            rows = self.bench.lines()[before:]
            self.assertGreaterEqual(len(rises(rows, (RED,))), 4)
            self.assertGreaterEqual(len(rises(rows, (VIBRATION,))), 4)
            self.assertEqual(rises(rows, (GREEN,)), [])
            self.bench.tread()
            until("the acknowledgement",
                  lambda: str(daemon.get("batch", "Message")) != "life-over")
            until("quiet", lambda: self.bench.levels()[BUZZER] == 0)
            time.sleep(0.3)
            after = len(self.bench.lines())
            time.sleep(2.5)  # longer than the hazard's pattern
            self.assertEqual(rises(self.bench.lines()[after:], (RED, BUZZER, VIBRATION)), [])

    def test_a_lost_scale_is_red_and_comes_back(self):
        with station(self.bench) as daemon:
            self.start(daemon)
            daemon.begin()
            hands = Hands(daemon)
            until("a charge", lambda: hands.look() or self.step(daemon) == "charge")
            hands.stop()
            daemon.act("unplug")
            until("red", lambda: self.bench.levels()[RED] == 1)
            until("a note", lambda: rises(self.bench.lines(), (BUZZER,)))
            daemon.act("plug")
            until("no more red", lambda: str(daemon.get("scale", "Condition")) == "")

    def test_it_goes_dark_with_the_station(self):
        with station(self.bench) as daemon:
            self.start(daemon)
            daemon.begin()
            until("green", lambda: self.bench.levels()[GREEN] == 1)
            self.assertEqual(daemon.stop(), 0)
            self.assertFalse(any(self.bench.levels().values()))


@unittest.skipIf(MISSING, MISSING)
class Codes(unittest.TestCase):
    def setUp(self):
        self.bench = Bench(codes=True)
        self.addCleanup(lambda: self.bench.close())

    def start(self, daemon):
        daemon.write("systems.d/tidepool-clear.conf", CODED)
        daemon.start(env=self.bench.environment())

    def identities(self, daemon, batch):
        return [(d["component"], d["identity"])
                for d in json.loads(daemon.canonical(batch))["dispenses"]]

    def test_each_bottle_is_known_by_its_code(self):
        with station(self.bench) as daemon:
            self.start(daemon)
            batch, _ = daemon.begin()
            hands = Hands(daemon)
            scanned = set()

            def look():
                shown = daemon.all("batch")
                component = str(shown["Component"])
                if str(shown["Step"]) == "charge" and str(shown["Message"]) == "add" and \
                        component in "ab" and component not in scanned:
                    scanned.add(component)
                    self.bench.type("TP-" + component.upper())
                    time.sleep(0.2)
                return hands.look()
            until("the end of the batch", look)
            self.assertEqual(self.identities(daemon, batch), [("a", "code"), ("b", "code")])

    def until_charge(self, daemon):
        hands = Hands(daemon)
        until("the first charge", lambda: hands.look() or
              (str(daemon.get("batch", "Step")) == "charge" and
               str(daemon.get("batch", "Message")) == "add"))
        hands.stop()
        return hands

    def test_the_wrong_bottle_holds_and_the_right_one_goes_on(self):
        with station(self.bench) as daemon:
            self.start(daemon)
            daemon.begin()
            self.until_charge(daemon)
            self.bench.type("TP-B")
            until("the wrong bottle", lambda: str(daemon.get("batch", "Message")) == "bottle-wrong")
            self.assertEqual(str(daemon.get("batch", "Step")), "held")
            until("yellow", lambda: self.bench.levels()[YELLOW] == 1)
            self.bench.type("TP-A")
            until("the charge", lambda: str(daemon.get("batch", "Step")) == "charge")

    def test_a_bottle_of_no_known_code_holds_too(self):
        """It may be another system's A: "that is none of these" is no small thing."""
        with station(self.bench) as daemon:
            self.start(daemon)
            daemon.begin()
            self.until_charge(daemon)
            self.bench.type("LC-A")
            until("the stranger", lambda: str(daemon.get("batch", "Message")) == "bottle-wrong")
            self.assertEqual(str(daemon.get("batch", "Step")), "held")
            self.assertIn("none of this system's", str(daemon.get("batch", "Sentence")))
            self.bench.type("TP-A")
            until("the charge", lambda: str(daemon.get("batch", "Step")) == "charge")

    def test_odd_codes_harm_nothing(self):
        with station(self.bench) as daemon:
            self.start(daemon)
            self.bench.type("TP-A")  # no batch yet
            until("it to be said", lambda: "code 'TP-A': There is no batch" in daemon.log())
            daemon.begin()
            self.until_charge(daemon)
            self.bench.type("x" * 200)          # longer than any code
            self.bench.type("TP-A", enter=False)
            time.sleep(1.5)                     # typed by no reader: too slow
            self.bench.type("", enter=True)
            time.sleep(0.3)
            self.assertEqual(str(daemon.get("batch", "Step")), "charge")
            for _ in range(5):
                self.bench.type("TP-A")         # the same again and again
            time.sleep(0.3)
            self.assertEqual(str(daemon.get("batch", "Step")), "charge")

    def test_an_unplugged_reader_is_said_once_and_the_batch_goes_on(self):
        with station(self.bench) as daemon:
            self.start(daemon)
            batch, _ = daemon.begin()
            self.until_charge(daemon)
            self.bench.unplug_codes()
            until("it to be said", lambda: "code reader is gone" in daemon.log())
            time.sleep(0.5)
            self.assertEqual(daemon.log().count("code reader is gone"), 1)
            daemon.call("batch", "Scan", "s", "TP-A")  # over the bus it still goes
            Hands.mix(self.hands_at_charge(daemon))
            self.assertEqual(self.identities(daemon, batch)[0], ("a", "code"))

    def hands_at_charge(self, daemon):
        hands = Hands(daemon)
        hands.cup = "pan"
        return hands


class NoPanel(unittest.TestCase):
    def test_a_chip_or_reader_that_is_not_there_is_said_with_its_line(self):
        for group, words in (('panel: { chip = "/dev/gpiochip77"; foot = 1; };', "/dev/gpiochip77"),
                             ('panel: { codes = "/dev/input/by-id/none"; };', "by-id/none")):
            with self.subTest(group=group), Daemon(groups=group) as daemon:
                daemon.spawn()
                self.assertEqual(daemon.process.wait(60), 1)
                said = [line for line in daemon.log().splitlines() if words in line]
                self.assertEqual(len(said), 1, daemon.log())
                self.assertRegex(said[0], r"ambo\.conf:\d+: panel: ")


if __name__ == "__main__":
    main()
