# SPDX-License-Identifier: MIT
"""`ambo weigh` over traces, without a station.

The synth_* traces are our own simulation and carry their truth; how noise, corrupt
reads and gaps look follows public recordings of HX711 boards. recorded_* are not
ours: they run where AMBO_TRACES names their folder.
"""
import csv
import json
import os
import subprocess
import sys
import tempfile
import unittest

import ambo_station
from ambo_station import AMBO, DATA, TOP, ambo

CALIBRATION = ["--counts-per-gram", "429.5", "--zero-counts", "190000", "--csv"]
HEADER = ["t_us", "mass_g", "rate_g_per_s", "sd_g", "state"]
STATES = {"unsettled", "provisional", "settled", "fault"}


def truth_of(name):
    rows = []
    with open(os.path.join(DATA, name)) as file:
        for line in file:
            if not line.startswith("#"):
                t_us, raw24, truth_g, rate, corrupt = line.strip().split(",")
                rows.append((int(t_us), int(raw24), float(truth_g), float(rate), corrupt == "1"))
    return rows


def warm_up(truth):
    """What the simulated zero drifted by, g at t_us: a line through the rows at rest."""
    points = [(t[0], (t[1] - 190000) / 429.5 - t[2]) for t in truth if not t[4] and t[3] == 0.0]
    n = len(points)
    mean_t, mean_z = sum(p[0] for p in points) / n, sum(p[1] for p in points) / n
    slope = (sum((p[0] - mean_t) * (p[1] - mean_z) for p in points)
             / sum((p[0] - mean_t) ** 2 for p in points))
    return lambda t_us: mean_z + slope * (t_us - mean_t)


def weigh(path, *options):
    out = ambo("weigh", path, *(options or CALIBRATION))
    rows = list(csv.reader(out.stdout.splitlines()))
    return out, rows


class Synthetic(unittest.TestCase):
    NAMES = ["synth_pour_10sps.csv", "synth_pour_80sps.csv", "synth_drip0p2_10sps.csv",
             "synth_drip0p2_80sps.csv"]

    def test_every_row_of_the_trace_gives_a_row(self):
        for name in self.NAMES:
            with self.subTest(name=name):
                out, rows = weigh(os.path.join(DATA, name))
                self.assertEqual((out.returncode, out.stderr), (0, ""))
                self.assertEqual(rows[0], HEADER)
                truth = truth_of(name)
                self.assertEqual([int(r[0]) for r in rows[1:]], [t[0] for t in truth])
                known = False
                for row in rows[1:]:
                    self.assertIn(row[4], STATES)
                    self.assertIn([c == "" for c in row[1:4]], [[True] * 3, [False] * 3])
                    known = known or row[1] != ""
                    self.assertEqual(row[1] != "", known, "an estimate is never lost again")

    def test_a_settled_value_is_right_within_a_tenth_of_a_gram(self):
        for name in self.NAMES:
            with self.subTest(name=name):
                _, rows = weigh(os.path.join(DATA, name))
                truth = truth_of(name)
                zero = warm_up(truth)
                settled = [(float(r[1]) - t[2] - zero(t[0]), t)
                           for r, t in zip(rows[1:], truth) if r[4] == "settled" and t[3] == 0.0]
                self.assertGreater(len(settled), len(truth) // 5)
                wrong = [s for s in settled if abs(s[0]) > 0.1]
                self.assertLessEqual(len(wrong), len(settled) // 100, wrong[:3])
                self.assertGreater(max(t[2] for _, t in settled), 1.0, "the poured mass too")

    def test_a_slow_stream_is_hardly_ever_called_settled(self):
        for name in ["synth_drip0p2_10sps.csv", "synth_drip0p2_80sps.csv"]:
            with self.subTest(name=name):
                _, rows = weigh(os.path.join(DATA, name))
                flowing = [r for r, t in zip(rows[1:], truth_of(name)) if t[3] > 0.1]
                self.assertGreater(len(flowing), 20)
                false = sum(r[4] == "settled" for r in flowing)
                self.assertLessEqual(false, len(flowing) // 20)

    def test_a_pour_is_noticed_within_a_few_samples(self):
        for name in ["synth_pour_10sps.csv", "synth_pour_80sps.csv"]:
            _, rows = weigh(os.path.join(DATA, name))
            flowing = [r for r, t in zip(rows[1:], truth_of(name)) if t[3] > 1.0]
            self.assertGreater(len(flowing), 40)
            self.assertLessEqual(sum(r[4] == "settled" for r in flowing), len(flowing) // 20)

    def test_no_corrupt_read_reaches_the_reading(self):
        """Against the same trace with its corrupt codes put right: they are up to 9 kg
        off, the readings hardly differ."""
        for name in ["synth_pour_80sps.csv", "synth_drip0p2_80sps.csv"]:
            with self.subTest(name=name):
                path = os.path.join(DATA, name)
                truth = truth_of(name)
                zero = warm_up(truth)
                right = [round((t[2] + zero(t[0])) * 429.5 + 190000) if t[4] else t[1]
                         for t in truth]
                self.assertGreater(max(abs(r - t[1]) for r, t in zip(right, truth)), 1000 * 429.5)
                with tempfile.NamedTemporaryFile("w", suffix=".csv") as file:
                    file.write("t_us,raw24\n")
                    file.writelines("%d,%d\n" % (t[0], r) for r, t in zip(right, truth))
                    file.flush()
                    _, repaired = weigh(file.name)
                _, rows = weigh(path)
                off = [abs(float(a[1]) - float(b[1]))
                       for a, b in zip(rows[1:], repaired[1:]) if a[1] and b[1]]
                self.assertLess(max(off), 0.3)

    def test_a_row_uses_no_row_after_it(self):
        name = os.path.join(DATA, "synth_pour_80sps.csv")
        _, whole = weigh(name)
        with open(name) as file:
            lines = file.readlines()
        for n in [5, 300, 701, 1000]:
            with tempfile.NamedTemporaryFile("w", suffix=".csv") as part:
                part.writelines(lines[:n])
                part.flush()
                _, rows = weigh(part.name)
            self.assertEqual(rows, whole[:len(rows)])
            self.assertEqual(len(rows), n)

    def test_the_calibration_may_come_from_the_trace_or_a_configuration(self):
        name = os.path.join(DATA, "synth_pour_80sps.csv")
        _, given = weigh(name)
        _, own = weigh(name, "--csv")
        self.assertEqual(given, own)
        out, configured = weigh(name, "--config", os.path.join(TOP, "config", "demo"))
        self.assertEqual(out.returncode, 0)
        self.assertAlmostEqual(float(configured[-1][1]), float(given[-1][1]), delta=0.05)

    def test_json_is_the_same_numbers(self):
        name = os.path.join(DATA, "synth_pour_10sps.csv")
        _, rows = weigh(name)
        objects = [json.loads(line) for line in ambo("weigh", name, "--json").stdout.splitlines()]
        self.assertEqual(len(objects), len(rows) - 1)
        for row, o in zip(rows[1:], objects):
            self.assertEqual(row, [str(o["t_us"])] + [
                row[i] if row[i] == "" and key not in o else row[i] if float(row[i]) == o[key] else "?"
                for i, key in [(1, "mass_g"), (2, "rate_g_per_s"), (3, "sd_g")]] + [o["state"]])

    def test_numbers_carry_at_least_nine_digits(self):
        _, rows = weigh(os.path.join(DATA, "synth_pour_80sps.csv"))
        digits = [len(r[1].replace("-", "").replace(".", "").lstrip("0")) for r in rows[200:]]
        self.assertGreaterEqual(sorted(digits)[len(digits) // 10], 9)


class OddTraces(unittest.TestCase):
    def trace(self, text, *options):
        with tempfile.NamedTemporaryFile("w", suffix=".csv") as file:
            file.write(text)
            file.flush()
            self.path = file.name
            return weigh(file.name, *options)

    def test_mapped_columns(self):
        body = "".join("%d,%d,9\n" % (i * 12000, 5000 + i % 3) for i in range(200))
        out, rows = self.trace("when,code,x\n" + body, "--counts-per-gram", "10", "--zero-counts",
                               "0", "--columns", "t_us=when,raw24=code")
        self.assertEqual(out.returncode, 0, out.stderr)
        self.assertEqual(len(rows), 201)
        self.assertAlmostEqual(float(rows[-1][1]), 500.1, delta=0.1)

    def test_rails_are_a_fault_and_no_mass(self):
        body = "".join("%d,%d\n" % (i * 12000, 8388607 if 100 <= i < 150 else 1000 + i % 3)
                       for i in range(300))
        out, rows = self.trace("t_us,raw24\n" + body, "--counts-per-gram", "10", "--zero-counts", "0")
        self.assertEqual(out.returncode, 0, out.stderr)
        self.assertEqual({r[4] for r in rows[101:151]}, {"fault"})
        self.assertNotIn("fault", {r[4] for r in rows[1:101] + rows[152:]})
        self.assertTrue(all(float(r[1]) < 101.0 for r in rows[10:]))

    def test_bad_traces_are_named_by_file_and_line(self):
        bad = [
            ("", 1), ("t_us,raw24\n", None), ("t_us,other\n1,2\n", 1),
            ("t_us,raw24\n5,1\n4,1\n", 3), ("t_us,raw24\n1,8388608\n", 2),
            ("t_us,raw24\n1,-8388609\n", 2), ("t_us,raw24\n1,x\n", 2), ("t_us,raw24\n1\n", 2),
            ("t_us,raw24\n1,2,3\n", 2), ("t_us,raw24\n1,2\nnan,3\n", 3), ("\0\0\0", 1),
        ]
        for text, line in bad:
            with self.subTest(text=text):
                out, _ = self.trace(text)
                self.assertEqual(out.returncode, 1)
                self.assertEqual(out.stderr.count("\n"), 1, out.stderr)
                self.assertIn(self.path, out.stderr)
                if line:
                    self.assertIn("%s:%d: " % (self.path, line), out.stderr)
        out, _ = weigh("/nonexistent.csv")
        self.assertEqual(out.returncode, 1)
        out, _ = weigh("/")
        self.assertEqual(out.returncode, 1)

    def test_a_trace_without_calibration_asks_for_one(self):
        out, _ = self.trace("t_us,raw24\n1,2\n2,3\n", "--csv")
        self.assertEqual(out.returncode, 2)
        self.assertIn("--counts-per-gram", out.stderr)

    def test_a_long_trace_is_weighed_in_bounded_memory(self):
        """Memory is what is asserted, not time: the rows alone, kept, would take more."""
        rows = 10_000_000 if os.environ.get("AMBO_LONG") else 3_000_000
        code = ("import sys\nprint('t_us,raw24')\nfor k in range(0, %d, 1000):\n"
                " sys.stdout.write(''.join('%%d%%03d,%%d\\n' %% (12 * (k + i), 0, 190000 + i %% 7)"
                " for i in range(1000)))\n" % rows)
        with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE) as source:
            sink = subprocess.Popen([AMBO, "weigh", "/dev/stdin", *CALIBRATION],
                                    stdin=source.stdout, stdout=subprocess.DEVNULL)
            source.stdout.close()
            _, status, used = os.wait4(sink.pid, 0)
            sink.returncode = os.waitstatus_to_exitcode(status)
        self.assertEqual(sink.returncode, 0)
        self.assertLess(used.ru_maxrss, 48 * 1024, "KiB")


class Recorded(unittest.TestCase):
    def setUp(self):
        self.folder = os.environ.get("AMBO_TRACES")
        if not self.folder:
            self.skipTest("AMBO_TRACES does not name the folder of the recordings")

    def test_impacts_of_the_recorded_log_never_settle(self):
        """84 samples/s, pushes and impacts throughout; units about 1 gf."""
        path = os.path.join(self.folder, "recorded_hx711_84sps.csv")
        out, rows = weigh(path, "--counts-per-gram", "1", "--zero-counts", "0", "--columns",
                          "raw24=hx711_units", "--csv")
        self.assertEqual((out.returncode, out.stderr), (0, ""))
        with open(path) as file:
            codes = [float(line.split(",")[1]) for line in file if not line.startswith("#")]
        self.assertEqual(len(rows) - 1, len(codes))
        for i, row in enumerate(rows[1:]):
            recent = codes[max(0, i - 8):i + 1]
            if max(recent) - min(recent) > 20.0:
                self.assertNotEqual(row[4], "settled", (i, row, recent))


if __name__ == "__main__":
    ambo_station.main()
