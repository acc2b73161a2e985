# SPDX-License-Identifier: MIT
"""`ambo plan` from a file alone: what a program reads, what if, and the pictures."""
import json
import math
import os
import re
import shutil
import tempfile
import unittest
import xml.etree.ElementTree

from ambo_station import TOP, ambo

DEMO = os.path.join(TOP, "config", "demo")
CLOCK = os.path.join(DEMO, "pieces", "fern-clock.conf")


def plan(*args):
    out = ambo("plan", CLOCK, "--json", *args)
    if out.returncode:
        raise AssertionError(out.stderr)
    return json.loads(out.stdout)


class Plan(unittest.TestCase):
    def test_the_layers_add_up(self):
        got = plan()
        # A frustum: h/3 pi (R^2 + R r + r^2), walls 3 degrees outward.
        small, large = 14.0, 14.0 + 1.8 * math.tan(math.radians(3.0))
        cavity = 1.8 / 3.0 * math.pi * (small ** 2 + small * large + large ** 2)
        self.assertAlmostEqual(got["cavity_ml"], cavity, places=6)
        inside = [l for l in got["layers"] if not l["top_coat"]]
        embedded = 2.4 / 0.35 + 10.6 / 0.99799  # water at 21 C: 0.99799 g/ml (handbook)
        self.assertAlmostEqual(sum(l["volume_ml"] for l in inside), cavity - embedded, delta=0.001)
        self.assertAlmostEqual(sum(l["depth_mm"] for l in inside), 18.0, places=9)
        for layer in got["layers"]:
            self.assertAlmostEqual(layer["a_g"] + layer["b_g"] + layer["tint_g"], layer["total_g"])
            self.assertLessEqual(layer["depth_mm"], layer["label_depth_mm"])
            self.assertLessEqual(layer["peak_p95_degc"], layer["heat_limit_degc"])
            self.assertLessEqual(layer["peak_p5_degc"], layer["peak_p95_degc"])
            self.assertLessEqual(layer["batch_g"], 700.0)
            self.assertEqual(layer["checks"][-1]["check"] == "edge-tape-off", layer["top_coat"])
        self.assertEqual([s["system"] for s in got["stock"]], ["millrace-deep", "lantern-coat"])
        for stock in got["stock"]:
            mine = [l for l in got["layers"] if l["system"] == stock["system"]]
            self.assertAlmostEqual(stock["a_g"], sum(l["a_g"] for l in mine))

    CAVITIES = {  # the file's words, and the closed form in ml
        "round": ('sections = ({shape="round"; diameter_mm=200; height_mm=12;})',
                  math.pi * 10 ** 2 * 1.2),
        "cone": ('sections = ({shape="round"; diameter_mm=120; height_mm=20; taper_deg=45;})',
                 math.pi * 2 / 3 * (6 ** 2 + 6 * 8 + 8 ** 2)),
        "narrowing": ('sections = ({shape="round"; diameter_mm=160; height_mm=20; taper_deg=-45;})',
                      math.pi * 2 / 3 * (6 ** 2 + 6 * 8 + 8 ** 2)),
        "rectangle": ('sections = ({shape="rectangle"; width_mm=90; length_mm=140; height_mm=15;})',
                      9 * 14 * 1.5),
        # A prismatoid: h/6 (a b + (a + a')(b + b') + a' b').
        "rectangle, leaning": (
            'sections = ({shape="rectangle"; width_mm=80; length_mm=120; height_mm=10;'
            ' taper_deg=45;})', (8 * 12 + (8 + 10) * (12 + 14) + 10 * 14) / 6),
        "ellipse": ('sections = ({shape="ellipse"; width_mm=100; length_mm=160; height_mm=15;})',
                    math.pi * 5 * 8 * 1.5),
        "ring": ('sections = ({shape="ring"; diameter_mm=200; inner_mm=80; height_mm=15;})',
                 math.pi * (10 ** 2 - 4 ** 2) * 1.5),
        "ring, leaning": (
            'sections = ({shape="ring"; diameter_mm=200; inner_mm=80; height_mm=10; taper_deg=45;})',
            math.pi / 3 * (10 ** 2 + 10 * 11 + 11 ** 2 - 4 ** 2 - 4 * 3 - 3 ** 2)),
        "triangle": ('sections = ({shape="polygon"; outline_mm=(0,0, 120,0, 0,160);'
                     ' height_mm=15;})', 12 * 16 / 2 * 1.5),
        # A concave one, the other way round: 160 x 100 less a notch of 60 x 50.
        "polygon": ('sections = ({shape="polygon"; outline_mm=(0,0, 0,100, 50,100, 50,50, 110,50,'
                    ' 110,100, 160,100, 160,0); height_mm=15;})', (16 * 10 - 6 * 5) * 1.5),
        "stepped": ('sections = ({shape="rectangle"; width_mm=80; length_mm=80; height_mm=6;},'
                    ' {shape="round"; diameter_mm=150; height_mm=9;})',
                    8 * 8 * .6 + math.pi * 7.5 ** 2 * .9),
        # Water at 20 C: 0.99821 g/ml (handbook).
        "water": ('water_mm_g = (0, 0, 5, 99.821, 15, 299.463); water_degc = 20', 300),
    }

    def other_piece(self, cavity, more="", coats='{ name = "body"; }', system=None):
        """The plan of another piece, beside the demo's systems or one more."""
        with tempfile.TemporaryDirectory() as folder:
            shutil.copytree(DEMO, folder, dirs_exist_ok=True)
            if system:
                with open(os.path.join(folder, "systems.d", "own.conf"), "w") as file:
                    file.write(system)
            path = os.path.join(folder, "pieces", "one.conf")
            with open(path, "w") as file:
                file.write('name = "One"; system = "%s";\ncavity = { %s; };\ncoats = ( %s );\n%s'
                           % ("own" if system else "millrace-deep", cavity, coats, more))
            out = ambo("plan", path, "--json", "--samples", 20)
            if out.returncode or out.stderr:
                raise AssertionError(out.stderr)
            return json.loads(out.stdout)

    def test_every_cavity_holds_its_closed_form(self):
        for name, (cavity, volume_ml) in self.CAVITIES.items():
            with self.subTest(cavity=name):
                got = self.other_piece(cavity, "room_degc = 15;")
                within = 2e-5 if name == "water" else 1e-9
                self.assertAlmostEqual(got["cavity_ml"] / volume_ml, 1, delta=within)
                self.assertAlmostEqual(sum(l["volume_ml"] for l in got["layers"]) / volume_ml, 1,
                                       delta=within)

    def test_parts_by_weight_and_by_volume(self):
        """1.2 and 0.9 g/ml: 100:45 by volume is 120:40.5 by weight."""
        system = """name = "Own"; basis = "%s"; hardener = "b";
a = { label = "resin"; parts = 100.0; density_g_per_ml = 1.2; };
b = { label = "hardener"; parts = 45.0; density_g_per_ml = 0.9; };
working_life = { s = 16200.0; mass_g = 500.0; degc = 23.0; };
casting = { family = "slow"; depth_max_mm = 20.0; };"""
        for basis, a, b in ("weight", 100, 45), ("volume", 120, 40.5):
            with self.subTest(basis=basis):
                got = self.other_piece(self.CAVITIES["rectangle"][0], "room_degc = 15;",
                                       system=system % basis)
                layer = got["layers"][0]
                density = (a + b) / (a / 1.2 + b / 0.9)  # 1/rho = sum of w/rho
                grams = 189 * density + 5  # 5 g stay in the cup where nothing else is known
                self.assertAlmostEqual(layer["a_g"], grams * a / (a + b), delta=1e-6)
                self.assertAlmostEqual(layer["b_g"], grams * b / (a + b), delta=1e-6)

    def test_a_cup_that_keeps_all_is_refused(self):
        with self.assertRaisesRegex(AssertionError, "cup of 5 g keeps 8 g"):
            self.other_piece(self.CAVITIES["round"][0], "cup = { limit_g = 5; loss_g = 8; };")

    def test_the_calendar_keeps_the_hours_and_the_windows(self):
        layers = plan()["layers"]
        for before, layer in zip([None] + layers, layers):
            begin = layer["session_at_s"] % 86400
            self.assertGreaterEqual(begin, 8 * 3600)
            self.assertLessEqual(begin + layer["session_s"], 21.5 * 3600)
            if before and not layer["sand_first"]:
                since = layer["poured_at_s"] - before["poured_at_s"]
                self.assertGreaterEqual(since, before["next_pour_opens_s"])
                self.assertLessEqual(since, before["bond_closes_s"])

    def test_what_if_changes_what_it_should(self):
        usual = plan()
        warm = plan("--room", 30)
        self.assertGreater(len(warm["layers"]), len(usual["layers"]))
        self.assertLess(warm["layers"][0]["next_pour_opens_s"], usual["layers"][0]["next_pour_opens_s"])
        cool = plan("--room", 18)
        self.assertLessEqual(len(cool["layers"]), len(usual["layers"]))
        cups = plan("--cup-limit", 200, "--batches", 1)
        self.assertIn("cup-limit", [l["rule"] for l in cups["layers"]])
        self.assertEqual(plan("--system", "tidepool-clear")["layers"][0]["system"], "tidepool-clear")
        self.assertGreaterEqual(len(plan("--layers", 4)["layers"]), 4)
        self.assertEqual(plan("--seed", 1), usual)

    def test_a_refusal_is_one_sentence_and_an_object(self):
        out = ambo("plan", CLOCK, "--json", "--room", 30, "--layers", 1)
        self.assertEqual(out.returncode, 1)
        refused = json.loads(out.stdout)
        self.assertIs(refused["runaway"], True)
        self.assertIn("runaway: do not pour", refused["refused"])
        self.assertEqual(out.stderr.count("\n"), 1)
        for args, status in ((["nothing.conf"], 1), ([], 2), ([CLOCK, "--room", "99"], 2),
                             ([CLOCK, "--system", "no"], 1), ([CLOCK, "--config", "/no"], 1)):
            out = ambo("plan", *args)
            self.assertEqual((out.returncode, out.stdout), (status, ""), args)
            self.assertEqual(out.stderr.count("\n"), 1, out.stderr)

    def test_units_mixed_up_are_asked_about(self):
        with tempfile.TemporaryDirectory() as folder:
            shutil.copytree(DEMO, folder, dirs_exist_ok=True)
            path = os.path.join(folder, "pieces", "small.conf")
            with open(path, "w") as file:
                file.write('name = "Small"; system = "millrace-deep";\n'
                           'cavity = { sections = ( { shape = "round"; diameter_mm = 15;'
                           ' height_mm = 3.2; } ); };\ncoats = ( { name = "a"; } );\n')
            out = ambo("plan", path)
            self.assertEqual(out.returncode, 1)
            self.assertIn("centimetres", out.stderr)
            self.assertEqual(ambo("plan", path, "--as-written").returncode, 0)

    def test_a_system_without_a_pour_depth_is_refused(self):
        with tempfile.TemporaryDirectory() as folder:
            shutil.copytree(DEMO, folder, dirs_exist_ok=True)
            path = os.path.join(folder, "systems.d", "millrace-deep.conf")
            with open(path) as file:
                text = file.read()
            with open(path, "w") as file:
                file.write(re.sub(r"depth_max_mm = [0-9.]+; *", "", text, count=1))
            out = ambo("plan", os.path.join(folder, "pieces", "fern-clock.conf"))
            self.assertEqual(out.returncode, 1)
            self.assertIn("has no pour depth from its label", out.stderr)

    def test_pictures_are_drawn(self):
        with tempfile.TemporaryDirectory() as folder:
            svg, png = os.path.join(folder, "a.svg"), os.path.join(folder, "a.png")
            out = ambo("plan", CLOCK, "--svg", svg, "--png", png)
            self.assertEqual((out.returncode, out.stderr), (0, ""))
            root = xml.etree.ElementTree.parse(svg).getroot()
            self.assertGreater(len(list(root.iter())), 100)
            with open(png, "rb") as file:
                self.assertEqual(file.read(8), b"\x89PNG\r\n\x1a\n")
            out = ambo("plan", CLOCK, "--png", os.path.join(folder, "no", "a.png"))
            self.assertEqual(out.returncode, 1)
            self.assertEqual(out.stderr.count("\n"), 1)

    def test_for_a_person_in_a_locale_with_decimal_commas(self):
        usual = ambo("plan", CLOCK)
        german = ambo("plan", CLOCK, env=dict(os.environ, LC_ALL="de_DE.UTF-8"))
        self.assertEqual(german.stdout, usual.stdout)
        self.assertIn("Layer 1, base: 5.0 mm", usual.stdout)


if __name__ == "__main__":
    unittest.main(verbosity=2)
