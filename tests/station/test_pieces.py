# SPDX-License-Identifier: MIT
"""Pieces at a real station: kept, poured from batches, and their clocks through a kill."""
import hashlib
import os
import re
import sqlite3
import subprocess
import time
import unittest

import dbus

from ambo_bus import SYSTEM, BIN, Daemon, Hands, error_of, main, until

# holds: a minute at 23 C, so a few seconds in a room of 60 C: an event to wait for.
CASTING = """
casting = { family = "fast"; depth_max_mm = 8.0; levelling_min_mm = 1.0;
            film_gel = { s = 10800.0; degc = 23.0; }; holds = { s = 60.0; degc = 23.0; }; };
"""
PIECE = """
name = "Clock"; system = "tidepool-clear";
cavity = { sections = ( { shape = "round"; diameter_mm = 200; height_mm = 12; } ); };
coats = ( { name = "body"; } ); room_degc = 20; cup = { loss_g = 5; batches_max = 2; };
"""


def pour(daemon, layer=0, **weighed):
    weighed.setdefault("AGrams", 100.0)
    weighed.setdefault("BGrams", 45.0)
    daemon.call("pieces", "Pour", "sxa{sv}", "Clock", layer, dbus.Dictionary(weighed, signature="sv"))


def what_if(**values):
    return dbus.Dictionary(values, signature="sv")


def clocks(daemon):
    """{(layer, event): row}"""
    return {(int(row["Layer"]), str(row["Event"])): row
            for row in daemon.get("pieces", "Clocks") if "Batch" not in row}


def ambo(*args, text=None):
    return subprocess.run([os.path.join(BIN, "ambo"), "--bus", "session", *map(str, args)],
                          input=text, capture_output=True, text=True, timeout=60)


class Station(Daemon):
    def __init__(self, **options):
        super().__init__(**options)
        self.write("systems.d/tidepool-clear.conf", SYSTEM + CASTING)

    def listen(self):
        heard = []
        self.bus.add_signal_receiver(
            lambda piece, layer, event, sentence: heard.append((int(layer), str(event))),
            "ClockEvent", "org.ambo.Pieces1", "org.ambo.Station", "/org/ambo/pieces")
        return heard


class Pieces(unittest.TestCase):
    def test_a_piece_is_kept_poured_and_planned_from_what_was_poured(self):
        with Station() as daemon:
            daemon.start()
            self.assertEqual(list(daemon.call("pieces", "List", "")), [])
            daemon.call("pieces", "Keep", "s", PIECE)
            row, = daemon.call("pieces", "List", "")
            self.assertEqual((str(row["Name"]), float(row["FilledMillimetres"])), ("Clock", 0.0))
            self.assertEqual(str(daemon.call("pieces", "File", "s", "Clock")), PIECE)
            pour(daemon, StayedGrams=9.0)
            layer, = daemon.call("pieces", "Layers", "s", "Clock")
            self.assertAlmostEqual(float(layer["InPieceGrams"]), 136.0)
            self.assertAlmostEqual(float(layer["DeviationPercent"]), 0.0)
            row, = daemon.call("pieces", "List", "")
            self.assertAlmostEqual(float(row["FilledMillimetres"]), float(layer["DepthMillimetres"]))
            # pi/4 20^2 cm2, less what is in: by hand.
            self.assertAlmostEqual(float(row["LeftMillilitres"]),
                                   314.1592654 * (1.2 - layer["DepthMillimetres"] / 10), places=3)
            plan, warnings = daemon.call("pieces", "Plan", "sa{sv}", "Clock", what_if())
            self.assertEqual(int(plan[0]["Layer"]), 2)
            self.assertAlmostEqual(float(plan[0]["FromMillimetres"]),
                                   float(layer["DepthMillimetres"]))
            # What stays in a cup is learnt from the one weighed back.
            self.assertAlmostEqual(sum(p["DepthMillimetres"] for p in plan) +
                                   layer["DepthMillimetres"], 12.0, places=6)
            warm, _ = daemon.call("pieces", "Plan", "sa{sv}", "Clock",
                                  what_if(RoomDegreesCelsius=30.0))
            self.assertGreater(len(warm), len(plan))
            keep, sentence = daemon.call("pieces", "PourCheck", "sdd", "Clock", 60.0, 0.0)
            self.assertEqual((float(keep), str(sentence)[:9]), (0.0, "Pour all:"))
            keep, sentence = daemon.call("pieces", "PourCheck", "sdd", "Clock", 900.0, 0.0)
            self.assertGreater(float(keep), 500.0)
            self.assertIn("spread it thin", sentence)
            daemon.call("pieces", "Finish", "s", "Clock")
            self.assertEqual(clocks(daemon), {})

    def test_what_cannot_be_meant_is_refused_and_keeps_nothing(self):
        with Station() as daemon:
            daemon.start()
            call = daemon.call
            for file, name, says in (
                    ("name = ", "BadRequest", "piece:1"),
                    (PIECE.replace("height_mm = 12", "height_mm = -12"), "BadRequest", "cavity"),
                    (PIECE.replace("tidepool-clear", "unheard"), "BadRequest", "unheard"),
                    ("x" * 70000, "OutOfRange", "70000 bytes")):
                got, sentence = error_of(call, "pieces", "Keep", "s", file)
                self.assertEqual(got, name)
                self.assertIn(says, sentence)
            self.assertEqual(list(call("pieces", "List", "")), [])
            for method, signature, args in (("Layers", "s", ("No",)), ("File", "s", ("No",)),
                                            ("Finish", "s", ("No",)), ("HoldsNow", "sx", ("No", 0)),
                                            ("Plan", "sa{sv}", ("No", what_if()))):
                self.assertEqual(error_of(call, "pieces", method, signature, *args)[0], "NotFound")
            call("pieces", "Keep", "s", PIECE)
            self.assertEqual(error_of(call, "pieces", "HoldsNow", "sx", "Clock", 0)[0], "NotFound")
            self.assertEqual(error_of(pour, daemon, AGrams=0.0)[0], "BadRequest")
            self.assertEqual(error_of(pour, daemon, AGrams=float("nan"))[0], "BadRequest")
            self.assertEqual(error_of(pour, daemon, Grams=1.0)[0], "BadRequest")
            self.assertEqual(error_of(pour, daemon, 3)[0], "OutOfRange")
            self.assertEqual(error_of(pour, daemon, System="nothing")[0], "NotFound")
            self.assertEqual(error_of(call, "pieces", "SetRoom", "d", 99.0)[0], "OutOfRange")
            self.assertEqual(error_of(call, "pieces", "Dry", "sd", "", 1.0)[0], "BadRequest")
            self.assertEqual(error_of(call, "pieces", "Dry", "sd", "a", -1.0)[0], "BadRequest")
            self.assertEqual(list(call("pieces", "Layers", "s", "Clock")), [])

    def test_clocks_stand_the_same_after_a_kill(self):
        with Station() as daemon:
            daemon.start()
            daemon.call("pieces", "Keep", "s", PIECE)
            daemon.call("pieces", "SetRoom", "d", 22.0)
            pour(daemon)
            before = clocks(daemon)
            self.assertLessEqual({(1, e) for e in ("sticky", "gel", "next-pour", "bond-closes",
                                                   "handle", "full-cure")}, set(before))
            daemon.kill()
            daemon.start()
            after = clocks(daemon)
            self.assertEqual(set(after), set(before))
            for key, row in before.items():
                self.assertTrue(row["AgeKnown"] and after[key]["AgeKnown"])
                # 10 s of many hours: the wall clock may be moved a little meanwhile.
                self.assertLess(abs(int(row["AtBoottimeMicroseconds"]) -
                                    int(after[key]["AtBoottimeMicroseconds"])), 10e6)

    def test_the_clocks_follow_the_room_and_a_report(self):
        with Station() as daemon:
            daemon.start()
            daemon.call("pieces", "Keep", "s", PIECE)
            pour(daemon)
            cool = clocks(daemon)
            daemon.call("pieces", "SetRoom", "d", 30.0)
            self.assertEqual(float(daemon.get("pieces", "Room")["DegreesCelsius"]), 30.0)
            warm = clocks(daemon)
            for event in ("gel", "next-pour", "handle"):
                self.assertLess(int(warm[1, event]["AtBoottimeMicroseconds"]),
                                int(cool[1, event]["AtBoottimeMicroseconds"]))
            self.assertEqual(error_of(daemon.call, "pieces", "HoldsNow", "sx", "Clock", 1)[0],
                             "OutOfRange")  # poured this minute

    def test_of_two_batches_the_earliest_clock_governs(self):
        def at(daemon, piece, event):
            return [int(row["AtBoottimeMicroseconds"]) * 1e-6
                    for row in daemon.get("pieces", "Clocks")
                    if row["Piece"] == piece and row["Event"] == event][0]

        def pour_into(daemon, piece, layer, parts, **more):
            weighed = dict(AGrams=parts * 100.0, BGrams=parts * 45.0, StayedGrams=0.0, **more)
            daemon.call("pieces", "Pour", "sxa{sv}", piece, layer,
                        dbus.Dictionary(weighed, signature="sv"))

        with Station() as daemon:
            daemon.start()
            daemon.call("pieces", "Keep", "s", PIECE)
            daemon.call("pieces", "Keep", "s", PIECE.replace("Clock", "Twin"))
            pour_into(daemon, "Twin", 1, 2.0)  # as much at once, and fresh
            pour_into(daemon, "Clock", 1, 1.0)
            daemon.kill()
            daemon.start()
            pour_into(daemon, "Clock", 1, 1.0, CupSeconds=1200.0)
            # It was mixed first, 20 minutes before the other: so the layer gels sooner ...
            for event in ("sticky", "gel"):
                self.assertLess(at(daemon, "Clock", event), at(daemon, "Twin", event) - 1000.0)
            # ... and the next pour still waits for the batch that is fresh.
            self.assertGreater(at(daemon, "Clock", "next-pour"),
                               at(daemon, "Twin", "next-pour") - 10.0)

    def test_each_event_is_told_once_through_kills(self):
        with Station() as daemon:
            daemon.start()
            heard = daemon.listen()
            daemon.call("pieces", "Keep", "s", PIECE)
            daemon.call("pieces", "SetRoom", "d", 60.0)
            # Ten hours in the cup: it has gelled there, which is told at once.
            pour(daemon, CupSeconds=36000.0)
            until("the gel", lambda: (1, "gel") in heard)
            daemon.kill()
            daemon.start()
            until("the inclusions to hold", lambda: (1, "holds") in heard)
            daemon.kill()
            daemon.start()
            until("the clocks", lambda: clocks(daemon))
            self.assertTrue(clocks(daemon)[1, "holds"]["Told"])
            daemon.call("pieces", "SetRoom", "d", 59.0)  # computed anew
            daemon.get("pieces", "Clocks")
            self.assertEqual(len(heard), len(set(heard)))

    def test_a_batch_begun_for_a_layer_is_poured_into_it(self):
        with Station() as daemon:
            daemon.start()
            daemon.call("pieces", "Keep", "s", PIECE)
            batch, _ = daemon.begin(TotalGrams=150.0, Piece="Clock", Layer="1")
            Hands(daemon).mix()
            layer = until("the layer", lambda: list(daemon.call("pieces", "Layers", "s", "Clock")))[0]
            row = [r for r in daemon.call("records", "List", "xu", 0, 10)[0] if int(r["Id"]) == batch][0]
            self.assertAlmostEqual(float(layer["Ratio"]), float(row["Ratio"]), places=5)
            self.assertAlmostEqual(float(layer["InPieceGrams"]), float(row["TotalGrams"]) - 5.0,
                                   places=2)
            self.assertTrue(clocks(daemon))
            # A second batch for the same layer makes it deeper; the chain stays whole.
            daemon.act("empty", 0.0)
            daemon.begin(TotalGrams=150.0, Piece="Clock", Layer="1")
            Hands(daemon).mix()
            more = until("the second batch", lambda: [
                l for l in daemon.call("pieces", "Layers", "s", "Clock") if int(l["Pours"]) == 2])[0]
            self.assertGreater(float(more["DepthMillimetres"]), 1.8 * float(layer["DepthMillimetres"]))
            self.assertEqual(int(daemon.call("records", "Verify", "")[1]), 0)
            # A piece nobody described is a label, as ever.
            daemon.act("empty", 0.0)
            daemon.begin(TotalGrams=100.0, Piece="Something", Layer="9")
            Hands(daemon).mix()
            self.assertEqual(len(daemon.call("pieces", "List", "")), 1)

    def test_an_open_cup_is_among_the_clocks(self):
        def cup(daemon):
            return {str(r["Event"]): r for r in daemon.get("pieces", "Clocks") if "Batch" in r}

        def left_s(daemon, event="working-life-over"):
            return int(cup(daemon)[event]["AtRealtimeMicroseconds"]) * 1e-6 - time.time()

        with Station(keep=5) as daemon:
            daemon.start()
            heard = daemon.listen()
            daemon.call("pieces", "Keep", "s", PIECE)
            daemon.call("pieces", "SetRoom", "d", 25.0)
            # The label's 2400 s are for 23 C; at 60 C little is left of them.
            batch, _ = daemon.begin(TotalGrams=150.0, Piece="Clock", Layer="1", ResinCelsius=60.0)
            hands = Hands(daemon)
            until("the hardener", lambda: hands.look() or cup(daemon))
            first = left_s(daemon)
            row = cup(daemon)["working-life-over"]
            self.assertEqual((int(row["Batch"]), str(row["Piece"]), int(row["Layer"])),
                             (batch, "Clock", 1))
            self.assertEqual(float(row["ResinDegreesCelsius"]), 60.0)
            # By the rule of thumb (working_life.h) a third for every 10 K, by the model less.
            rule_s = 2400.0 * 3.0 ** -((60.0 - 23.0) / 10.0)
            self.assertLess(first, rule_s + 1.0)
            self.assertGreater(first, 0.0)
            daemon.kill()
            daemon.start()
            until("the cup again", lambda: cup(daemon))
            # A stamp is made after its event: a restart may give back some milliseconds.
            self.assertLess(left_s(daemon), first + 0.5)
            until("less left", lambda: left_s(daemon) < first)
            daemon.act("stop", 0.1)
            for event in ("pour-soon", "working-life-over"):
                until(event, lambda: (1, event) in heard)
            self.assertLess(left_s(daemon), 0.0)
            self.assertTrue(cup(daemon)["working-life-over"]["Told"])
            self.assertIn("batch %d" % batch, ambo("clocks").stdout)
            daemon.kill()
            daemon.start()
            until("the cup again", lambda: cup(daemon))
            self.assertEqual(len(heard), len(set(heard)))
            daemon.call("batch", "Discard", "x", 0)
            until("no cup", lambda: not cup(daemon))
            daemon.stop()
            with open(daemon.path("ambo.db.inputs", str(batch), "presses-1.csv")) as file:
                self.assertIn("resin_degc=60", file.read())

    def test_the_model_shortens_the_working_life_in_a_warm_room(self):
        """The label's rule knows the resin's temperature and mass (working_life.h: a third
        for every 10 K over 23 C, 100 g are under the label's 400 g), not the room's."""
        rule_s = 2400.0 * 3.0 ** -0.1  # 24 C

        def life_s(daemon, between=lambda: None):
            batch, _ = daemon.begin(TotalGrams=100.0, ResinCelsius=24.0)
            between()
            hands = Hands(daemon)
            left = until("the hardener", lambda: hands.look() or
                         daemon.get("batch", "Quantities").get("WorkingLifeLeftSeconds"))
            daemon.act("stop", 0.1)
            left = min(float(left), until("the clocks", lambda: daemon.get(
                "batch", "Quantities").get("WorkingLifeLeftSeconds")))
            daemon.call("batch", "Discard", "x", 0)
            until("the end", lambda: str(daemon.get("batch", "Step")) == "discarded")
            with open(daemon.path("ambo.db.inputs", str(batch), "presses.csv")) as file:
                return left, file.read()

        with Station(keep=5) as daemon:
            daemon.start()
            left, kept = life_s(daemon)  # the room is not known: the label's
            self.assertGreater(left, rule_s - 60.0)
            self.assertLess(left, rule_s + 1.0)
            self.assertNotIn("life", kept)
        with Station(keep=5) as daemon:  # it warms after the batch began
            daemon.start()
            left, kept = life_s(daemon, lambda: daemon.call("pieces", "SetRoom", "d", 55.0))
            self.assertLess(left, rule_s - 100.0)
            self.assertIn("life left_s=", kept)
        with Station(keep=5) as daemon:  # warm from the beginning
            daemon.start()
            daemon.call("pieces", "SetRoom", "d", 55.0)
            left, kept = life_s(daemon)
            self.assertLess(left, rule_s - 100.0)
            self.assertIn("life_max_s=", kept)

    def test_how_warm_the_resin_was_reaches_the_layer(self):
        with Station() as daemon:
            daemon.start()
            daemon.call("pieces", "Keep", "s", PIECE)
            daemon.call("pieces", "Keep", "s", PIECE.replace("Clock", "Cool"))
            gels = {}
            for piece, degc in (("Clock", 35.0), ("Cool", 15.0)):
                daemon.begin(TotalGrams=100.0, Piece=piece, Layer="1", ResinCelsius=degc)
                Hands(daemon).mix()
                until("the layer", lambda: list(daemon.call("pieces", "Layers", "s", piece)))
                daemon.act("empty", 0.0)
                layer, = daemon.call("pieces", "Layers", "s", piece)
                gels[piece] = [int(r["AtRealtimeMicroseconds"]) - int(layer["PouredRealtimeMicroseconds"])
                               for r in daemon.get("pieces", "Clocks")
                               if r.get("Piece") == piece and r["Event"] == "gel"][0]
            self.assertLess(gels["Clock"], gels["Cool"] - 60e6)
            with sqlite3.connect(daemon.path("ambo.db")) as db:
                self.assertEqual(db.execute("SELECT resin_degc FROM pour").fetchall(),
                                 [(35.0,), (15.0,)])

    def test_a_pour_lost_between_two_commits_is_found_again(self):
        with Station() as daemon:
            daemon.start()
            daemon.begin(TotalGrams=100.0, Piece="Clock", Layer="1")  # a label: no piece yet
            Hands(daemon).mix()
            daemon.act("empty", 0.0)
            daemon.call("pieces", "Keep", "s", PIECE)
            batch, _ = daemon.begin(TotalGrams=120.0, Piece="Clock", Layer="1")
            Hands(daemon).mix()
            layer = until("the layer", lambda: list(daemon.call("pieces", "Layers", "s", "Clock")))[0]
            daemon.kill()
            # The batch is done and its pour is not kept: as a power cut in between leaves it.
            with sqlite3.connect(daemon.path("ambo.db")) as db:
                self.assertEqual(db.execute("DELETE FROM pour").rowcount, 1)
            daemon.start()
            again, = daemon.call("pieces", "Layers", "s", "Clock")
            self.assertEqual(int(again["Pours"]), 1)
            self.assertAlmostEqual(float(again["InPieceGrams"]), float(layer["InPieceGrams"]),
                                   places=2)

    def test_a_top_up_rechecks_depth_and_heat(self):
        """More than the layer takes: some is kept back, weighed back with the cup, and
        teaches no loss; what the layer got is known."""
        options = ('seed = 7; rate_hz = 80.0; speed = 8.0; noise_g = 0.05; '
                   'warm_up_counts_per_s = 0.0; state = "bench.state";')
        with Station(options=options) as daemon:
            daemon.start()
            # 5 mm of a 80 mm disc: 25.1 ml, some 28 g.
            small = PIECE.replace("200", "80").replace("12;", "5;")
            daemon.call("pieces", "Keep", "s", small)
            daemon.begin(TotalGrams=60.0, Piece="Clock", Layer="1")
            hands = Hands(daemon)
            until("the stirring", lambda: hands.look() or str(daemon.get("batch", "Step")) == "stir")
            advice = until("the advice", lambda: str(daemon.get("batch", "PourAdvice")))
            self.assertRegex(advice, r"Keep back \d+ g: weigh the cup with it, then spread it thin")
            keep_g = float(re.search(r"Keep back (\d+) g", advice).group(1))
            daemon.kill()
            daemon.start()
            self.assertEqual(until("the advice", lambda: str(daemon.get("batch", "PourAdvice"))),
                             advice)
            until("the pouring", lambda: hands.look() or str(daemon.get("batch", "Step")) == "pour")
            daemon.act("empty", keep_g + 3.0)
            # Still over a tenth of the batch in the cup: done by a press, not by itself.
            daemon.act("return")
            until("the emptied cup", lambda: str(daemon.get("batch", "Message")) == "weigh-back")
            hands.mix()
            layer = until("the layer", lambda: list(daemon.call("pieces", "Layers", "s", "Clock")))[0]
            # Of what was poured, not of what was asked for: hands may have overshot.
            (row, *_), _ = daemon.call("records", "List", "xu", 0, 10)
            self.assertLess(float(layer["InPieceGrams"]), float(row["TotalGrams"]) - keep_g)
            self.assertLess(float(layer["OverMillilitres"]), 3.0)
            with sqlite3.connect(daemon.path("ambo.db")) as db:
                (stayed, kept), = db.execute("SELECT stayed_g, kept_back_g FROM pour").fetchall()
            self.assertAlmostEqual(stayed, keep_g + 3.0, delta=0.5)
            self.assertAlmostEqual(kept, keep_g, delta=1.0)
            self.assertEqual(str(daemon.get("batch", "PourAdvice")), "")

    def test_drying_weighings_reach_the_plan_and_the_checks(self):
        """A fern weighed day by day: the days pass while the station is off."""
        fern = PIECE.replace(
            "room_degc", 'inclusions = ( { name = "fern"; rests_on = "floor"; height_mm = 2.0; volume_ml = 1.0; } ); room_degc')

        def a_day_passes(daemon):
            daemon.kill()
            with sqlite3.connect(daemon.path("ambo.db")) as db:
                db.execute("UPDATE drying SET boottime_us = boottime_us - 86400000000,"
                           " realtime_us = realtime_us - 86400000000")
            daemon.start()

        def warnings():
            return [l for l in ambo("piece", "plan", "Clock").stdout.splitlines() if "fern" in l]

        def check(daemon, name):
            return [row for row in daemon.call("pieces", "Checks", "s", "Clock")
                    if row["Check"] == name]

        with Station() as daemon:
            daemon.start()
            daemon.call("pieces", "Keep", "s", fern)
            self.assertIn("is not known to be dry", warnings()[0])
            row, = daemon.call("pieces", "Inclusions", "s", "Clock")
            self.assertEqual((str(row["Name"]), int(row["Weighings"])), ("Clock/fern", 0))
            self.assertNotIn("LastGrams", row)
            for grams in (15.0, 11.67, 9.44, 7.96):  # a third of the water a day
                out = ambo("piece", "dry", "fern", grams)
                self.assertEqual((out.returncode, out.stderr), (0, ""))
                a_day_passes(daemon)
            self.assertIn("4 weighing(s), last 7.96 g, 15.7 % a day lost: not known to be dry; about",
                          ambo("piece", "dry", "fern").stdout)
            row = daemon.call("pieces", "Drying", "s", "fern")
            self.assertAlmostEqual(float(row["FinalGrams"]), 5.0, delta=0.1)
            # 13.07 days in all (see test_drying.c), four of them are over.
            self.assertAlmostEqual(float(row["DryInSeconds"]) / 86400.0, 9.0, delta=0.4)
            self.assertIn('"fern" is not dry yet and would be poured over in', warnings()[0])
            self.assertFalse(check(daemon, "inclusions-dry")[0]["Done"])
            for grams in (5.03, 5.02):
                daemon.call("pieces", "Dry", "sd", "fern", grams)
                a_day_passes(daemon)
            self.assertIn("dry to constant mass", ambo("piece", "dry", "fern").stdout)
            self.assertEqual(warnings(), [])
            self.assertTrue(check(daemon, "inclusions-dry")[0]["Done"])
            for _ in range(7):
                a_day_passes(daemon)
            self.assertIn("draws moisture again", warnings()[0])
            # What the piece embeds, under the name that the next weighing belongs to.
            def inclusion():
                row, = daemon.call("pieces", "Inclusions", "s", "Clock")
                return str(row["Name"]), int(row["Weighings"]), str(row["Verdict"])
            self.assertEqual(inclusion(), ("fern", 6, "stale"))
            # Of two pieces with a fern each, one may be weighed by its own name.
            daemon.call("pieces", "Dry", "sd", "Clock/fern", 4.0)
            self.assertEqual(inclusion()[:2], ("Clock/fern", 1))
            self.assertEqual(error_of(daemon.call, "pieces", "Inclusions", "s", "Moon")[0], "NotFound")
            self.assertIn("is not known to be dry", warnings()[0])

    def test_a_photo_is_attached_to_a_layer(self):
        jpeg = b"\xff\xd8\xff\xe0" + b"ferns and sea glass" * 1000
        with Station() as daemon:
            daemon.start()
            daemon.write("layout.txt", "a letter")
            with open(daemon.path("layout.jpg"), "wb") as file:
                file.write(jpeg)
            daemon.call("pieces", "Keep", "s", PIECE.replace(
                "room_degc", 'inclusions = ( { name = "glass"; rests_on = "floor"; height_mm = 2.0; volume_ml = 1.0; '
                'heat_limit_degc = 200.0; } ); room_degc'))

            def layout():
                return [row for row in daemon.call("pieces", "Checks", "s", "Clock")
                        if row["Check"] == "layout-photo"]
            self.assertFalse(layout()[0]["Done"])
            out = ambo("piece", "photo", "Clock", daemon.path("layout.txt"))
            self.assertEqual(out.returncode, 1)
            self.assertIn("expected a JPEG or PNG file", out.stderr)
            out = ambo("piece", "photo", "Clock", daemon.path("layout.jpg"))
            self.assertEqual((out.returncode, out.stderr), (0, ""))
            self.assertTrue(layout()[0]["Done"])
            os.unlink(daemon.path("layout.jpg"))  # the station has its own
            # A copy that was never finished, as a power cut leaves it.
            daemon.kill()
            daemon.write("ambo.db.photos/unfinished", "half")
            daemon.start()
            self.assertEqual(len(os.listdir(daemon.path("ambo.db.photos"))), 1)
            row, = daemon.call("pieces", "Photos", "s", "Clock")
            self.assertEqual((int(row["Layer"]), str(row["Kind"]), int(row["Bytes"])),
                             (1, "jpeg", len(jpeg)))
            self.assertEqual(str(row["Sha256"]), hashlib.sha256(jpeg).hexdigest())
            self.assertIn("Photo 1, layer 1, jpeg", ambo("piece", "photos", "Clock").stdout)
            back = daemon.path("back.jpg")
            self.assertEqual(ambo("piece", "photo", "--save", 1, back).returncode, 0)
            with open(back, "rb") as file:
                self.assertEqual(file.read(), jpeg)
            self.assertEqual(ambo("piece", "photo", "--save", 1, back).returncode, 1)  # never over it
            self.assertEqual(error_of(daemon.call, "pieces", "Photo", "x", 99)[0], "NotFound")
            stored, = os.listdir(daemon.path("ambo.db.photos"))
            with open(daemon.path("ambo.db.photos", stored), "ab") as file:
                file.write(b"x")
            self.assertEqual(error_of(daemon.call, "pieces", "Photo", "x", 1)[0], "StoreFailed")
            pour(daemon)
            self.assertEqual(layout(), [])  # once, before the first weighing
            daemon.call("pieces", "RemovePhoto", "x", 1)
            self.assertEqual(os.listdir(daemon.path("ambo.db.photos")), [])

    def test_checks_come_at_their_time(self):
        taped = PIECE.replace('{ name = "body"; }', '{ name = "body"; edge_tape = true; }')

        def due(daemon, layer):
            return {str(r["Check"]) for r in daemon.call("pieces", "Checks", "s", "Clock")
                    if int(r["Layer"]) == layer and r["Due"]}

        with Station() as daemon:
            daemon.start()
            heard = daemon.listen()
            daemon.call("pieces", "Keep", "s", taped)
            self.assertLessEqual({"clean", "leak-test", "level", "edge-tape-on"}, due(daemon, 1))
            self.assertNotIn("bubbles", due(daemon, 1))
            pour(daemon)
            self.assertEqual(due(daemon, 1), {"bubbles", "cover"})
            rows = daemon.call("pieces", "Checks", "s", "Clock")
            self.assertFalse([r for r in rows if int(r["Layer"]) == 2 and r["Due"]])
            self.assertIn("edge-tape-off", {event for _, event in clocks(daemon)})
            # Ten hours later, while the station was off: gelled, and perhaps not yet hard.
            daemon.kill()
            with sqlite3.connect(daemon.path("ambo.db")) as db:
                db.execute("UPDATE pour SET boottime_us = boottime_us - 36000000000,"
                           " realtime_us = realtime_us - 36000000000")
            daemon.start()
            until("the tape", lambda: (1, "edge-tape-off") in heard)
            row = clocks(daemon)[1, "edge-tape-off"]
            self.assertTrue(row["Told"])
            closes = clocks(daemon).get((1, "bond-closes"))
            if closes is None or not closes["Told"]:
                self.assertEqual(due(daemon, 1), {"edge-tape-off"})
            self.assertIn("edge tape off now", ambo("clocks").stdout)
            self.assertIn("[ ] Layer 2", ambo("piece", "checks", "Clock").stdout)

    def test_moist_air_is_warned_of_where_a_sensor_is(self):
        with Station() as daemon:
            for name, thousandths in (("air", 22000), ("humidity", 90000)):
                daemon.write(name, "%d\n" % thousandths)
            with open(daemon.path("ambo.conf"), "a") as file:
                file.write('sensors: { air_temperature = "%s"; air_humidity = "%s"; every_s = 0.2; };'
                           % (daemon.path("air"), daemon.path("humidity")))
            daemon.start()
            until("the humidity", lambda: "AirHumidityPercent" in daemon.get("scale", "Sensors"))
            daemon.call("pieces", "Keep", "s", PIECE)
            _, warnings = daemon.call("pieces", "Plan", "sa{sv}", "Clock", what_if())
            self.assertTrue([w for w in warnings if "too humid to pour, 90 %" in w])
            check, = [str(r["Sentence"]) for r in daemon.call("pieces", "Checks", "s", "Clock")
                      if r["Check"] == "air"]
            # 22 C at 90 %: within 3 K of the dew point, 20.3 C (Magnus).
            self.assertIn("its dew point is 20.3 C: water would settle", check)
            daemon.write("humidity", "40000\n")
            until("drier air", lambda: daemon.get("scale", "Sensors").get("AirHumidityPercent") == 40.0)
            self.assertFalse([r for r in daemon.call("pieces", "Checks", "s", "Clock")
                              if r["Check"] == "air"])

    def test_a_deleted_piece_leaves_its_batches(self):
        with Station() as daemon:
            daemon.start()
            daemon.call("pieces", "Keep", "s", PIECE)
            daemon.call("pieces", "Keep", "s", PIECE.replace("Clock", "Bowl"))
            daemon.begin(TotalGrams=100.0, Piece="Clock", Layer="1")
            Hands(daemon).mix()
            until("the layer", lambda: list(daemon.call("pieces", "Layers", "s", "Clock")))
            daemon.call("pieces", "Pour", "sxa{sv}", "Bowl", 1,
                        dbus.Dictionary({"AGrams": 100.0, "BGrams": 45.0}, signature="sv"))
            self.assertEqual(ambo("piece", "delete", "Clock").returncode, 2)  # nobody to ask
            out = ambo("piece", "delete", "Clock", "--yes")
            self.assertEqual((out.returncode, out.stderr), (0, ""))
            self.assertEqual([str(r["Name"]) for r in daemon.call("pieces", "List", "")], ["Bowl"])
            self.assertEqual({str(r["Piece"]) for r in daemon.get("pieces", "Clocks")}, {"Bowl"})
            self.assertEqual(error_of(daemon.call, "pieces", "Delete", "s", "Clock")[0], "NotFound")
            daemon.kill()
            daemon.start()
            self.assertEqual([str(r["Name"]) for r in daemon.call("pieces", "List", "")], ["Bowl"])
            self.assertEqual(len(daemon.call("records", "List", "xu", 0, 10)[0]), 1)
            self.assertEqual(tuple(map(int, daemon.call("records", "Verify", ""))), (1, 0))
            # The name is free, and the old batch is none of the new piece's.
            daemon.call("pieces", "Keep", "s", PIECE)
            self.assertEqual(list(daemon.call("pieces", "Layers", "s", "Clock")), [])

    def test_the_resin_may_be_told_in_a_word(self):
        with Station(keep=5) as daemon:
            daemon.start()
            daemon.call("pieces", "SetRoom", "d", 24.0)
            self.assertEqual(error_of(daemon.begin, Resin="lukewarm")[0], "BadRequest")
            self.assertEqual(error_of(daemon.begin, Resin="cool", ResinCelsius=30.0)[0],
                             "BadRequest")
            for word, degc in (("cool", "19"), ("room", "24")):
                batch, _ = daemon.begin(TotalGrams=100.0, Resin=word)
                daemon.call("batch", "Discard", "x", 0)
                until("the end", lambda: str(daemon.get("batch", "Step")) == "discarded")
                with open(daemon.path("ambo.db.inputs", str(batch), "presses.csv")) as file:
                    self.assertIn("resin_degc=%s" % degc, file.read())

    def test_a_layer_poured_deeper_still_carries_what_rests_on_it(self):
        with Station() as daemon:
            daemon.start()
            daemon.call("pieces", "Keep", "s", PIECE.replace(
                '{ name = "body"; }', '{ name = "base"; depth_mm = 3.0; }, { name = "body"; }').replace(
                "room_degc", 'inclusions = ( { name = "fern"; rests_on = "base"; height_mm = 1.0; '
                'volume_ml = 1.0; } ); room_degc'))
            pour(daemon)  # 145 g less 5 are 4 mm and not 3
            layer, = daemon.call("pieces", "Layers", "s", "Clock")
            self.assertGreater(float(layer["DepthMillimetres"]), 3.5)
            plan, warnings = daemon.call("pieces", "Plan", "sa{sv}", "Clock", what_if())
            self.assertTrue([w for w in warnings if '"fern" is not known to be dry' in w])
            self.assertIn("inclusions-dry", {str(r["Check"]) for r in
                                             daemon.call("pieces", "Checks", "s", "Clock")})

    def test_a_batch_for_a_layer_that_cannot_be_is_refused_before_weighing(self):
        with Station() as daemon:
            daemon.start()
            daemon.call("pieces", "Keep", "s", PIECE)
            name, why = error_of(daemon.begin, TotalGrams=100.0, Piece="Clock", Layer="3")
            self.assertEqual(name, "Refused")
            self.assertIn("Layer 3 cannot be poured now: the last one is 0", why)
            daemon.call("pieces", "Finish", "s", "Clock")
            self.assertIn("is finished", error_of(daemon.begin, TotalGrams=100.0, Piece="Clock")[1])

    def test_a_batch_for_a_layer_whose_time_has_not_come_says_so(self):
        with Station() as daemon:
            daemon.start()
            daemon.call("pieces", "Keep", "s", PIECE)

            def begin(**more):
                warning = str(daemon.begin(TotalGrams=100.0, **more)[1])
                daemon.call("batch", "Discard", "x", 0)
                until("the end", lambda: str(daemon.get("batch", "Step")) == "discarded")
                return warning

            early = "The layer below is ready in "
            self.assertNotIn(early, begin(Piece="Clock", Layer="1"))
            pour(daemon)
            self.assertIn(early, begin(Piece="Clock", Layer="2"))
            self.assertIn(early, begin(Piece="Clock"))
            # More of the same layer, or for something else.
            self.assertNotIn(early, begin(Piece="Clock", Layer="1"))
            self.assertNotIn(early, begin(Piece="Something", Layer="2"))

    def test_again_asks_the_layer_too(self):
        with Station() as daemon:
            daemon.start()
            daemon.call("pieces", "Keep", "s", PIECE)
            daemon.begin(TotalGrams=100.0, Piece="Clock", Layer="1")

            def end():
                daemon.call("batch", "Discard", "x", 0)
                until("the end", lambda: str(daemon.get("batch", "Step")) == "discarded")

            end()
            second, _ = daemon.call("batch", "Again", "")
            end()
            pour(daemon)
            pour(daemon)
            name, why = error_of(daemon.call, "batch", "Again", "")
            self.assertEqual(name, "Refused")
            self.assertIn("Layer 1 cannot be poured now: the last one is 2", why)
            daemon.call("pieces", "Finish", "s", "Clock")
            self.assertIn("is finished", error_of(daemon.call, "batch", "Again", "")[1])
            self.assertEqual(int(daemon.get("batch", "Id")), int(second))
            self.assertEqual(str(daemon.get("batch", "Step")), "discarded")

    def test_drying_weighings_come_to_a_verdict(self):
        with Station() as daemon:
            daemon.start()
            daemon.call("pieces", "Dry", "sd", "roses", 12.5)
            daemon.kill()
            daemon.start()
            row = daemon.call("pieces", "Drying", "s", "roses")
            self.assertEqual((int(row["Weighings"]), float(row["LastGrams"])), (1, 12.5))
            self.assertNotIn("DryInSeconds", row)
            self.assertEqual(int(daemon.call("pieces", "Drying", "s", "none")["Weighings"]), 0)

    def test_the_terminal_says_the_same(self):
        run = ambo
        with Station() as daemon:
            daemon.start()
            daemon.write("clock.conf", PIECE)
            self.assertEqual(run("piece", "new", daemon.path("clock.conf")).stdout, "Clock is kept.\n")
            asked = run("piece", "new", text="Bowl\ntidepool-clear\nround\n150\n10\n\n\n\n\n\nn\n"
                                             "\n\n\n\n")
            self.assertEqual((asked.returncode, asked.stderr), (0, ""))
            self.assertIn("Bowl is kept.", asked.stdout)
            self.assertEqual(run("piece", "new", text="Bowl\n").returncode, 1)
            small = PIECE.replace("200", "20").replace("12", "1.2").replace("Clock", "Small")
            daemon.write("small.conf", small)
            out = run("piece", "new", daemon.path("small.conf"))
            self.assertEqual(out.returncode, 1)
            self.assertIn("centimetres", out.stderr)
            self.assertEqual(run("piece", "poured", "Clock", "--a", "100", "--b", "45").returncode, 0)
            self.assertIn("Clock: 1 layer(s)", run("piece", "list").stdout)
            self.assertIn("Layer 1, tidepool-clear", run("piece", "show", "Clock").stdout)
            self.assertIn("Clock, layer 1: it has gelled", run("clocks").stdout)
            self.assertIn("Layer 2, body", run("piece", "plan", "Clock").stdout)
            self.assertEqual(run("piece", "show", "No").returncode, 1)


if __name__ == "__main__":
    main()
