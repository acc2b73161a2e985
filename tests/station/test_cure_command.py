# SPDX-License-Identifier: MIT
"""`ambo cure` from numbers alone, against the reference file of two other solvers
(tests/data/cure_reference.json: SUNDIALS CVODE and SciPy's LSODA)."""
import json
import math
import os
import unittest

from ambo_station import DATA, TOP, ambo

FAST = {"a1-per-s": 4.8e5, "e1-j-per-mol": 58600, "a2-per-s": 2.4e6, "e2-j-per-mol": 58600,
        "heat-j-per-kg": 430000, "tg0-degc": -30, "tginf-degc": 110, "lambda": 0.45,
        "stoichiometry": 1, "density-kg-per-m3": 1100, "cp-j-per-kgk": 1800, "k-w-per-mk": 0.18,
        "ambient-degc": 25, "start-degc": 25, "top-w-per-m2k": 10, "bottom-w-per-m2k": 5}
SLOW = dict(FAST, **{"a1-per-s": 1e5, "a2-per-s": 5e5, "heat-j-per-kg": 360000, "tginf-degc": 85})


def cure(values, *more):
    options = [o for key, value in values.items() for o in ("--" + key, value)]
    return ambo("cure", "--json", *options, *more)


class Reference(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        with open(os.path.join(DATA, "cure_reference.json")) as file:
            cls.reference = json.load(file)

    def answer(self, values, *more):
        out = cure(values, *more)
        self.assertEqual((out.returncode, out.stderr), (0, ""))
        return json.loads(out.stdout)

    def test_every_layer_of_the_file(self):
        self.assertEqual(len(self.reference["R3_layer"]), 4)
        for want in self.reference["R3_layer"]:
            with self.subTest(layer=(want["fam"], want["L_mm"])):
                values = dict(FAST if want["fam"] == "FAST" else SLOW)
                values["ambient-degc"] = values["start-degc"] = want["Ta_C"]
                got = self.answer(values, "--depth-mm", want["L_mm"], "--at-s", 14400)
                self.assertAlmostEqual(got["peak_degc"], want["Tmax"], delta=1e-4)
                self.assertAlmostEqual(got["peak_middle_degc"], want["Tmid_peak"], delta=1e-4)
                self.assertAlmostEqual(got["peak_top_degc"], want["Ttop_peak"], delta=1e-4)
                self.assertAlmostEqual(got["peak_bottom_degc"], want["Tbot_peak"], delta=1e-4)
                self.assertAlmostEqual(got["gel_middle_s"] / want["tgel_mid"], 1, delta=1e-5)
                self.assertAlmostEqual(got["gel_top_s"] / want["tgel_top"], 1, delta=1e-5)
                self.assertEqual([at["t_s"] for at in got["at"]], [14400])
                self.assertAlmostEqual(got["at"][0]["middle_degc"], want["T_mid_t1"], delta=1e-4)
                self.assertAlmostEqual(got["at"][0]["middle_conversion"], want["alpha_mid_t1"],
                                       delta=1e-5)

    def test_every_cup_of_the_file(self):
        for name, want in self.reference["R4_cup"].items():
            with self.subTest(cup=name):
                family, degc, mass = name.split("_")
                values = dict(FAST if family == "FAST" else SLOW)
                values["ambient-degc"] = values["start-degc"] = float(degc[:-1])
                got = self.answer(values, "--cup-g", mass[:-1])
                self.assertAlmostEqual(got["gel_s"] / 60 / want["t_gel_min"], 1, delta=1e-5)
                self.assertAlmostEqual(got["peak_degc"], want["Tpeak_C"], delta=1e-3)

    def test_a_family_fills_what_is_left_out(self):
        for name, values in ("fast", FAST), ("SLOW", SLOW):
            whole = self.answer(values, "--depth-mm", 6)
            short = self.answer({"system": name}, "--depth-mm", 6)
            self.assertEqual(whole, short)
        warmer = self.answer({"system": "fast", "heat-j-per-kg": 300000}, "--depth-mm", 6)
        self.assertEqual(warmer, self.answer(dict(FAST, **{"heat-j-per-kg": 300000}),
                                             "--depth-mm", 6))
        self.assertEqual(self.answer({"system": "fast"}, "--cup-g", 100),
                         self.answer(FAST, "--cup-g", 100))

    def test_conversions_at_one_temperature(self):
        """So thin and so slow that it stays at 25 C: Tg and vitrification included."""
        table = self.reference["R0c_iso25C_with_vitrification"]["FAST"]
        times = {"6h": 6, "12h": 12, "24h": 24, "48h": 48, "72h": 72, "168h": 168}
        got = self.answer(dict(FAST, **{"heat-j-per-kg": 0}), "--depth-mm", 1, "--at-s",
                          ",".join(str(3600 * h) for h in times.values()))
        for at, name in zip(got["at"], times):
            self.assertAlmostEqual(at["middle_conversion"], table[name], delta=1e-6)
            self.assertAlmostEqual(at["middle_degc"], 25, delta=1e-6)

    def test_times_may_be_given_again_and_in_any_order(self):
        one = self.answer(FAST, "--depth-mm", 5, "--at-s", 9000, "--at-s=0", "--at-s", "600,30")
        self.assertEqual([at["t_s"] for at in one["at"]], [9000, 0, 600, 30])
        self.assertEqual(one["at"][1]["middle_degc"], 25)
        self.assertEqual(one["at"][1]["middle_conversion"], 0)
        self.assertEqual(self.answer(FAST, "--depth-mm", 5)["at"], [])
        late = self.answer(FAST, "--depth-mm", 5, "--at-s", 1e9)["at"][0]  # 31 years
        self.assertGreater(late["middle_conversion"], 0.85)
        self.assertAlmostEqual(late["middle_degc"], 25, delta=1e-4)

    def test_every_number_counts(self):
        """A changed option that changes nothing would be one that is not read."""
        apart = dict(FAST, **{"e1-j-per-mol": 58600.0, "start-degc": 30})
        base = self.answer(apart, "--depth-mm", 5, "--at-s", 3000)
        for key, value in apart.items():
            with self.subTest(option=key):
                changed = dict(apart, **{key: value * 1.05 if key != "ambient-degc" else 20})
                got = self.answer(changed, "--depth-mm", 5, "--at-s", 3000)
                self.assertNotAlmostEqual(got["gel_middle_s"], base["gel_middle_s"], places=3)
        for more in ["--below-mm", 10], ["--start-conversion", 0.1], ["--gel-conversion", 0.5], \
                ["--amine-hydrogens", 5]:
            got = self.answer(apart, "--depth-mm", 5, "--at-s", 3000, *more)
            self.assertNotAlmostEqual(got["gel_middle_s"], base["gel_middle_s"], places=3)

    def test_a_systems_label_is_fitted(self):
        demo = os.path.join(TOP, "config", "demo")
        got = self.answer({"system": "tidepool-clear", "config": demo, "ambient-degc": 23},
                          "--cup-g", 400)
        self.assertAlmostEqual(got["gel_s"] / 2400, 1, delta=1e-4)  # its label: 40 min

    def test_the_keys_are_those_that_are_documented(self):
        layer = self.answer(FAST, "--depth-mm", 5, "--at-s", 14400)
        self.assertEqual(list(layer), ["peak_degc", "peak_middle_degc", "peak_top_degc",
                                       "peak_bottom_degc", "gel_middle_s", "gel_top_s", "at"])
        self.assertEqual(list(layer["at"][0]), ["t_s", "middle_degc", "middle_conversion"])
        cup = self.answer(FAST, "--cup-g", 100, "--top-w-per-m2k", 10, "--at-s", 14400)
        self.assertEqual(list(cup), ["gel_s", "peak_degc"])

    def test_the_ends_of_every_range_have_an_answer(self):
        """Finite numbers, null for what never comes, and no peak under the start."""
        ends = [{"depth-mm": 0.05}, {"depth-mm": 200}, {"a1-per-s": 0}, {"a2-per-s": 0},
                {"a1-per-s": 0, "a2-per-s": 0}, {"heat-j-per-kg": 0}, {"lambda": 0}, {"lambda": 1},
                {"tginf-degc": -29.9}, {"stoichiometry": 0.5}, {"stoichiometry": 1.5},
                {"top-w-per-m2k": 0, "bottom-w-per-m2k": 0}, {"top-w-per-m2k": 1e6},
                {"ambient-degc": -40}, {"ambient-degc": -40, "start-degc": 80},
                {"ambient-degc": 60, "start-degc": -20}, {"a2-per-s": 1, "a1-per-s": 1},
                {"a1-per-s": 1e12, "a2-per-s": 1e12}, {"k-w-per-mk": 0.001}, {"k-w-per-mk": 500}]
        for end in ends:
            with self.subTest(end=end):
                values = dict(FAST, **{"depth-mm": 5, "at-s": 3600})
                values.update(end)
                got = self.answer(values)
                peaks = [got[k] for k in got if k.startswith("peak")]
                for number in peaks + list(got["at"][0].values()):
                    self.assertTrue(math.isfinite(number))
                self.assertGreaterEqual(got["peak_degc"], values["start-degc"])
                self.assertGreaterEqual(got["peak_degc"], max(peaks))
                if values["a1-per-s"] == 0:
                    self.assertIsNone(got["gel_middle_s"])
        for cup in 1, 20000:
            got = self.answer(FAST, "--cup-g", cup)
            self.assertGreater(got["gel_s"], 0)

    def test_a_chain_of_times_as_long_as_anyone_asks(self):
        times = [30 * (1 + (i * 397) % 1009) for i in range(1009)]
        got = self.answer(FAST, "--depth-mm", 5, "--at-s", ",".join(map(str, times)))
        self.assertEqual([at["t_s"] for at in got["at"]], times)
        by_time = [at["middle_conversion"] for at in sorted(got["at"], key=lambda at: at["t_s"])]
        self.assertEqual(by_time, sorted(by_time))

    def test_what_never_gels_is_null(self):
        got = self.answer({"system": "fast", "stoichiometry": 0.3}, "--depth-mm", 5)
        self.assertIsNone(got["gel_middle_s"])
        self.assertIsNone(got["gel_top_s"])
        self.assertLess(got["peak_degc"], 40)


class People(unittest.TestCase):
    def test_a_runaway_is_the_first_thing_said(self):
        out = ambo("cure", "--system", "fast", "--depth-mm", 8)
        self.assertEqual((out.returncode, out.stderr), (0, ""))
        self.assertTrue(out.stdout.startswith("runaway: do not pour\n"), out.stdout)
        self.assertNotIn("runaway", ambo("cure", "--system", "fast", "--depth-mm", 4).stdout)

    def test_a_front_too_thin_to_follow_is_a_runaway_and_no_number(self):
        out = ambo("cure", "--json", "--a1-per-s", 3.538e10, "--e1-j-per-mol", 76245, "--a2-per-s",
                   3.258e10, "--e2-j-per-mol", 78205, "--heat-j-per-kg", 432672, "--tg0-degc", -47.4,
                   "--tginf-degc", -4.1, "--lambda", 0.9, "--density-kg-per-m3", 1627.9,
                   "--cp-j-per-kgk", 1038.8, "--k-w-per-mk", 0.159, "--depth-mm", 72.3,
                   "--ambient-degc", 13.8, "--start-degc", 18.4, "--top-w-per-m2k", 1510)
        self.assertEqual((out.returncode, out.stdout), (1, ""))
        self.assertRegex(out.stderr, "^ambo: cure: runaway: do not pour: past 120 C after [0-9]+ s.*\n$")

    def test_a_decimal_comma_locale_changes_nothing(self):
        env = dict(os.environ, LC_ALL="de_DE.UTF-8")
        args = ["cure", "--json", "--system", "fast", "--depth-mm", "5.5"]
        self.assertEqual(ambo(*args, env=env).stdout, ambo(*args).stdout)

    def test_what_cannot_be_meant_is_said_in_one_sentence(self):
        for args, sentence in (
                (["--system", "fast"],
                 "ambo: cure: give either --depth-mm, for a layer, or --cup-g, for the cup"),
                (["--system", "fast", "--depth-mm", "5", "--cup-g", "5"],
                 "ambo: cure: give either --depth-mm, for a layer, or --cup-g, for the cup"),
                (["--depth-mm", "5"], "ambo: cure: --a1-per-s is missing; give it, or --system "
                                      "NAME, which fills what is left out"),
                (["--system", "fast", "--depth-mm", "-5"],
                 "ambo: --depth-mm -5: expected a number from 0.05 to 1000, with a decimal point"),
                (["--system", "fast", "--depth-mm", "5", "--at-s", "1,x"],
                 "ambo: --at-s x: expected seconds from 0 to 1e9, commas between"),
                (["--system", "fast", "--depth-mm", "5", "--at-s", ""],
                 "ambo: --at-s : expected seconds from 0 to 1e9, commas between"),
                (["--system", "fast", "--depth-mm", "nan"],
                 "ambo: --depth-mm nan: expected a number from 0.05 to 1000, with a decimal point"),
                (["--system", "fast", "--depth-mm", "1e999"],
                 "ambo: --depth-mm 1e999: expected a number from 0.05 to 1000, with a decimal "
                 "point"),
                (["--system", "fast", "--depth-mm"], "ambo: --depth-mm: expected MM after it"),
                (["--system", "fast", "--depth-mm", "5", "--at-s", "100", "--until-s", "50"],
                 "ambo: --until-s 50 ends before --at-s 100"),
                (["--system", "fast", "--depth-mm", "5", "--tginf-degc", "-40"],
                 "ambo: cure: Tg of the cured resin (C) is -40; expected -29.99 to 400")):
            with self.subTest(args=args):
                out = ambo("cure", "--json", *args)
                self.assertEqual((out.returncode, out.stdout), (2, ""))
                self.assertEqual(out.stderr, sentence + "\n")

    def test_an_unknown_system_is_refused(self):
        out = ambo("cure", "--system", "nobodys", "--config", os.path.join(TOP, "config", "demo"),
                   "--depth-mm", 5)
        self.assertEqual((out.returncode, out.stdout), (1, ""))
        self.assertIn("no such system", out.stderr)


if __name__ == "__main__":
    unittest.main()
