# SPDX-License-Identifier: MIT
"""What the service manager is told, heard on a socket of the test's own."""
import os
import time
import unittest

from ambo_bus import Daemon, NotifySocket, main, until

WATCHDOG_US = 600000


class Notify(unittest.TestCase):
    def setUp(self):
        self.socket = NotifySocket()
        self.addCleanup(self.socket.close)
        self.env = dict(os.environ, NOTIFY_SOCKET=self.socket.path,
                        WATCHDOG_USEC=str(WATCHDOG_US))
        self.env.pop("WATCHDOG_PID", None)

    def test_ready_comes_with_the_samples_and_the_watchdog_is_fed_while_they_flow(self):
        with Daemon() as daemon:
            daemon.start(env=self.env)
            self.socket.wait("READY=1")
            for _ in range(3):
                self.socket.wait("WATCHDOG=1")
            self.assertEqual(daemon.stop(), 0)
            self.socket.wait("STOPPING=1")

    def test_the_watchdog_starves_when_the_samples_stop_and_nobody_says_why(self):
        with Daemon() as daemon:
            daemon.start(env=self.env)
            self.socket.wait("READY=1")
            self.socket.wait("WATCHDOG=1")
            daemon.act("unplug")
            until("the silence", lambda: daemon.get("scale", "Condition") == "silent")
            # The one that was on its way may still come; then none.
            end = time.monotonic() + WATCHDOG_US * 1e-6
            while time.monotonic() < end:
                self.socket.read(0.05)
            self.socket.lines.clear()
            end = time.monotonic() + 3 * WATCHDOG_US * 1e-6
            while time.monotonic() < end:
                self.socket.read(0.05)
            self.assertNotIn("WATCHDOG=1", self.socket.lines)
            daemon.act("plug")
            self.socket.wait("WATCHDOG=1")

    def test_a_trace_that_has_ended_says_why_and_is_fed(self):
        with Daemon("replay", 'file = "trace.csv"; speed = 0;') as daemon:
            daemon.write("trace.csv", "# t_us,raw24\n" + "".join(
                "%d,190000\n" % (i * 12500) for i in range(200)))
            daemon.start(env=self.env)
            self.socket.wait("READY=1")
            until("the end", lambda: daemon.get("scale", "Condition") == "ended")
            self.socket.lines.clear()
            for _ in range(3):
                self.socket.wait("WATCHDOG=1")

    def test_not_ready_before_a_sample_has_come(self):
        with Daemon(options='speed = 8.0; state = "bench.state";') as daemon:
            daemon.start()
            daemon.act("unplug")
            daemon.stop()  # the bench keeps its state, the plug is still out
            daemon.start(env=self.env)
            end = time.monotonic() + 2 * WATCHDOG_US * 1e-6
            while time.monotonic() < end:
                self.socket.read(0.05)
            self.assertNotIn("READY=1", self.socket.lines)
            self.assertNotIn("WATCHDOG=1", self.socket.lines)
            self.assertEqual(daemon.get("scale", "Condition"), "waiting")

    def test_the_status_tells_of_the_scale_and_the_batches(self):
        with Daemon() as daemon:
            daemon.start(env=self.env)
            self.socket.wait("READY=1")
            daemon.begin()

            def told():
                return any("1 open batch" in line and "simulated" in line
                           for line in self.socket.read())
            until("the status", told)


if __name__ == "__main__":
    main()
