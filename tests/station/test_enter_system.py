# SPDX-License-Identifier: MIT
"""A resin system entered at the bench: it mixes at once, it is still there after a new
start, what cannot be a label is refused whole; and who may."""
import os
import unittest

import dbus

from ambo_bus import Daemon, error_of, main

LABEL = {"Name": "Bench 100:45", "Basis": "weight", "PartsA": 100.0, "PartsB": 45.0,
         "WorkingLifeSeconds": 1800.0, "WorkingLifeGrams": 100.0, "WorkingLifeCelsius": 23.0}


def enter(daemon, **changes):
    label = dict(LABEL, **changes)
    return str(daemon.call("batch", "EnterSystem", "a{sv}", dbus.Dictionary(
        {key: value for key, value in label.items() if value is not None}, signature="sv")))


def ids(daemon):
    return [str(row["System"]) for row in daemon.call("batch", "Systems", "")]


class EnterSystem(unittest.TestCase):
    def setUp(self):
        self.daemon = Daemon()
        self.addCleanup(self.daemon.close)

    def test_it_mixes_at_once_and_after_a_new_start(self):
        self.daemon.start()
        self.assertEqual(enter(self.daemon), "bench-100-45")
        row = self.daemon.call("batch", "Systems", "")[-1]
        self.assertEqual(str(row["ReadBack"]),
                         "for 100 g of resin, 45 g of hardener, as on the label?")
        self.assertEqual(float(row["Ratio"]), 0.45)
        self.daemon.begin(System="bench-100-45")
        self.daemon.call("batch", "Discard", "x", 0)
        self.daemon.stop()
        self.daemon.start()
        self.assertIn("bench-100-45", ids(self.daemon))

    def test_beside_a_store_of_its_own_folder(self):
        with open(self.daemon.path("ambo.conf")) as file:
            text = file.read()
        os.mkdir(self.daemon.path("var"))
        self.daemon.write("ambo.conf", text.replace('"ambo.db"', '"var/ambo.db"'))
        self.daemon.start()
        enter(self.daemon)
        self.assertTrue(os.path.exists(self.daemon.path("var", "systems.d", "bench-100-45.conf")))
        self.daemon.stop()
        self.daemon.start()
        self.assertEqual(ids(self.daemon), ["tidepool-clear", "bench-100-45"])

    def test_what_is_no_label_leaves_nothing_behind(self):
        self.daemon.start()
        for changes, word in ((dict(PartsB=0.0), "parts"), (dict(Basis="guess"), "basis"),
                              (dict(WorkingLifeSeconds=None), "working_life"),
                              (dict(Basis="volume"), "density"), (dict(Name='"; a'), "quote"),
                              (dict(Name="Tidepool Clear"), "already")):
            name, sentence = error_of(enter, self.daemon, **changes)
            self.assertEqual(name, "BadRequest", (changes, sentence))
            self.assertIn(word, sentence)
        self.assertEqual(ids(self.daemon), ["tidepool-clear"])
        self.assertEqual(os.listdir(self.daemon.path("systems.d")), ["tidepool-clear.conf"])

    def test_two_of_nearly_one_name_get_files_of_their_own(self):
        self.daemon.start()
        self.assertEqual(enter(self.daemon, Name="Bench 100/45"), "bench-100-45")
        self.assertEqual(enter(self.daemon), "bench-100-45-2")

    def test_a_demo_system_is_not_mixed_on_a_real_scale(self):
        path = self.daemon.path("systems.d", "tidepool-clear.conf")
        with open(path, "a") as file:
            file.write("demo = true;\n")
        self.daemon.start()  # simulated: it may
        self.daemon.begin()
        self.daemon.call("batch", "Discard", "x", 0)
        self.daemon.stop()
        with Daemon(driver="modbus", options='link = "tcp"; host = "127.0.0.1"; port = 1; '
                    'map = "float32 g"; count_g = 0.0023;', folder=self.daemon.folder,
                    counts_per_g=1.0 / 0.0023) as real:
            with open(path, "a") as file:
                file.write("demo = true;\n")
            real.start()
            name, sentence = error_of(real.begin)
            self.assertEqual(name, "DemoSystem", sentence)
            self.assertIn("enter the system", sentence)


class Approval(unittest.TestCase):
    def test_it_holds_for_a_quarter_of_an_hour_and_not_in_a_batch(self):
        with Daemon() as daemon:
            daemon.start()
            self.assertNotIn("ApprovedSeconds", daemon.get("scale", "Calibration"))
            daemon.begin()
            name, _ = error_of(daemon.call, "scale", "Approve", "")
            self.assertEqual(name, "Busy")
            daemon.call("batch", "Discard", "x", 0)
            daemon.call("scale", "Approve", "")
            left = float(daemon.get("scale", "Calibration")["ApprovedSeconds"])
            self.assertTrue(800.0 < left <= 900.0, left)


if __name__ == "__main__":
    main()
