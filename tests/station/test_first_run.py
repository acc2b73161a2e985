# SPDX-License-Identifier: MIT
"""The first run on the display, from an empty store and no system to a recorded batch of
water: by mouse and foot, against the real station on the simulated bench."""
import json
import os
import re
import time
import unittest

from ambo_bus import Daemon, Hands, main, until
from display_window import Presses, Screen, Window
from test_calibrate import LOADS, TRUE_COUNTS_PER_G, on_off, shown

SHOTS = os.environ.get("AMBO_SHOTS", "")
OPTIONS = ('seed = 7; rate_hz = 80; speed = 10.0; noise_g = 0.05; warm_up_counts_per_s = 0.0; '
           'creep_ratio = 0.0; counts_per_g = %g;' % TRUE_COUNTS_PER_G)


class FirstRun(unittest.TestCase):
    def setUp(self):
        self.daemon = Daemon(options=OPTIONS)
        self.addCleanup(self.daemon.close)
        os.unlink(self.daemon.path("systems.d", "tidepool-clear.conf"))
        self.daemon.start()
        self.screen = Screen()
        self.addCleanup(self.screen.close)
        self.settings = self.daemon.path("display.conf")

    def window(self):
        more = {"shots": os.path.join(SHOTS, self.id().split(".")[-1])} if SHOTS else {}
        window = Window(self.screen, "--settings", self.settings, **more)
        self.addCleanup(window.close)
        return window

    def hold_foot(self, window):
        """Five seconds; let go too soon it is nothing."""
        window.wait(r"^shown calibrate")
        window.xdotool("keydown", "space", "sleep", 1.5, "keyup", "space")
        time.sleep(0.5)
        self.assertNotIn("ApprovedSeconds", shown(self.daemon))
        window.xdotool("keydown", "space", "sleep", 5.6, "keyup", "space")
        until("the keeper's word", lambda: "ApprovedSeconds" in shown(self.daemon))

    def take(self, window, step):
        """Touches until the station took it: the scale may not have settled yet."""
        taken = int(shown(self.daemon).get("Taken", 0))

        def once():
            if int(shown(self.daemon).get("Taken", 0)) > taken:
                return True
            if window.target("take", 0):
                window.click("take", 0)
                time.sleep(0.4)
            return False
        until("the %s to be taken" % step, once)

    def calibrate(self, window):
        window.click("next")
        self.hold_foot(window)
        window.click("calibrate")
        window.until_target("take")
        self.take(window, "zero")
        on = 0.0
        for load in LOADS:
            self.daemon.act("object", load - on)
            on = load
            # 1, 2, 4 kg: what the display proposes of itself
            self.take(window, "load of %g g" % load)
        window.click("take", 1)  # enough
        until("down", lambda: str(shown(self.daemon)["Step"]) == "falling")
        for load in tuple(reversed(LOADS[:-1])) + (0.0,):
            self.daemon.act("object", load - on)
            on = load
            self.take(window, "load down to %g g" % load)
        for _ in range(10):
            on_off(self.daemon, "repeat", LOADS[-1])
        for place in range(1, 5):
            self.daemon.act("place", place)
            on_off(self.daemon, "places", LOADS[-1])
        self.daemon.act("place", 0)
        window.click_to(r"^shown first .*question=4 .*later", "accept")
        self.assertEqual(int(shown(self.daemon)["ActiveId"]), 1)

    def enter(self, window):
        window.click_to(r"^shown enter .*choose", "next")
        window.click("next")  # by weight; then parts of A stay 100
        window.until_target("dial")
        window.click("next")
        for _ in range(5):
            window.click("amount", -10)  # B: 50 to 45
        for field in (2, 5, 6, 7):  # parts, working life, its mass, its temperature
            window.wait(r"^shown enter .*question=%d " % field)
            window.click("next")
        window.wait(r"^shown enter .*question=8 ")
        window.click_to(r"^shown first .*later", "next")  # read back: as on the label
        system, = self.daemon.call("batch", "Systems", "")
        self.assertEqual(str(system["ReadBack"]),
                         "for 100 g of resin, 45 g of hardener, as on the label?")
        self.assertEqual(float(system["WorkingLifeSeconds"]), 2400.0)

    def practise(self, window):
        window.click_to(r"^shown (batch|heard) ready read-back", "next")
        hands = Hands(Presses(self.daemon, lambda: window.target("press") and window.click("press")))
        hands.mix(timeout=120.0)
        window.wait(r"^shown batch done done")
        record = json.loads(self.daemon.canonical(1))
        self.assertEqual(record["verdict"], "within")
        row = self.daemon.call("records", "List", "xu", 0, 10)[0][0]
        self.assertEqual(str(row["Piece"]), "practice with water")
        window.click_to(r"^shown home", "finish")

    def test_from_an_empty_store_to_a_recorded_batch(self):
        window = self.window()
        window.wait(r"^shown first .*link=up")
        window.click("hand")   # the other hand, and back
        window.click("hand")
        window.key()           # by foot: that is right
        window.wait(r"sound/6")
        window.click_to(r"^shown first .*language", "sound", 6)  # I heard it
        window.click_to(r"^shown first .*later", "next")
        self.calibrate(window)
        self.enter(window)
        self.practise(window)
        with open(self.settings) as file:
            self.assertIn("first_run_done = true", file.read())
        self.assertEqual(window.close(), 0)
        # The second time nobody is asked anything.
        again = self.window()
        again.wait(r"^shown home .*link=up")

    def test_all_that_may_wait_can_be_left_for_later_by_foot_and_touch(self):
        window = self.window()
        window.wait(r"^shown first .*link=up")
        window.key()
        window.wait(r"sound/6")
        window.key()
        window.wait(r"language/0")
        window.key()
        for question in (3, 4, 5):
            window.wait(r"^shown first .*question=%d .*later" % question)
            window.click("later")
        window.wait(r"^shown home")


if __name__ == "__main__":
    main()
