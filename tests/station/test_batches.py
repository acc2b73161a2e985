# SPDX-License-Identifier: MIT
"""More than one batch: again, divided, two at once, over a restart with a new lot."""
import csv
import json
import os
import sqlite3
import subprocess
import unittest

import dbus

from ambo_bus import BIN, SYSTEM, Daemon, Hands, error_of, main, until


class Batches(unittest.TestCase):
    def setUp(self):
        self.daemon = Daemon()
        self.addCleanup(self.daemon.close)
        self.daemon.start()

    def open(self):
        return {int(row["Id"]): str(row["Step"]) for row in self.daemon.get("batch", "Open")}

    def until_step(self, hands, step):
        def look():
            # Looked at first: hands that are there already must not act.
            if str(self.daemon.get("batch", "Step")) == step:
                return True
            hands.look()
            return False
        try:
            until(step, look)
        except AssertionError as error:
            raise AssertionError("%s; seen: %r" % (error, hands.seen))

    def test_again_repeats_mass_labels_and_the_tint_as_weighed(self):
        self.assertEqual(error_of(self.daemon.call, "batch", "Again", "")[0], "NoBatch")
        first, _ = self.daemon.begin(TotalGrams=160.0, TintPercent=1.0, Piece="fern")
        Hands(self.daemon).mix()
        row, _ = self.daemon.call("records", "Get", "x", first)
        share = 100.0 * row["TintGrams"] / row["TotalGrams"]  # of resin and hardener
        self.assertGreater(share, 0.5)
        second, _ = self.daemon.call("batch", "Again", "")
        self.assertGreater(second, first)
        request = json.loads(self.daemon.canonical(second))["request"]
        self.assertEqual(request["total_ug"], 160000000)
        self.assertEqual(request["piece"], "fern")
        self.assertLess(abs(request["tint_pct_e6"] * 1e-6 - share), 1e-5)
        self.assertEqual(json.loads(self.daemon.canonical(second))["dispenses"], [])
        self.assertEqual(str(self.daemon.get("batch", "Step")), "ready")

    def test_a_second_batch_begins_while_the_first_is_stirred(self):
        first, _ = self.daemon.begin(TotalGrams=160.0)
        hands = Hands(self.daemon)
        self.until_step(hands, "stir")
        self.assertEqual(hands.cup, "lifted")
        until("the pan to have been read", lambda: str(self.daemon.get("batch", "Message"))
              in ("stir", "stir-unconfirmed"))
        second, _ = self.daemon.begin(TotalGrams=120.0)
        self.assertEqual(set(self.open()), {first, second})
        self.assertEqual(self.open()[first], "stir")
        self.assertEqual(int(self.daemon.get("batch", "Id")), second)
        for row in self.daemon.get("batch", "Open"):
            if int(row["Id"]) == first:
                self.assertGreater(row["WorkingLifeLeftSeconds"], 0.0)
        # A press by number reaches the one that is off the pan.
        until("the first to be stirred", lambda: self.pressed(first, "pour"))
        self.assertEqual(str(self.daemon.get("batch", "Step")), "ready" if not hands.seen else
                         self.open()[int(self.daemon.get("batch", "Id"))])
        self.daemon.call("batch", "Discard", "x", first)
        self.assertEqual(set(self.open()), {second})
        self.daemon.call("batch", "Discard", "x", second)
        links, bad = self.daemon.call("records", "Verify", "")
        self.assertEqual((int(links), int(bad)), (2, 0))

    def ask_at_once(self, *calls):
        answers = {}
        for i, (method, signature, *args) in enumerate(calls):
            def take(*answer, i=i):
                answers[i] = answer[0]
            self.daemon.bus.call_async("org.ambo.Station", "/org/ambo/batch", "org.ambo.Batch1",
                                       method, signature, args, take, take)
        until("the answers", lambda: len(answers) == len(calls))
        return [answers[i] for i in range(len(calls))]

    def test_nobody_takes_the_pan_before_it_is_read_for_the_verdict(self):
        for _ in range(5):
            first, _ = self.daemon.begin(TotalGrams=160.0)
            self.until_step(Hands(self.daemon), "stir")
            # Both questions are in the daemon's queue before it answers the first.
            answers = self.ask_at_once(("Begin", "a{sv}", dbus.Dictionary(
                {"System": "tidepool-clear", "TotalGrams": 330.0}, signature="sv")),
                ("Divide", "xdds", first, 60.0, 0.0, ""))
            if all(isinstance(answer, dbus.DBusException) for answer in answers):
                break
            # A machine so slow that the pan was read before we asked: once more.
            for batch in self.open():
                self.daemon.call("batch", "Discard", "x", batch)
            self.daemon.act("wipe")
        else:
            self.skipTest("five times the pan was read before this machine could ask")
        self.assertEqual([answer.get_dbus_name().split(".")[-1] for answer in answers],
                         ["PanTaken", "PanTaken"])
        self.assertIn("empty", answers[0].get_dbus_message())
        until("the pan to have been read", lambda: not self.daemon.get("batch", "Provisional"))
        self.daemon.begin()

    def test_a_batch_whose_pan_was_never_read_is_not_called_within_and_no_more(self):
        batch, _ = self.daemon.begin(TotalGrams=160.0)
        hands = Hands(self.daemon)

        def verdict():
            if str(self.daemon.get("batch", "Message")) == "ratio-within":
                return True
            hands.look()
            return False
        until("the verdict", verdict)
        for step in ("stir", "pour", "done"):  # by presses alone, the cup stays on the pan
            until(step, lambda: self.pressed_to(step))
        row, _ = self.daemon.call("records", "Get", "x", batch)
        self.assertEqual((str(row["Verdict"]), bool(row["Provisional"])), ("within", True))
        table = subprocess.run([os.path.join(BIN, "ambo"), "--bus", "session", "records", "--csv"],
                               capture_output=True, text=True, timeout=60).stdout
        self.assertEqual([(line["verdict"], line["provisional"])
                          for line in csv.DictReader(table.splitlines())], [("within", "true")])

    def pressed_to(self, step):
        try:
            self.daemon.press()
        except Exception as error:
            self.assertTrue(error.get_dbus_name().endswith((".NotNow", ".Finished")), error)
        return str(self.daemon.get("batch", "Step")) == step

    def pressed(self, batch, step):
        try:
            self.daemon.call("batch", "Press", "x", batch)
        except Exception as error:
            self.assertTrue(error.get_dbus_name().endswith(".NotNow"), error)
        return self.open().get(batch) == step

    def test_a_divided_batch_inherits_and_its_mass_leaves_the_parent(self):
        parent, _ = self.daemon.begin(TotalGrams=160.0)
        hands = Hands(self.daemon)
        self.until_step(hands, "pour")
        error, _ = error_of(self.daemon.call, "batch", "Divide", "xdds", parent, 500.0, 0.0, "")
        self.assertEqual(error, "Refused")
        child = int(self.daemon.call("batch", "Divide", "xdds", parent, 60.0, 0.0, ""))
        row, _ = self.daemon.call("records", "Get", "x", child)
        self.assertEqual(int(row["ParentId"]), parent)
        self.assertEqual(set(self.open()), {parent, child})
        before = json.loads(self.daemon.canonical(parent))["afterwards"]["given_ug"]
        self.assertEqual(before, 0)
        second = Hands(self.daemon)

        def poured():
            second.look()
            return self.open().get(child) not in ("ready", "cup", "charge", "held")
        until("the child's cup to be full", poured)
        self.daemon.kill()
        mixed = self.halves(parent, child)
        self.assertLess(abs(mixed - 60.0), 2.0)

    def halves(self, parent, child):
        """Each step of the child that says how much it got was committed together with
        its parent's that says how much was given: no kill can part them. Returns it."""
        db = sqlite3.connect(self.daemon.path("ambo.db"))
        rows = db.execute("SELECT boottime_us, batch_id, state FROM step"
                          " ORDER BY boottime_us").fetchall()
        db.close()
        given, mixed, changes = 0.0, 0.0, 0
        for stamp in sorted({row[0] for row in rows}):
            for state in [row[2] for row in rows if row[:2] == (stamp, parent)]:
                given = float(dict(self.fields(state))["given_g"])
            for state in [row[2] for row in rows if row[:2] == (stamp, child)]:
                before, mixed = mixed, self.mixed_g(dict(self.fields(state)))
                changes += mixed != before
            self.assertLess(abs(given - mixed), 1e-9)
        self.assertGreater(changes, 0)
        return mixed

    def fields(self, state):
        return [line.split(" ", 1) for line in state.splitlines() if " " in line]

    def mixed_g(self, fields):
        return sum(float(fields["dispense.%d.mass_g" % i])
                   for i in range(int(fields["n_dispenses"]))
                   if fields["dispense.%d.component" % i] == "mixed")

    def test_a_fifth_batch_is_refused(self):
        batch, _ = self.daemon.begin()
        # The pan is taken by one that has not even started.
        self.assertEqual(error_of(self.daemon.begin)[0], "PanTaken")
        self.daemon.call("batch", "Discard", "x", batch)
        self.assertEqual(self.open(), {})

    def test_another_lot_than_last_time_is_warned_of(self):
        _, warning = self.daemon.begin()
        self.assertEqual(warning, "")
        hands = Hands(self.daemon)
        hands.mix()
        self.daemon.stop()
        self.daemon.write("systems.d/tidepool-clear.conf", SYSTEM.replace("TB-009", "TB-010"))
        self.daemon.start()
        _, warning = self.daemon.begin()
        self.assertIn("TB-010", warning)

    def test_what_a_bottle_weighs_is_kept_for_the_next_batch(self):
        self.daemon.stop()
        self.daemon.write("systems.d/tidepool-clear.conf", SYSTEM.replace(
            'lot = "TA-014";', 'lot = "TA-014"; bottle_gross_g = 1000.0;'))
        self.daemon.start()
        batch, _ = self.daemon.begin(TotalGrams=160.0)
        Hands(self.daemon).mix()
        row, _ = self.daemon.call("records", "Get", "x", batch)
        db = sqlite3.connect(self.daemon.path("ambo.db"))
        shelf = db.execute("SELECT part, lot, gross_g FROM shelf").fetchall()
        db.close()
        self.assertEqual([entry[:2] for entry in shelf], [("a", "TA-014")])
        self.assertLess(abs(shelf[0][2] - (1000.0 - row["ResinGrams"])), 0.01)

    def test_what_is_left_of_a_part_is_minded_before_anything_is_poured(self):
        self.daemon.stop()
        self.daemon.write("systems.d/tidepool-clear.conf",
                          SYSTEM.replace('lot = "TB-009";', 'lot = "TB-009"; available_g = 40;'))
        self.daemon.start()
        error, sentence = error_of(self.daemon.begin)
        self.assertEqual(error, "Refused")
        self.assertRegex(sentence, "40")
        self.daemon.begin(TotalGrams=100.0)


if __name__ == "__main__":
    main()
