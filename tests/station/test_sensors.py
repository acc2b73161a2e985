# SPDX-License-Identifier: MIT
"""Thermometers and hygrometer, on files as the kernel's hwmon shows them: what they are
used for, and that a value is never shown when it is no longer one."""
import os
import sqlite3
import tempfile
import time
import unittest

import test_calibrate
from ambo_bus import Daemon, Hands, main, until

EVERY_S = 0.2
SENSORS = ('sensors: { resin_temperature = "%(folder)s/resin"; air_temperature = "%(folder)s/air"; '
           'air_humidity = "%(folder)s/humidity"; every_s = ' + str(EVERY_S) + '; };')


def presses_of(daemon):
    """What is kept of the first batch, for a replay."""
    with open(daemon.path("ambo.db.inputs", "1", "presses.csv")) as file:
        return file.read()


class Sensors(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="ambo-sensors.")
        self.addCleanup(__import__("shutil").rmtree, self.folder, ignore_errors=True)
        self.put(resin=23.5, air=21.25, humidity=48.0)

    def put(self, **values):
        """Thousandths, as hwmon and IIO have them. Replaced whole, never half-written."""
        for name, value in values.items():
            path = os.path.join(self.folder, name)
            with open(path + ".new", "w") as file:
                file.write("%d\n" % round(value * 1000))
            os.rename(path + ".new", path)

    def station(self, **more):
        more.setdefault("groups", SENSORS % {"folder": self.folder})
        return Daemon(**more)

    def sensed(self, daemon):
        return {str(k): v for k, v in daemon.get("scale", "Sensors").items()}

    def until_sensed(self, daemon, **expected):
        until("the sensors to say %r" % expected,
              lambda: all(self.sensed(daemon).get(k) == v for k, v in expected.items()))

    def test_the_bus_health_and_checks_have_them(self):
        with self.station() as daemon:
            daemon.start()
            self.until_sensed(daemon, ResinCelsius=23.5, AirCelsius=21.25, AirHumidityPercent=48.0)
            changes = []
            daemon.bus.add_signal_receiver(
                lambda interface, changed, gone: changes.append(changed.get("Sensors")),
                "PropertiesChanged", path="/org/ambo/scale")
            self.put(air=24.0)
            until("the change to be told", lambda: any(
                c is not None and c.get("AirCelsius") == 24.0 for c in changes))
            health = daemon.get("scale", "Health")
            self.assertEqual((health["Celsius"], health["HumidityPercent"], health["ResinCelsius"]),
                             (24.0, 48.0, 23.5))
            test_calibrate.weigh(daemon, 1000.0)
            daemon.call("scale", "Check", "ds", 1000.0, "M1")
            with sqlite3.connect(daemon.path("ambo.db")) as db:
                self.assertEqual(db.execute("SELECT degc FROM scale_check").fetchall(), [(24.0,)])
            self.assertNotIn("sensors:", daemon.log())

    def test_one_that_fails_is_said_once_and_leaves_no_number(self):
        with self.station() as daemon:
            daemon.start()
            self.until_sensed(daemon, AirCelsius=21.25)
            os.unlink(os.path.join(self.folder, "air"))
            until("the value to go", lambda: "AirCelsius" not in self.sensed(daemon))
            self.assertIn("No such file", str(self.sensed(daemon)["AirProblem"]))
            self.assertEqual(self.sensed(daemon)["ResinCelsius"], 23.5)  # the others go on
            self.assertNotIn("Celsius", daemon.get("scale", "Health"))
            time.sleep(5 * EVERY_S)
            self.assertEqual(daemon.log().count("sensors: air_temperature:"), 1, daemon.log())
            self.put(air=20.0)
            self.until_sensed(daemon, AirCelsius=20.0)
            self.assertEqual(daemon.log().count("sensors: air_temperature: is back"), 1)
            self.assertNotIn("AirProblem", self.sensed(daemon))

    def test_one_that_is_missing_at_the_start_is_said_and_found_later(self):
        os.unlink(os.path.join(self.folder, "resin"))
        with self.station() as daemon:
            daemon.start()
            until("it to be said", lambda: "sensors: resin_temperature:" in daemon.log())
            self.put(resin=26.0)
            self.until_sensed(daemon, ResinCelsius=26.0)

    def test_one_that_hangs_ages_and_hinders_nobody(self):
        """A pipe nobody writes into: the read blocks for ever, as on a stuck bus."""
        with self.station() as daemon:
            daemon.start()
            self.until_sensed(daemon, ResinCelsius=23.5, AirCelsius=21.25)
            os.mkfifo(os.path.join(self.folder, "pipe"))
            os.rename(os.path.join(self.folder, "pipe"), os.path.join(self.folder, "resin"))
            began = time.monotonic()
            until("the value to age", lambda: "ResinCelsius" not in self.sensed(daemon))
            self.assertLess(time.monotonic() - began, 3 * EVERY_S + 2.0 + 3.0)
            until("it to be said", lambda: "has not answered" in daemon.log())
            self.put(air=19.0)
            self.until_sensed(daemon, AirCelsius=19.0)
            began = time.monotonic()
            self.assertEqual(daemon.stop(), 0)
            self.assertLess(time.monotonic() - began, 20.0)  # 3 s, and a loaded machine

    def test_a_warm_resin_shortens_the_working_life(self):
        """The label's 2400 s at 23 C; 33 C leave a third (working_life.h)."""
        self.put(resin=33.0)
        with self.station(keep=5) as daemon:
            daemon.start()
            self.until_sensed(daemon, ResinCelsius=33.0)
            daemon.begin()
            hands = Hands(daemon)

            def left():
                hands.look()
                return daemon.get("batch", "Quantities").get("WorkingLifeLeftSeconds")
            first = float(until("the life to begin", left))
            self.assertLessEqual(first, 800.0)
            self.assertGreater(first, 700.0)
            # 10 K more leave a third of what is left. It gets no longer when the probe cools.
            self.put(resin=43.0)
            until("the life to be shorter", lambda: left() < 270.0)
            self.put(resin=20.0)
            self.until_sensed(daemon, ResinCelsius=20.0)
            time.sleep(3 * EVERY_S)
            self.assertLess(left(), 270.0)
            daemon.call("batch", "Discard", "x", 0)
            until("the end", lambda: str(daemon.get("batch", "Step")) == "discarded")
            daemon.stop()
            kept = presses_of(daemon)
            self.assertIn("resin_degc=33", kept)  # what a replay needs
            self.assertIn("life left_s=", kept)

    def test_what_the_request_tells_goes_before_the_probe(self):
        self.put(resin=33.0)
        with self.station(keep=5) as daemon:
            daemon.start()
            self.until_sensed(daemon, ResinCelsius=33.0)
            daemon.begin(ResinCelsius=25.0)
            daemon.stop()
            kept = presses_of(daemon)
            self.assertIn("resin_degc=25", kept)

    def test_calibrations_keep_the_rooms_temperature(self):
        with self.station(options=test_calibrate.OPTIONS % 433.0) as daemon:
            daemon.start()
            self.until_sensed(daemon, AirCelsius=21.25)
            for about, degc in (({}, 21.25), ({"Celsius": 18.0}, 18.0)):
                test_calibrate.go_through(daemon, (2000.0,), about)
                daemon.call("scale", "AcceptCalibration", "")
                row = daemon.call("scale", "Calibrations", "")[0]
                self.assertEqual(row["Celsius"], degc)

    def test_a_room_far_from_the_calibrations_is_a_finding(self):
        with self.station(options=test_calibrate.OPTIONS % 433.0) as daemon:
            daemon.start()
            self.until_sensed(daemon, AirCelsius=21.25)
            test_calibrate.go_through(daemon, (2000.0,), {})
            daemon.call("scale", "AcceptCalibration", "")
            self.assertNotIn("temperature-changed", test_calibrate.findings(daemon))
            self.put(air=32.0)
            until("the finding", lambda: "temperature-changed" in test_calibrate.findings(daemon))

    def test_the_rooms_log_is_kept_for_the_layers(self):
        with self.station() as daemon:
            daemon.start()
            until("the room", lambda: daemon.get("pieces", "Room").get("DegreesCelsius") == 21.25)
            daemon.stop()
            with sqlite3.connect(daemon.path("ambo.db")) as db:
                self.assertEqual(db.execute("SELECT degc FROM room").fetchall(), [(21.25,)])


if __name__ == "__main__":
    main()
