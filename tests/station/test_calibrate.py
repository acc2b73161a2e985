# SPDX-License-Identifier: MIT
"""The scale is calibrated, checked and looked after through the bus, on the simulated
bench at speed; what it is worth is seen at the masses put on it."""
import math
import os
import subprocess
import unittest

import dbus

from ambo_bus import BIN, Daemon, Hands, WAIT_S, error_of, main, until

TRUE_COUNTS_PER_G = 433.0  # the cell's own; the configuration says 429.5
OPTIONS = ('seed = 7; rate_hz = 80.0; speed = 30.0; noise_g = 0.05; warm_up_counts_per_s = 0.0; '
           'creep_ratio = 0.0; corrupt_ratio = 0.001; counts_per_g = %g;')
LOADS = (1000.0, 2000.0, 4000.0)


def station(**more):
    more.setdefault("options", OPTIONS % TRUE_COUNTS_PER_G)
    return Daemon(**more)


def shown(daemon):
    return daemon.get("scale", "Calibration")


def press(daemon, mass_g=0.0):
    """Presses until it is taken: hands wait for the scale, at most WAIT_S."""
    def once():
        try:
            daemon.call("scale", "CalibrationNext", "d", float(mass_g))
            return True
        except dbus.DBusException as error:
            if not error.get_dbus_name().endswith(".NotNow"):
                raise
            return False
    until("the press to be taken: %s" % shown(daemon).get("Sentence"), once)


def start(daemon, **about):
    daemon.call("scale", "StartCalibration", "a{sv}", dbus.Dictionary(about, signature="sv"))


def on_off(daemon, step, mass_g):
    """One load by itself: on, taken; off, taken."""
    for amount, message in ((mass_g, "-off"), (-mass_g, "-on")):
        taken = int(shown(daemon)["Taken"])
        daemon.act("object", amount)
        until("the load of %s to be taken" % step,
              lambda: int(shown(daemon).get("Taken", 0)) > taken or
              str(shown(daemon)["Step"]) in ("done", "refused"))


def go_through(daemon, loads=LOADS, about={"Celsius": 21.5}):
    """A whole calibration up to done or refused; the pan is empty before and after."""
    start(daemon, **about)
    press(daemon)
    on = 0.0
    for load in loads:
        daemon.act("object", load - on)
        on = load
        press(daemon, load)
        if str(shown(daemon)["Step"]) == "refused":
            daemon.act("object", -on)
            return
    press(daemon)
    for load in tuple(reversed(loads[:-1])) + (0.0,):
        daemon.act("object", load - on)
        on = load
        press(daemon)
    for _ in range(10):
        on_off(daemon, "repeat", loads[-1])
    for place in range(1, 5):
        if str(shown(daemon)["Step"]) != "places":
            return
        daemon.act("place", place)
        on_off(daemon, "places", loads[-1])
    daemon.act("place", 0)


def accept(daemon):
    return int(daemon.call("scale", "AcceptCalibration", ""))


def weigh(daemon, mass_g):
    """Net mass of so much put on the empty, zeroed pan."""
    daemon.call("scale", "Weigh", "")
    until("the zero", lambda: zeroed(daemon))
    daemon.act("object", mass_g)
    # The bench takes a moment to put it down: what was settled before it does not count.
    until("the mass to come", lambda: abs(float(daemon.get("scale", "Quantities")
                                                .get("GrossGrams", 0.0))) > 0.5 * mass_g)
    net, _ = daemon.call("scale", "Weigh", "")
    return float(net)


def zeroed(daemon):
    try:
        daemon.call("scale", "Zero", "")
        return True
    except dbus.DBusException as error:
        if not error.get_dbus_name().endswith(".NotSettled"):
            raise
        return False


def clear(daemon, mass_g):
    daemon.act("object", -mass_g)
    until("the pan to be clear", lambda: abs(float(daemon.get("scale", "Quantities")
                                                   .get("GrossGrams", 1e9))) < 5.0)


class Calibrate(unittest.TestCase):
    def test_a_whole_calibration_holds_is_kept_and_can_be_gone_back_from(self):
        with station() as daemon:
            daemon.start()
            wrong = weigh(daemon, 2000.0)
            # 2000 g read by the configuration's 429.5 counts/g: 16 g too much.
            self.assertAlmostEqual(wrong, 2000.0 * TRUE_COUNTS_PER_G / 429.5, delta=0.5)
            clear(daemon, 2000.0)
            go_through(daemon)
            state = shown(daemon)
            self.assertEqual(str(state["Step"]), "done", state)
            self.assertAlmostEqual(float(state["CountsPerGram"]), TRUE_COUNTS_PER_G, delta=0.01)
            self.assertLess(float(state["HysteresisGrams"]), 0.05)
            self.assertEqual(accept(daemon), 1)
            self.assertEqual(int(shown(daemon)["ActiveId"]), 1)
            self.assertFalse(shown(daemon)["UnderWay"])
            self.assertAlmostEqual(weigh(daemon, 2000.0), 2000.0, delta=0.1)
            clear(daemon, 2000.0)

            row, = daemon.call("scale", "Calibrations", "")
            self.assertEqual((int(row["Id"]), bool(row["Active"]), str(row["Driver"])),
                             (1, True, "simulated"))
            self.assertEqual(float(row["Celsius"]), 21.5)
            self.assertGreater(int(row["RealtimeMicroseconds"]), 0)
            readings = daemon.call("scale", "CalibrationReadings", "x", 1)
            kinds = [str(r["Kind"]) for r in readings]
            self.assertEqual([kinds.count(k) for k in ("zero", "rising", "falling", "repeat", "place")],
                             [15, 3, 3, 10, 4])
            up = [(float(r["MassGrams"]), float(r["Counts"])) for r in readings
                  if str(r["Kind"]) == "rising"]
            for mass, counts in up:
                self.assertAlmostEqual(counts, 190000.0 + TRUE_COUNTS_PER_G * mass, delta=20.0)

            # It outlives the daemon.
            daemon.kill()
            daemon.start()
            self.assertEqual(int(shown(daemon)["ActiveId"]), 1)
            self.assertIn("calibration 1 holds", daemon.log())

            # Back to the configuration's, and forth again.
            self.assertEqual(int(daemon.call("scale", "UseCalibration", "x", 0)), 0)
            self.assertAlmostEqual(weigh(daemon, 2000.0), wrong, delta=0.5)
            clear(daemon, 2000.0)
            self.assertEqual(int(daemon.call("scale", "UseCalibration", "x", 1)), 1)
            self.assertAlmostEqual(weigh(daemon, 2000.0), 2000.0, delta=0.1)
            clear(daemon, 2000.0)
            name, _ = error_of(daemon.call, "scale", "UseCalibration", "x", 7)
            self.assertEqual(name, "NotFound")
            self.assertEqual(int(shown(daemon)["ActiveId"]), 1)

    def test_a_batch_is_weighed_by_the_new_calibration_and_replays_by_it(self):
        with station(options=OPTIONS % 500.0, keep=2) as daemon:
            daemon.start()
            go_through(daemon)  # 500 counts/g: 16 % off, noted but no gain
            self.assertIn("span-changed", [str(n["Id"]) for n in shown(daemon)["Notes"]])
            accept(daemon)
            # A slower bench from here: hands pour at the speed of hands.
            daemon.stop()
            daemon.write("ambo.conf", open(daemon.path("ambo.conf")).read()
                         .replace("speed = 30.0", "speed = 8.0"))
            daemon.start()
            hands = Hands(daemon)
            # Long words too: the line that begins the batch carries all of this.
            batch, _ = daemon.begin(TotalGrams=160.0, Layer="the first one, clear",
                                    Piece="round wall clock, pressed ferns, sea glass")
            hands.mix()
            text = daemon.canonical(batch)
            daemon.stop()
            with open(daemon.path("ambo.db.inputs", str(batch), "presses.csv")) as file:
                begin = next(line for line in file if "begin" in line)
            self.assertIn("cal_g_per_count=0.00", begin)
            self.assertGreater(len(begin), 256)
            self.assertIn(b'"verdict":"within"', text)
            # 52 g by 500 counts/g; by the configuration's they would be 60.5.
            self.assertAlmostEqual(cup_of(text), 52.0, delta=0.2)
            inputs = daemon.path("ambo.db.inputs", str(batch))
            with Daemon("replay", 'file = "%s/trace.csv"; presses = "%s/presses.csv"; speed = 0;'
                        % (inputs, inputs)) as other:
                other.start()
                until("the end of the trace", lambda: other.get("scale", "Condition") == "ended")
                self.assertEqual(other.canonical(int(other.get("batch", "Id"))), text)

    def test_a_scale_that_is_wired_wrong_is_refused_and_the_one_before_holds(self):
        faults = [("swapped-pair", 1.0, "swapped-pair", (2000.0,)),
                  ("gain", 0.5, "wrong-gain", (2000.0,)),
                  ("gain", 2.0, "wrong-gain", (2000.0,)),
                  ("bend", 0.01, "bend", LOADS)]
        for verb, amount, message, loads in faults:
            with self.subTest(verb=verb, amount=amount), station() as daemon:
                daemon.start()
                daemon.act(verb, amount)
                go_through(daemon, loads)
                self.assertEqual((str(shown(daemon)["Step"]), str(shown(daemon)["Message"])),
                                 ("refused", message))
                self.assertEqual(error_of(accept, daemon)[0], "NotNow")
                self.assertEqual(list(daemon.call("scale", "Calibrations", "")), [])
                daemon.call("scale", "CancelCalibration", "")
                self.assertEqual(int(shown(daemon)["ActiveId"]), 0)

    def test_faults_that_show_on_an_empty_pan_are_named(self):
        for verb, amount, message in [("loose-clock", 0.05, "loose-clock"), ("hum-50", 3.0, "hum"),
                                      ("hum-60", 12.0, "hum"), ("open-bridge", 1.0, "open-bridge")]:
            with self.subTest(verb=verb), station(noise=0.0) as daemon:
                daemon.start()
                daemon.act(verb, amount)
                until("the fault to show", lambda: message in findings(daemon))
                start(daemon)
                if verb == "open-bridge":
                    until("the refusal", lambda: str(shown(daemon)["Step"]) == "refused")
                else:
                    press(daemon)
                self.assertEqual((str(shown(daemon)["Step"]), str(shown(daemon)["Message"])),
                                 ("refused", message))

    def test_a_wrong_rate_pin_is_named(self):
        with station(options=(OPTIONS % 433.0).replace("rate_hz = 80", "rate_hz = 10")) as daemon:
            daemon.start()
            until("the rate to be found", lambda: "wrong-rate" in findings(daemon))
            start(daemon)
            press(daemon)
            self.assertEqual(str(shown(daemon)["Message"]), "wrong-rate")

    def test_a_cold_cell_and_a_small_load_are_refused(self):
        cold = (OPTIONS % 433.0).replace("warm_up_counts_per_s = 0.0", "warm_up_counts_per_s = 8.0")
        with station(options=cold.replace("speed = 30.0", "speed = 10.0")) as daemon:
            daemon.start()
            start(daemon)
            until("the pan to be still", lambda: shown(daemon)["Settled"])

            def refusal():
                name, sentence = error_of(daemon.call, "scale", "CalibrationNext", "d", 0.0)
                self.assertEqual(name, "NotNow")
                return "warming up" in sentence
            until("the cold cell to be named", refusal)
            press(daemon)  # once it is warm
            daemon.act("object", 400.0)
            name, sentence = error_of(daemon.call, "scale", "CalibrationNext", "d", 400.0)
            self.assertEqual(name, "BadRequest")
            self.assertIn("500 g", sentence)
            self.assertEqual(int(shown(daemon)["Loads"]), 0)

    def test_a_batch_and_a_calibration_keep_off_each_other(self):
        with station() as daemon:
            daemon.start()
            start(daemon)
            name, sentence = error_of(daemon.begin)
            self.assertEqual(name, "PanTaken")
            self.assertIn("calibration", sentence)
            self.assertEqual(error_of(start, daemon)[0], "Busy")
            self.assertEqual(error_of(daemon.call, "scale", "UseCalibration", "x", 0)[0], "Busy")
            daemon.call("scale", "CancelCalibration", "")
            daemon.begin()
            name, sentence = error_of(start, daemon)
            self.assertEqual(name, "Busy")
            self.assertIn("batch is open", sentence)
            self.assertEqual(error_of(daemon.call, "scale", "UseCalibration", "x", 0)[0], "Busy")

    def test_a_calibration_of_another_driver_does_not_hold(self):
        with station() as daemon:
            daemon.start()
            go_through(daemon, (2000.0,))
            self.assertEqual(accept(daemon), 1)
            daemon.stop()
            import sqlite3
            with sqlite3.connect(daemon.path("ambo.db")) as db:
                db.execute("DROP TRIGGER calibration_stays")
                db.execute("UPDATE calibration SET driver = 'hx711'")
            daemon.start()
            self.assertEqual(int(shown(daemon)["ActiveId"]), 0)
            self.assertIn("calibration 1 is of the driver hx711", daemon.log())
            self.assertEqual(error_of(daemon.call, "scale", "UseCalibration", "x", 1)[0], "Refused")


def cup_of(text):
    import json
    return json.loads(text)["cup"]["cup_ug"] / 1e6


def health(daemon):
    return daemon.get("scale", "Health")


def findings(daemon):
    return [str(f["Id"]) for f in health(daemon)["Findings"]]


class Check(unittest.TestCase):
    def put_and_check(self, daemon, mass_g, nominal_g=1000.0, weight_class="M1"):
        weigh(daemon, mass_g)
        try:
            return daemon.call("scale", "Check", "ds", nominal_g, weight_class)
        finally:
            clear(daemon, mass_g)

    def test_a_check_passes_fails_and_is_overdue(self):
        """5000 g in 0.1 g is class II; 1000 g is 10000 e: 1 e, in service 2 e = 0.2 g (OIML
        R 76-1:2006 Tables 3 and 6); a 1000 g M1 weight is good to 0.05 g (R 111-1)."""
        with station(options=OPTIONS % 429.5, check=24.0) as daemon:
            daemon.start()
            until("the cell to be warm",
                  lambda: str(daemon.get("scale", "Condition")) == "check-overdue")
            batch, warning = daemon.begin()
            self.assertIn("daily check is overdue", warning)
            daemon.call("batch", "Discard", "x", batch)

            verdict, error, limit, sentence = self.put_and_check(daemon, 1000.0)
            self.assertEqual(str(verdict), "passed", sentence)
            self.assertAlmostEqual(float(limit), 0.2, places=9)
            self.assertLess(abs(float(error)), 0.1)
            until("the condition to be well", lambda: str(daemon.get("scale", "Condition")) == "")
            batch, warning = daemon.begin()
            self.assertEqual(warning, "")
            daemon.call("batch", "Discard", "x", batch)

            verdict, error, _, sentence = self.put_and_check(daemon, 1000.5)
            self.assertEqual(str(verdict), "failed")
            self.assertAlmostEqual(float(error), 0.5, delta=0.1)
            until("the condition", lambda: str(daemon.get("scale", "Condition")) == "check-failed")
            self.assertIn("check-failed", findings(daemon))
            _, warning = daemon.begin()
            self.assertIn("daily check failed", warning)
            self.assertIn("g too much", warning)

            # It is remembered over a restart.
            daemon.kill()
            daemon.start()
            until("the condition", lambda: str(daemon.get("scale", "Condition")) == "check-failed")

    def test_a_check_grows_old(self):
        with station(options=OPTIONS % 429.5, check=24.0) as daemon:
            daemon.start()
            self.assertEqual(str(self.put_and_check(daemon, 1000.0)[0]), "passed")
            daemon.stop()
            import sqlite3
            day = 24 * 3600 * 1000000
            with sqlite3.connect(daemon.path("ambo.db")) as db:
                db.execute("INSERT INTO scale_check SELECT NULL, boot_id, boottime_us - ?,"
                           " realtime_us - ?, synchronised, driver, calibration_id, degc,"
                           " nominal_g, weight_class, indicated_g, limit_g, tolerance_g, verdict"
                           " FROM scale_check", (day + 60000000, day + 60000000))
            daemon.start()
            until("overdue", lambda: str(daemon.get("scale", "Condition")) == "check-overdue")
            _, warning = daemon.begin()
            self.assertIn("the last was 24 h 1 min ago", warning)

    def test_a_check_of_the_calibration_before_is_none_of_this_one(self):
        with station(options=OPTIONS % 429.5, check=24.0) as daemon:
            daemon.start()
            self.assertEqual(str(self.put_and_check(daemon, 1000.0)[0]), "passed")
            self.assertNotIn("check-overdue", findings(daemon))
            go_through(daemon, (2000.0,))
            accept(daemon)
            self.assertIn("check-overdue", findings(daemon))

    def test_wiring_is_suspected_from_what_a_weight_reads(self):
        """Without a calibration: a known weight below zero, or at half its value."""
        for verb, amount, words in (("swapped-pair", 1.0, "signal wires are swapped"),
                                    ("gain", 0.5, "gain or channel")):
            with self.subTest(verb=verb), station(options=OPTIONS % 429.5) as daemon:
                daemon.start()
                daemon.act(verb, amount)
                weigh(daemon, 1000.0)
                name, sentence = error_of(daemon.call, "scale", "Check", "ds", 1000.0, "M1")
                self.assertEqual(name, "NotSettled")
                self.assertIn(words, sentence)
                if verb == "swapped-pair":
                    self.assertIn("underload", findings(daemon))

    def test_what_is_no_check_is_refused_in_one_sentence(self):
        with station(options=OPTIONS % 429.5) as daemon:
            daemon.start()
            weigh(daemon, 1000.0)
            for nominal, weight, words in ((300.0, "M1", "no single check weight"),
                                           (1000.0, "M9", "no class"),
                                           (500.0, "M1", "expected"),
                                           (1000.0, "M3", "third")):
                name, sentence = error_of(daemon.call, "scale", "Check", "ds", nominal, weight)
                self.assertIn(name, ("BadRequest", "NotSettled"))
                self.assertIn(words, sentence)
            self.assertNotIn("CheckVerdict", health(daemon))


class Health(unittest.TestCase):
    def test_a_good_scale_is_well_and_tells_its_smallest_batch(self):
        with station(options=OPTIONS % 429.5) as daemon:
            daemon.start()
            until("all to be known", lambda: findings(daemon) == ["well"] and
                  "NoiseGrams" in health(daemon) and "CorruptPerThousand" in health(daemon))
            seen = health(daemon)
            self.assertAlmostEqual(float(seen["SamplesPerSecond"]), 84.0, delta=0.5)
            self.assertAlmostEqual(float(seen["NoiseGrams"]), 0.05, delta=0.015)
            self.assertEqual(str(seen["SmallestBatchSystem"]), "tidepool-clear")
            self.assertEqual(float(seen["SmallestBatchTolerancePercent"]), 2.0)
            # m_resin = 4 u sqrt(2(1+R+R^2))/(R T), total = (1+R) m_resin, with u of a
            # reading of one second (the formula of ratio.h, by hand): d, residual, noise.
            noise = max(0.05, float(seen["NoiseGrams"]))
            u = math.sqrt(0.1 ** 2 / 12 + 0.02 ** 2 + (1.445 * noise) ** 2 / 80)
            total = 1.45 * 4 * u * math.sqrt(2 * (1 + 0.45 + 0.45 ** 2)) / (0.45 * 0.02)
            self.assertAlmostEqual(float(seen["SmallestBatchGrams"]), total, delta=0.002 * total)

    def test_noise_makes_the_smallest_batch_grow(self):
        noisy = (OPTIONS % 429.5).replace("noise_g = 0.05", "noise_g = 0.4")
        with station(options=noisy) as daemon:
            daemon.start()
            until("the noise to be found", lambda: "noisy" in findings(daemon))
            self.assertGreater(float(health(daemon)["SmallestBatchGrams"]), 30.0)


AMBO = os.path.join(BIN, "ambo")


class Terminal(unittest.TestCase):
    def ambo(self, *args, **more):
        return subprocess.run([AMBO, "--bus", "session", *args], capture_output=True, text=True,
                              timeout=WAIT_S, stdin=subprocess.DEVNULL, **more)

    def test_health_and_check_tell_by_words_numbers_and_status(self):
        with station(options=OPTIONS % 429.5) as daemon:
            daemon.start()
            until("well", lambda: findings(daemon) == ["well"])
            done = self.ambo("health")
            self.assertEqual(done.returncode, 0, done.stderr)
            self.assertIn("finding,well\n", done.stdout)
            self.assertIn('"samples_per_s": 8', self.ambo("health", "--json").stdout)
            weigh(daemon, 1000.0)
            done = self.ambo("check", "1000", "--class", "M1", "--on")
            self.assertEqual(done.returncode, 0, done.stderr)
            self.assertIn("Passed: ", done.stdout)
            clear(daemon, 1000.0)
            weigh(daemon, 1000.6)
            done = self.ambo("check", "1000", "--json")
            self.assertEqual(done.returncode, 1)
            self.assertIn('"verdict":"failed"', done.stdout.replace(" ", ""))
            self.assertEqual(self.ambo("health").returncode, 1)
            self.assertEqual(self.ambo("check", "kilo").returncode, 2)
            done = self.ambo("check", "1000", "--class", "Z")
            self.assertEqual((done.returncode, done.stderr.count("\n")), (1, 1))

    def test_calibrate_leads_through_and_back(self):
        """A person at the keyboard; the hands at the bench do as they are told."""
        with station() as daemon:
            daemon.start()
            person = subprocess.Popen([AMBO, "--bus", "session", "calibrate", "--degc", "20"],
                                      stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                      stderr=subprocess.STDOUT, text=True)
            self.addCleanup(person.stdout.close)
            state = lambda: shown(daemon)
            until("the start", lambda: bool(state()["UnderWay"]))

            def enter(line, done):
                """Presses again where the scale was not yet ready, as people do."""
                def once():
                    if done():
                        return True
                    person.stdin.write(line + "\n")
                    person.stdin.flush()
                    try:
                        until("it to be taken", done, 1.0)
                    except AssertionError:
                        return False
                    return True
                until("'%s' to do" % line, once)
            step = lambda: str(state().get("Step"))
            enter("", lambda: step() == "rising")
            person.stdin.write("100\n")
            person.stdin.flush()
            until("the refusal", lambda: str(state()["Message"]) == "load-too-small")
            daemon.act("object", 3000.0)
            enter("3000", lambda: int(state()["Loads"]) == 1)
            enter("d", lambda: step() == "falling")
            daemon.act("object", -3000.0)
            enter("", lambda: step() == "repeat")
            for _ in range(10):
                on_off(daemon, "repeat", 3000.0)
            for place in range(1, 5):
                daemon.act("place", place)
                on_off(daemon, "places", 3000.0)
            until("the end", lambda: step() == "done")
            enter("", lambda: person.poll() is not None)
            out, _ = person.communicate(timeout=WAIT_S)
            self.assertEqual(person.returncode, 0, out)
            self.assertEqual(out.count("too small for this scale"), 1, out)  # not twice
            # Not each of them: the bench is faster than the terminal looks.
            for words in ("Clear the pan", r"3000 g on the middle: \d+ of 10|all off again: \d+ of 10",
                          "the (front|right|back|left)", "counts/g, degree 1",
                          "Calibration 1 holds"):
                self.assertRegex(out, words)
            rows = self.ambo("calibrate", "--list").stdout.splitlines()
            self.assertEqual(len(rows), 2)
            self.assertTrue(rows[1].startswith("1,true,"))
            self.assertEqual(len(self.ambo("calibrate", "--readings", "1").stdout.splitlines()),
                             1 + 31)
            self.assertEqual(self.ambo("calibrate", "--use", "0").returncode, 0)
            self.assertEqual(int(shown(daemon)["ActiveId"]), 0)


if __name__ == "__main__":
    main()
