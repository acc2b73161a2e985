# SPDX-License-Identifier: MIT
"""The bus itself dies in mid-pour and comes back: the display says so, and goes on by
itself; so does the station."""
import os
import shutil
import socket
import subprocess
import tempfile
import unittest

from ambo_bus import SERVICE, WAIT_S, Daemon, Hands, connect, main, until
from display_window import Screen, Window


class Bus:
    """A message bus of its own at an address that stays."""

    def __init__(self):
        self.folder = tempfile.mkdtemp(prefix="ambo-bus.")
        self.path = os.path.join(self.folder, "bus")
        self.address = "unix:path=" + self.path
        self.process = None

    def start(self):
        self.process = subprocess.Popen(
            ["dbus-daemon", "--session", "--nofork", "--nopidfile", "--address=" + self.address],
            stdin=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        until("the bus", self.answers)

    def answers(self):
        with socket.socket(socket.AF_UNIX) as end:
            return end.connect_ex(self.path) == 0

    def kill(self):
        self.process.kill()
        self.process.wait(WAIT_S)
        os.unlink(self.path)

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait(WAIT_S)
        shutil.rmtree(self.folder, ignore_errors=True)


class BusItself(unittest.TestCase):
    def setUp(self):
        self.bus = Bus()
        self.addCleanup(self.bus.close)
        self.bus.start()
        before = os.environ["DBUS_SESSION_BUS_ADDRESS"]
        os.environ["DBUS_SESSION_BUS_ADDRESS"] = self.bus.address
        self.addCleanup(os.environ.__setitem__, "DBUS_SESSION_BUS_ADDRESS", before)
        self.daemon = Daemon(options='seed = 7; rate_hz = 80; speed = 8.0; noise_g = 0.05; '
                                     'warm_up_counts_per_s = 0.0; state = "bench.state";')
        self.addCleanup(self.daemon.close)
        self.daemon.start()
        self.screen = Screen()
        self.addCleanup(self.screen.close)

    def reconnect(self):
        """The test's own connection died with the bus; a station that ended with it is started
        again, as the service manager would."""
        self.daemon.bus = connect()

        def is_back():
            if self.daemon.process.poll() is not None:
                # Not as if it had been asked to: it is started again after a failure only.
                self.assertNotEqual(self.daemon.process.returncode, 0)
                self.daemon.spawn()
            return self.daemon.bus.name_has_owner(SERVICE)
        until("the station", is_back)

    def test_the_bus_killed_in_mid_pour_is_said_and_comes_back_by_itself(self):
        window = Window(self.screen)
        self.addCleanup(window.close)
        window.wait(r"^shown home .* link=up")
        self.daemon.begin(TotalGrams=330.0)
        hands = Hands(self.daemon)
        until("a pour", lambda: hands.look() or hands.pouring)
        window.wait(r"^shown batch charge add")
        for _ in range(3):
            since = len(window.lines)
            self.bus.kill()
            window.wait(r" link=lost ", since)
            self.assertNotIn("@", window.line())  # nothing that a touch could do
            window.key()
            since = len(window.lines)
            self.bus.start()
            self.reconnect()
            window.wait(r"^shown batch .* link=up", since)
        self.daemon.act("stop", 0.1)
        again = Hands(self.daemon)
        again.cup = "pan"
        again.mix()
        window.wait(r"^shown batch done done")
        self.assertEqual(window.close(), 0)

    def test_a_display_before_its_bus_waits_for_it(self):
        self.bus.kill()
        window = Window(self.screen)
        self.addCleanup(window.close)
        window.wait(r" link=none ")
        self.bus.start()
        self.reconnect()
        window.wait(r"^shown home .* link=up")


if __name__ == "__main__":
    main()
