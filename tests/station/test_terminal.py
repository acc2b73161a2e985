# SPDX-License-Identifier: MIT
"""The commands of `ambo` against a station: what they print, in any locale."""
import csv
import io
import json
import os
import subprocess
import tempfile
import unittest

import ambo_station
from ambo_station import AMBO, DATA, Station, ambo, until


def rows(text):
    return list(csv.DictReader(io.StringIO(text)))


class Terminal(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.station = Station(speed=5.0)
        cls.addClassCleanup(cls.station.stop)

    def test_watch_gives_as_many_readings_as_asked(self):
        out = rows(ambo("watch", "--csv", "--count", 5).stdout)
        self.assertEqual(len(out), 5)
        numbers = [int(r["sequence"]) for r in out]
        self.assertEqual(numbers, sorted(set(numbers)))
        objects = [json.loads(line) for line in ambo("watch", "--json", "--count", 3).stdout.splitlines()]
        self.assertEqual(len(objects), 3)
        self.assertTrue(all(isinstance(o["t_us"], int) for o in objects))

    def test_watch_into_a_closed_pipe_ends(self):
        process = subprocess.Popen([AMBO, "watch", "--csv"], stdout=subprocess.PIPE,
                                   stderr=subprocess.DEVNULL)
        process.stdout.readline()
        process.stdout.close()
        self.assertNotEqual(process.wait(30), 0)

    def test_an_empty_list_is_nothing_to_a_program_and_a_sentence_to_a_person(self):
        for words in (["clocks"], ["piece", "list"]):
            self.assertEqual(ambo(*words).stdout, "")
            ours, theirs = os.openpty()
            subprocess.run([AMBO, *words], stdout=theirs, check=True, timeout=30)
            os.close(theirs)
            self.assertRegex(os.read(ours, 4096).decode(), r"^(No layer|There is no piece) .*\.\r\n$")
            os.close(ours)

    def test_systems_are_read_back(self):
        systems = json.loads(ambo("systems", "--json").stdout)
        self.assertEqual([s["system"] for s in systems],
                         ["lantern-coat", "millrace-deep", "tidepool-clear"])
        self.assertIn("for 100 g of resin, 45 g of hardener", systems[2]["read_back"])
        self.assertEqual(systems[2]["ratio"], 0.45)
        self.assertEqual([r["system"] for r in rows(ambo("systems", "--csv").stdout)],
                         ["lantern-coat", "millrace-deep", "tidepool-clear"])

    def test_weigh_gives_the_settled_net_mass(self):
        self.assertEqual(ambo("bench", "object", 123.4).returncode, 0)
        try:
            until("123.4 g on the pan",
                  lambda: abs(float(rows(ambo("weigh").stdout)[0]["net_g"]) - 123.4) < 0.5)
            self.assertAlmostEqual(json.loads(ambo("weigh", "--json").stdout)["net_g"], 123.4,
                                   delta=0.5)
        finally:
            ambo("bench", "object", -123.4)

    def test_what_the_station_refuses_is_one_sentence(self):
        for args in [["press", "--batch", "99"], ["records", "99"],
                     ["records", "--curve", "99"], ["bench", "dance"], ["bench", "cup", "-1"],
                     ["divide", "--mass", "10"], ["mix", "nothing", "--total", "330"]]:
            with self.subTest(args=args):
                out = ambo(*args)
                self.assertEqual(out.returncode, 1, out.stderr)
                self.assertEqual(out.stderr.count("\n"), 1, out.stderr)
                self.assertTrue(out.stderr.startswith("ambo: "))

    def test_a_batch_is_begun_held_gone_on_with_and_discarded(self):
        self.assertEqual(ambo("again").returncode, 1, "there is none to repeat")
        mix = subprocess.Popen([AMBO, "mix", "tidepool-clear", "--total", "330", "--piece", "clock, fern",
                                "--layer", "first \"clear\""], stdin=subprocess.DEVNULL,
                               stdout=subprocess.PIPE, text=True)
        self.addCleanup(mix.kill)
        self.assertEqual(mix.stdout.readline(), "id,t_us,step,message,verdict,sentence\n")

        def step():
            return rows(ambo("records", "--csv", "--limit", 1).stdout)[0]["step"]

        until("the batch", lambda: rows(ambo("records", "--csv").stdout))
        for command, after in [(["press"], "cup"), (["hold"], "held"), (["press"], "cup"),
                               (["discard", "--yes"], "discarded")]:
            self.assertEqual(ambo(*command).returncode, 0, command)
            until("step %s after %s" % (after, command), lambda: step() == after)
        self.assertEqual(mix.wait(60), 1, "a discarded batch is no success")
        text = mix.stdout.read()
        mix.stdout.close()
        shown, record = text.split("\n\n")
        self.assertEqual(rows("id,t_us,step,message,verdict,sentence\n" + shown)[-1]["step"],
                         "discarded")
        record = rows(record)[0]
        self.assertEqual((record["piece"], record["layer"]), ("clock, fern", 'first "clear"'))
        whole = json.loads(ambo("records", record["id"], "--json").stdout)
        self.assertEqual(whole["piece"], "clock, fern")
        self.assertEqual(whole["steps"][-1]["step"], "discarded")
        json.loads(ambo("records", record["id"], "--canonical").stdout)
        self.assertEqual(ambo("mix").returncode, 1, "there is none to come back to")
        again = ambo("again")
        self.assertEqual(again.returncode, 0, again.stderr)
        newest = rows(ambo("records", "--csv", "--limit", 1).stdout)[0]
        self.assertEqual((newest["id"], newest["step"]), (again.stdout.strip(), "ready"))
        self.assertEqual(float(newest["target_total_g"]), 330.0)
        ambo("discard", "--yes")


class DecimalComma(unittest.TestCase):
    """Under a locale that writes 1,5: compiled here, so that it is there."""

    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory()
        cls.addClassCleanup(cls.folder.cleanup)
        made = subprocess.run(["localedef", "-i", "de_DE", "-f", "UTF-8",
                               os.path.join(cls.folder.name, "de_DE.UTF-8")],
                              capture_output=True, text=True, timeout=60)
        if made.returncode != 0:
            raise unittest.SkipTest("no locale with a decimal comma: " + made.stderr.strip())
        cls.env = dict(os.environ, LOCPATH=cls.folder.name, LC_ALL="de_DE.UTF-8")
        kept = subprocess.run(["locale", "-k", "decimal_point"], env=cls.env, capture_output=True,
                              text=True, timeout=20)
        assert kept.stdout == 'decimal_point=","\n', kept
        cls.station = Station(speed=5.0)
        cls.addClassCleanup(cls.station.stop)

    def test_numbers_for_programs_keep_the_point(self):
        trace = os.path.join(DATA, "synth_pour_10sps.csv")
        calibration = ["--counts-per-gram", "429.5", "--zero-counts", "190000"]
        self.assertEqual(ambo("weigh", trace, *calibration, env=self.env).stdout,
                         ambo("weigh", trace, *calibration).stdout)
        ambo("bench", "object", "50.5", env=self.env)
        until("a mass", lambda: float(rows(ambo("weigh").stdout)[0]["net_g"]) > 40.0)
        for args in [["watch", "--csv", "--count", "3"], ["weigh", "--csv"], ["systems", "--csv"]]:
            text = ambo(*args, env=self.env).stdout
            width = len(text.splitlines()[0].split(","))
            for row in csv.reader(io.StringIO(text)):
                self.assertEqual(len(row), width, text)
            self.assertIn(".", text.splitlines()[1])
        for args in [["weigh", "--json"], ["systems", "--json"]]:
            json.loads(ambo(*args, env=self.env).stdout)


if __name__ == "__main__":
    ambo_station.main()
