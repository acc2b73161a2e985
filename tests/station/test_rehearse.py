# SPDX-License-Identifier: MIT
"""`ambo rehearse`: a simulated person, the real daemon, the real bus."""
import csv
import io
import subprocess
import unittest

import ambo_station
from ambo_station import AMBO, Station, ambo, until


def steps_and_record(text):
    steps, record = text.split("\n\n")
    return (list(csv.DictReader(io.StringIO(steps))), next(csv.DictReader(io.StringIO(record))))


class Rehearse(unittest.TestCase):
    def setUp(self):
        self.station = Station(speed=10.0)
        self.addCleanup(self.station.stop)

    def test_a_batch_within_tolerance_ends_with_0(self):
        out = ambo("rehearse", "tidepool-clear", "--total", 330, "--seed", 7, timeout=160)
        self.assertEqual(out.returncode, 0, out.stdout + out.stderr)
        steps, record = steps_and_record(out.stdout)
        order = [s["step"] for s in steps]
        self.assertEqual((order[0], order[-1]), ("ready", "done"))
        seen = [s for s in dict.fromkeys(order) if s not in ("held", "top-up")]
        self.assertEqual(seen, ["ready", "cup", "charge", "stir", "pour", "done"])
        times = [int(s["t_us"]) for s in steps]
        self.assertEqual(times, sorted(times))
        resin, hardener = float(record["resin_g"]), float(record["hardener_g"])
        self.assertLess(abs(100.0 * (hardener / resin / 0.45 - 1.0)), 2.0)
        # A clumsy stop makes the batch larger, never out of ratio.
        self.assertGreater(resin + hardener, 320.0)
        self.assertLess(resin + hardener, 400.0)
        # The store says the same, step for step.
        kept = list(csv.DictReader(io.StringIO(ambo("records", record["id"], "--csv").stdout)))
        self.assertEqual([(s["step"], s["message"]) for s in kept],
                         [(s["step"], s["message"]) for s in steps])

    def test_a_discarded_batch_ends_with_1(self):
        process = subprocess.Popen([AMBO, "rehearse", "tidepool-clear", "--total", "330"],
                                   stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.addCleanup(process.kill)
        until("a batch that runs", lambda: "charge" in ambo("records", "--csv").stdout)
        self.assertEqual(ambo("discard", "--yes").returncode, 0)
        out, errors = process.communicate(timeout=60)
        self.assertEqual(process.returncode, 1, out + errors)
        _, record = steps_and_record(out)
        self.assertEqual(record["step"], "discarded")

    def test_what_cannot_be_mixed_is_refused_with_the_numbers(self):
        for options, says in [(["--total", "9"], "9"), (["--total", "99999"], "5000"),
                              (["--total", "330", "--cup-limit", "200"], "200"),
                              (["--total", "330", "--tint", "60"], "60")]:
            with self.subTest(options=options):
                out = ambo("rehearse", "tidepool-clear", *options)
                self.assertEqual((out.returncode, out.stdout), (1, ""))
                self.assertIn(says, out.stderr)
                self.assertEqual(out.stderr.count("\n"), 1)
        out = ambo("rehearse", "no-such-system", "--total", "330")
        self.assertEqual(out.returncode, 1)
        self.assertIn("no-such-system", out.stderr)
        self.assertEqual(ambo("records", "--csv").stdout.count("\n"), 1, "nothing was begun")


if __name__ == "__main__":
    ambo_station.main()
