# SPDX-License-Identifier: MIT
"""Pieces, clocks, the daily check and the settings on the display, by mouse and finger,
against the real station on the simulated bench."""
import json
import os
import time
import unittest

import dbus

from ambo_bus import Hands, main, until
from display_window import Presses, Screen, Window
from test_pieces import PIECE, Station, pour

SHOTS = os.environ.get("AMBO_SHOTS", "")
HOME, SCALE, SETTINGS, BENCH, CALIBRATE, CHECK, PIECES, PIECE_SCREEN, CLOCKS = 1, 7, 8, 11, 13, 15, 16, 17, 18
LAYER_CHECKS, DRYING = 19, 20
NAMES = {SCALE: "scale", SETTINGS: "settings", BENCH: "bench", CALIBRATE: "calibrate", CHECK: "check",
         PIECES: "pieces", PIECE_SCREEN: "piece", CLOCKS: "clocks", LAYER_CHECKS: "layer-checks",
         DRYING: "drying"}


class Bench(unittest.TestCase):
    def setUp(self):
        self.daemon = Station(check=24.0)
        self.addCleanup(self.daemon.close)
        self.daemon.start()
        self.screen = Screen()
        self.addCleanup(self.screen.close)

    def window(self, *args):
        more = {"shots": os.path.join(SHOTS, self.id().split(".")[-1])} if SHOTS else {}
        window = Window(self.screen, *args, **more)
        self.addCleanup(window.close)
        window.wait(r"^shown home .*link=up")
        return window

    def go(self, window, *screens):
        for screen in screens:
            window.click_to(r"^shown %s " % NAMES[screen], "go", screen)

    def mix_layer(self, window, begin):
        """From the list of pieces to the end of a batch for the only one."""
        self.go(window, PIECES)
        window.click_to(r"^shown piece .*pour/0", "piece", 0)

        def begun():  # a touch of a busy machine may last too long to count
            if "ready read-back" in window.line():
                return True
            if window.target("pour"):
                begin()
                time.sleep(1.0)
            return False
        until("the batch to begin", begun)
        hands = Hands(Presses(self.daemon,
                              lambda: window.target("press") and window.click("press")))
        hands.mix(timeout=120.0)
        window.wait(r"^shown batch done done")

    def test_a_layer_in_two_batches_is_poured_as_one(self):
        self.daemon.call("pieces", "Keep", "s", PIECE.replace("loss_g", "limit_g = 140; loss_g").replace("= 200", "= 300"))
        plan, _ = self.daemon.call("pieces", "Plan", "sa{sv}", "Clock",
                                   dbus.Dictionary(signature="sv"))
        self.assertEqual(int(plan[0]["Batches"]), 2)
        window = self.window()
        self.mix_layer(window, lambda: window.click("pour"))
        window.click_to(r"^shown home", "finish")
        self.daemon.act("empty", 0.0)
        # The foot alone goes on with the second: the plan took the rest for another layer.
        self.mix_layer(window, window.key)
        until("both in one layer", lambda: [
            int(row["Pours"]) for row in self.daemon.call("pieces", "Layers", "s", "Clock")] == [2])
        rows = self.daemon.call("records", "List", "xu", 0, 10)[0]
        self.assertEqual([str(row["Layer"]) for row in rows], ["1", "1"])
        # It has all its batches now: the next is another layer, and early.
        window.click_to(r"^shown home", "finish")
        self.go(window, PIECES)
        window.click_to(r"^shown piece .*pour/0", "piece", 0)
        window.key()
        window.wait(r"^shown pieces ")

    def test_a_layer_is_mixed_for_its_piece_and_its_clocks_run(self):
        self.daemon.call("pieces", "Keep", "s", PIECE)
        pour(self.daemon)
        window = self.window()
        self.mix_layer(window, lambda: window.click("pour"))
        record = json.loads(self.daemon.canonical(1))
        self.assertEqual(record["verdict"], "within")
        row = self.daemon.call("records", "List", "xu", 0, 10)[0][0]
        self.assertEqual((str(row["Piece"]), str(row["Layer"])), ("Clock", "2"))
        until("the layer in the piece", lambda: len(
            self.daemon.call("pieces", "Layers", "s", "Clock")) == 2)
        window.click_to(r"^shown home", "finish")
        self.go(window, BENCH, CLOCKS)
        window.wait(r"^shown clocks")

    def test_a_layers_checks_are_ticked_off_and_its_fern_is_weighed(self):
        self.daemon.call("pieces", "Keep", "s", PIECE.replace(
            "room_degc", 'inclusions = ( { name = "fern"; rests_on = "floor"; height_mm = 2.0; '
                         'volume_ml = 1.0; } ); room_degc'))
        window = self.window()
        self.go(window, PIECES)
        window.click_to(r"^shown piece .*pour/0", "piece", 0)
        self.go(window, LAYER_CHECKS)
        window.wait(r"^shown layer-checks .* done=0 .*choose/0")
        window.click_to(r"^shown layer-checks .* done=1 ", "choose", 0)
        window.click_to(r"^shown layer-checks .* done=0 ", "choose", 0)  # it was not after all
        window.finger_to(r"^shown piece ", "go", PIECE_SCREEN)
        window.finger_to(r"^shown drying ", "go", DRYING)
        window.wait(r"^shown drying .*weigh/0")
        # An empty pan is no fern.
        window.click_to(r"^shown drying .* notice ", "weigh")
        self.daemon.act("object", 12.0)
        time.sleep(1.0)

        def weighed():
            row, = self.daemon.call("pieces", "Inclusions", "s", "Clock")
            if int(row["Weighings"]) > 0:
                return row
            window.key()  # the foot does what the strip says
            time.sleep(1.0)
            return None
        row = until("a weighing", weighed)
        self.assertEqual(str(row["Name"]), "Clock/fern")
        self.assertAlmostEqual(float(row["LastGrams"]), 12.0, delta=0.3)
        until("it on the glass", lambda: "weighed=1 " in window.line())

    def test_the_daily_check_is_led_and_told(self):
        window = self.window()
        self.go(window, BENCH, CHECK)
        window.wait(r"^shown check .*question=0")
        until("the zero", lambda: self.try_zero(window))
        window.click("choose", 1)  # 1000 to 2000 g
        self.daemon.act("object", 2000.0)
        time.sleep(1.0)
        window.click_to(r"^shown check .* notice question=1", "check")  # of class M1 that weight is too coarse for this scale
        window.click("choose", 2)  # M1 to F2

        def told():
            if "question=2" in window.line():
                return True
            window.click("check")
            time.sleep(0.5)
            return False
        until("a verdict", told)
        health = self.daemon.get("scale", "Health")
        self.assertEqual(str(health["CheckVerdict"]), "passed")
        # What is not empty now, and what is no longer due.
        self.assertNotIn("check-overdue", [str(f["Id"]) for f in health["Findings"]])

    def try_zero(self, window):
        if "question=1" not in window.line():
            window.click("next")
            time.sleep(0.5)
        return "question=1" in window.line() and " notice" not in window.line()

    def test_calibrating_is_not_begun_without_a_keepers_word(self):
        window = self.window()
        self.go(window, BENCH, CALIBRATE)
        window.wait(r"^shown calibrate ")
        self.assertIsNone(window.target("calibrate"))
        self.assertIsNone(window.target("approve"))  # a finger cannot give it
        window.key()
        time.sleep(0.5)
        self.assertFalse(bool(self.daemon.get("scale", "Calibration")["UnderWay"]))
        # From the terminal it is given.
        self.daemon.call("scale", "Approve", "")
        window.until_target("calibrate")

    def test_what_is_set_is_kept(self):
        settings = self.daemon.path("display.conf")
        self.daemon.write("display.conf", "first_run_done = true;\n")
        window = self.window("--settings", settings)
        self.go(window, BENCH, SETTINGS)
        window.click("theme")
        window.click("brighter")
        window.click("more")
        window.click("units")
        window.click("motion")
        time.sleep(0.5)
        with open(settings) as file:
            text = file.read()
        for line in ('theme = "day";', 'brightness_pct = 40;', 'units = "us";',
                     'less_motion = true;'):
            self.assertIn(line, text)


if __name__ == "__main__":
    main()
