# SPDX-License-Identifier: MIT
"""Starts a station of its own and lets a client that is not ours run a batch.

peer_batch.py busctl | dbus | refusals
"""
import os
import subprocess
import sys
import unittest

import ambo_station
from ambo_station import TOP, Station, ambo

PEERS = os.path.join(TOP, "tests", "peers")


class Peer(unittest.TestCase):
    def run_batch(self, speed, *command):
        station = Station(speed=speed, seed=11)
        self.addCleanup(station.stop)
        out = subprocess.run(command, capture_output=True, text=True, timeout=160)
        self.assertEqual(out.returncode, 0, out.stdout + out.stderr)
        # What our own terminal says of it afterwards must agree.
        self.assertIn("record of batch 1: ", out.stdout)
        rows = ambo("records", "--csv").stdout.splitlines()
        self.assertEqual(len(rows), 2, rows)
        record = dict(zip(rows[0].split(","), rows[1].split(",")))
        self.assertEqual((record["id"], record["step"], record["verdict"]), ("1", "done", "within"))
        self.assertLessEqual(abs(float(record["deviation_pct"])), float(record["tolerance_pct"]))
        self.assertEqual(ambo("records", "--verify").returncode, 0)

    def test_busctl_runs_a_batch(self):
        # A look costs it seven processes: no faster than a busy machine's shell can pour.
        self.run_batch(2.0, "sh", os.path.join(PEERS, "busctl_batch.sh"))

    def test_python_dbus_runs_a_batch(self):
        try:
            import dbus
        except ImportError:
            self.skipTest("python3-dbus is missing")
        del dbus
        self.run_batch(5.0, sys.executable, os.path.join(PEERS, "dbus_client.py"))


if __name__ == "__main__":
    ambo_station.main()
