# SPDX-License-Identifier: MIT
"""A converter that nobody needs powers down and wakes on need; neither is a silent scale.
The real driver, the real station, an HX711 at the pin level (tests/support/hx711_chip.h)."""
import time
import unittest

from ambo_bus import Daemon, NotifySocket, connect, error_of, main, until
from stand_in import HX711, MISSING, PANEL, Bench

IDLE_S = 0.5


@unittest.skipIf(MISSING, MISSING)
class Resting(unittest.TestCase):
    def setUp(self):
        self.bench = Bench()
        self.addCleanup(self.bench.close)

    def station(self, idle_s=IDLE_S, **more):
        return Daemon(driver="hx711", options=HX711 % ("idle_s = %g;" % idle_s), **more)

    def start(self, daemon):
        daemon.start(env=self.bench.environment())

    def until_off(self):
        """Nothing is asked of the bus meanwhile: that would be somebody."""
        until("the power-down", lambda: self.bench.chip()["off"])

    def conditions(self, daemon):
        """What the bus tells of the condition, without asking."""
        told = []
        daemon.bus.add_signal_receiver(
            lambda interface, changed, gone: "Condition" in changed and
            told.append(str(changed["Condition"])),
            "PropertiesChanged", path="/org/ambo/scale")
        return told

    def test_it_powers_down_and_a_call_wakes_it(self):
        with self.station() as daemon:
            self.start(daemon)
            told = self.conditions(daemon)
            self.until_off()
            until("the rest to be told", lambda: told and told[-1] == "resting")
            self.assertNotIn("silent", told)
            frames = self.bench.chip()["frames"]
            time.sleep(0.5)
            self.assertEqual(self.bench.chip()["frames"], frames)  # it does sleep

            self.bench.put(500.0)
            del told[:]
            net, _ = daemon.call("scale", "Weigh", "")
            self.assertAlmostEqual(float(net), 500.0, delta=0.2)
            self.assertFalse(self.bench.chip()["off"])
            self.assertNotIn("silent", told)
            self.assertFalse([c for c in told if c.startswith("failed")], told)
            self.until_off()  # and again

    def test_what_was_read_before_the_rest_is_not_shown_after_it(self):
        with self.station() as daemon:
            self.start(daemon)
            told = self.conditions(daemon)
            self.assertAlmostEqual(float(daemon.call("scale", "Weigh", "")[0]), 0.0, delta=0.2)
            self.until_off()
            self.bench.put(300.0)
            seen = [float(q["NetGrams"]) for q in
                    (daemon.get("scale", "Quantities") for _ in range(200)) if "NetGrams" in q]
            self.assertEqual([g for g in seen if abs(g - 300.0) > 1.0], [])
            self.assertNotIn("silent", told)

    def test_a_watching_client_keeps_it_awake_until_it_goes(self):
        with self.station() as daemon:
            self.start(daemon)
            client = connect()
            client.call_blocking("org.ambo.Station", "/org/ambo/scale", "org.ambo.Scale1",
                                 "Watch", "", ())
            time.sleep(4 * IDLE_S)
            self.assertFalse(self.bench.chip()["off"])
            client.close()
            self.until_off()

    def test_a_batch_keeps_it_awake(self):
        with self.station() as daemon:
            self.start(daemon)
            daemon.stop_calibrated()
            self.start(daemon)
            self.until_off()
            daemon.begin()
            time.sleep(4 * IDLE_S)
            self.assertFalse(self.bench.chip()["off"])
            daemon.call("batch", "Discard", "x", 0)
            self.until_off()

    def test_without_idle_s_it_never_does(self):
        with self.station(idle_s=0.0) as daemon:
            self.start(daemon)
            looks = [self.bench.chip() for _ in range(40)]  # two seconds, four rests long
            self.assertEqual([look for look in looks if look["off"]], [])
            self.assertGreater(looks[-1]["frames"], looks[0]["frames"] + 20)

    def test_the_foot_wakes_it(self):
        with self.station(groups=PANEL % "") as daemon:
            self.start(daemon)
            self.until_off()
            self.bench.tread()
            until("it to wake", lambda: not self.bench.chip()["off"])

    def test_one_that_dies_in_its_sleep_is_silent_when_wanted(self):
        with self.station(idle_s=1.0) as daemon:
            self.start(daemon)
            self.until_off()
            self.bench.die()
            daemon.call("scale", "Watch", "")
            until("the silence", lambda: str(daemon.get("scale", "Condition")) == "silent")

    def test_the_watchdog_takes_no_rest_for_a_death(self):
        socket = NotifySocket()
        self.addCleanup(socket.close)
        with self.station() as daemon:
            daemon.start(env=dict(self.bench.environment(), NOTIFY_SOCKET=socket.path,
                                  WATCHDOG_USEC="600000"))
            self.until_off()
            time.sleep(1.0)
            while socket.read(0.01):  # what was sent before the rest
                del socket.lines[:]
            for _ in range(3):
                socket.wait("WATCHDOG=1", timeout=20.0)
            self.assertTrue(self.bench.chip()["off"])


if __name__ == "__main__":
    main()
