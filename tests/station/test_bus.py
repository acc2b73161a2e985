# SPDX-License-Identifier: MIT
"""The bus of a live station: what it offers, and what it refuses."""
import os
import subprocess
import threading
import unittest
import xml.etree.ElementTree

import dbus

from ambo_bus import TOP, WAIT_S, Daemon, connect, error_of, main, until


def shape(root):
    """Interfaces, members, types and directions, without the order."""
    rows = set()
    for interface in root.iter("interface"):
        name = interface.get("name")
        if not name.startswith("org.ambo."):
            continue
        for member in interface:
            if member.tag == "annotation":
                continue
            default = "in" if member.tag == "method" else None
            args = tuple((arg.get("name"), arg.get("type"), arg.get("direction", default))
                         for arg in member.iter("arg"))
            rows.add((name, member.tag, member.get("name"), member.get("type"),
                      member.get("access"), args))
    return rows


class Bus(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.daemon = Daemon().start()

    @classmethod
    def tearDownClass(cls):
        cls.daemon.close()

    def setUp(self):
        if int(self.daemon.get("batch", "Id")) and self.daemon.get("batch", "Step") not in (
                "done", "discarded"):
            self.daemon.call("batch", "Discard", "x", 0)
            until("the batch to be discarded",
                  lambda: self.daemon.get("batch", "Step") == "discarded")

    def test_introspection_equals_the_committed_description(self):
        live = set()
        for name in ("scale", "batch", "records", "pieces", "bench"):
            text = self.daemon.bus.call_blocking(
                "org.ambo.Station", "/org/ambo/" + name, "org.freedesktop.DBus.Introspectable",
                "Introspect", "", ())
            live |= shape(xml.etree.ElementTree.fromstring(text))
        path = os.path.join(TOP, "daemon/station/introspection/org.ambo.Station.xml")
        committed = shape(xml.etree.ElementTree.parse(path).getroot())
        self.assertGreater(len(committed), 40)
        self.assertEqual(live - committed, set())
        self.assertEqual(committed - live, set())

    def test_readings_come_in_sequence_with_known_quantities_only(self):
        got = []
        match = self.daemon.bus.add_signal_receiver(
            lambda *args: got.append(args), "Reading", "org.ambo.Scale1")
        until("thirty readings", lambda: len(got) > 30)
        match.remove()
        sequences = [int(args[0]) for args in got]
        times = [int(args[1]) for args in got]
        self.assertEqual(sequences, sorted(set(sequences)))
        self.assertEqual(times, sorted(times))
        for _, _, state, quantities, cue in got:
            self.assertIn(state, ("unsettled", "provisional", "settled"))
            self.assertEqual(cue, "none")
            self.assertNotIn("RemainingGrams", quantities)
            for key in quantities:
                self.assertRegex(key, "^(Net|Gross|Doubt|Predicted)Grams$|^RateGramsPerSecond$")

    def test_weigh_answers_when_the_pan_has_settled(self):
        self.daemon.act("object", 100.0)
        until("the object", lambda: self.daemon.get("scale", "Quantities")
              .get("NetGrams", 0.0) > 99.0)
        net, doubt = self.daemon.call("scale", "Weigh", "")
        self.assertLess(abs(net - 100.0), 0.5)
        self.assertGreater(doubt, 0.0)
        self.daemon.call("scale", "Tare", "")
        net, _ = self.daemon.call("scale", "Weigh", "")
        self.assertLess(abs(net), 0.5)
        self.daemon.call("scale", "ClearTare", "")
        self.daemon.act("object", -100.0)
        until("the empty pan", lambda: self.daemon.get("scale", "Quantities")
              .get("NetGrams", 100.0) < 1.0)

    def test_a_zero_is_refused_while_a_batch_is_open_and_outside_its_range(self):
        self.daemon.act("object", 2000.0)
        until("the object", lambda: self.daemon.get("scale", "Quantities")
              .get("GrossGrams", 0.0) > 1999.0)
        until("it to settle", lambda: self.daemon.get("scale", "State") == "settled")
        self.assertEqual(error_of(self.daemon.call, "scale", "Zero", "")[0], "OutOfRange")
        self.daemon.act("object", -2000.0)
        until("the empty pan", lambda: self.daemon.get("scale", "Quantities")
              .get("GrossGrams", 100.0) < 1.0)
        self.daemon.begin()
        self.assertEqual(error_of(self.daemon.call, "scale", "Zero", "")[0], "PanTaken")

    def test_a_request_that_cannot_be_meant_is_refused_and_leaves_no_batch(self):
        nan, inf = float("nan"), float("inf")
        before = int(self.daemon.get("batch", "Id"))
        for request, name, says in (
                ({"TotalGrams": nan}, "BadRequest", "TotalGrams is"),
                ({"TotalGrams": inf}, "BadRequest", "TotalGrams is inf"),
                ({"TotalGrams": 1e300}, "BadRequest", "TotalGrams is 1e\\+300"),
                ({"TotalGrams": -5.0}, "BadRequest", "TotalGrams is -5"),
                ({"TotalGrams": "much"}, "BadRequest", "TotalGrams has the type 's'"),
                ({"TotalGrams": dbus.Int32(5)}, "BadRequest", "type 'i'"),
                ({"TotlGrams": 5.0}, "BadRequest", "perhaps \"TotalGrams\""),
                ({"Piece": "x" * 200}, "BadRequest", "Piece has 200 bytes"),
                ({"Piece": "a\nb"}, "BadRequest", "control character"),
                ({"TintPercent": 101.0}, "BadRequest", "TintPercent is 101"),
                ({"System": ""}, "BadRequest", "System is missing"),
                ({"System": "no-such"}, "UnknownSystem", "no-such"),
                ({"TotalGrams": 0.5}, "Refused", "[0-9]"),
                ({"TotalGrams": 20000.0}, "Refused", "[0-9]"),
                ({"CupLimitGrams": 100.0}, "Refused", "[0-9]")):
            error, sentence = error_of(self.daemon.begin, **request)
            self.assertEqual(error, name, request)
            self.assertRegex(sentence, says)
        self.assertEqual(int(self.daemon.get("batch", "Id")), before)

    def test_wrong_types_and_unknown_methods_are_refused(self):
        for name, method, signature, args in (
                ("batch", "Press", "s", ("0",)), ("batch", "Press", "", ()),
                ("batch", "NoSuch", "", ()), ("bench", "Act", "s", ("cup",)),
                ("records", "List", "x", (0,))):
            error, _ = error_of(self.daemon.call, name, method, signature, *args)
            self.assertRegex(error, "InvalidArgs|UnknownMethod")

    def test_what_the_bench_cannot_do_is_refused(self):
        for verb, amount in (("dance", 1.0), ("cup", float("nan")), ("cup", -5.0)):
            self.assertEqual(error_of(self.daemon.act, verb, amount)[0], "BadRequest")

    def test_a_press_that_means_nothing_and_a_batch_that_is_not_are_told(self):
        self.assertEqual(error_of(self.daemon.call, "batch", "Press", "x", 987654)[0], "NoBatch")
        batch, _ = self.daemon.begin()
        self.assertEqual(error_of(self.daemon.begin)[0], "PanTaken")
        name, sentence = error_of(self.daemon.call, "batch", "OtherPart", "x", batch)
        self.assertEqual(name, "NotNow")
        self.assertIn("could be the other part", sentence)
        self.daemon.press()
        until("the cup to be asked for",
              lambda: str(self.daemon.get("batch", "Message")) == "place-cup")
        name, sentence = error_of(self.daemon.press)
        self.assertEqual(name, "NotNow")
        self.assertIn("Put the cup on the pan", sentence)
        self.daemon.call("batch", "Discard", "x", batch)
        until("the end", lambda: self.daemon.get("batch", "Step") == "discarded")
        self.assertEqual(error_of(self.daemon.call, "batch", "Press", "x", batch)[0], "Finished")

    def test_a_division_is_refused_before_there_is_anything_to_divide(self):
        batch, _ = self.daemon.begin()
        for mass, tint in ((80.0, 0.0), (float("nan"), 0.0), (-1.0, 0.0), (80.0, float("inf"))):
            error, _ = error_of(self.daemon.call, "batch", "Divide", "xdds", batch, mass, tint, "")
            self.assertIn(error, ("Refused", "BadRequest"))

    def test_records_are_paged_within_their_limits(self):
        for cursor, limit in ((0, 0), (0, 501), (-1, 10)):
            self.assertEqual(
                error_of(self.daemon.call, "records", "List", "xu", cursor, limit)[0],
                "BadRequest")
        self.assertEqual(error_of(self.daemon.call, "records", "Get", "x", 987654)[0], "NotFound")
        for _ in range(3):
            batch, _ = self.daemon.begin()
            self.daemon.call("batch", "Discard", "x", batch)
            until("the end", lambda: self.daemon.get("batch", "Step") == "discarded")
        cursor, ids = 0, []
        for _ in range(1000):
            rows, cursor = self.daemon.call("records", "List", "xu", cursor, 2)
            ids += [int(row["Id"]) for row in rows]
            if not cursor:
                break
        self.assertEqual(ids, sorted(set(ids), reverse=True))
        self.assertGreaterEqual(len(ids), 3)
        row, steps = self.daemon.call("records", "Get", "x", ids[0])
        self.assertEqual(str(row["Step"]), "discarded")
        self.assertEqual([int(step["Sequence"]) for step in steps],
                         list(range(1, len(steps) + 1)))
        links, bad = self.daemon.call("records", "Verify", "")
        self.assertGreaterEqual(int(links), 3)
        self.assertEqual(int(bad), 0)

    def test_an_export_reaches_a_file_a_pipe_and_dev_null(self):
        batch, _ = self.daemon.begin()
        self.daemon.call("batch", "Discard", "x", batch)
        until("the end", lambda: self.daemon.get("batch", "Step") == "discarded")
        text = self.daemon.canonical(batch)
        self.assertTrue(text.startswith(b"{"))
        self.assertEqual(self.daemon.canonical(batch, "curve").splitlines()[0], b"t_us,gross_g")
        read_end, write_end = os.pipe()
        got = []
        reader = threading.Thread(target=lambda: got.append(os.read(read_end, 1 << 20)))
        reader.start()
        self.daemon.call("records", "Export", "xsh", batch, "canonical",
                         dbus.types.UnixFd(write_end))
        os.close(write_end)
        reader.join(WAIT_S)
        os.close(read_end)
        self.assertEqual(got, [text])
        with open("/dev/null", "wb") as null:
            self.daemon.call("records", "Export", "xsh", batch, "canonical",
                             dbus.types.UnixFd(null.fileno()))
        self.assertEqual(error_of(self.daemon.canonical, 987654)[0], "NotFound")
        self.assertEqual(error_of(self.daemon.canonical, batch, "poetry")[0], "BadRequest")
        with open(os.path.join(TOP, "LICENSE"), "rb") as unwritable:
            error, _ = error_of(self.daemon.call, "records", "Export", "xsh", batch, "canonical",
                                dbus.types.UnixFd(unwritable.fileno()))
            self.assertEqual(error, "WriteFailed")

    def test_a_pipe_nobody_reads_holds_up_nobody(self):
        batch, _ = self.daemon.begin()
        self.daemon.call("batch", "Discard", "x", batch)
        read_end, write_end = os.pipe()
        os.set_blocking(write_end, False)
        while True:
            try:
                os.write(write_end, b"x" * 4096)
            except BlockingIOError:
                break
        os.set_blocking(write_end, True)  # a write to it now would wait for ever
        pending = self.daemon.object("records").Export
        pending(dbus.Int64(batch), "canonical", dbus.types.UnixFd(write_end),
                dbus_interface="org.ambo.Records1", reply_handler=lambda *_: None,
                error_handler=lambda *_: None)
        again, _ = self.daemon.begin()
        self.assertGreater(again, batch)
        os.close(write_end)
        os.close(read_end)

    def test_a_flood_leaves_the_batch_unmoved_and_others_served(self):
        batch, _ = self.daemon.begin()
        before = (str(self.daemon.get("batch", "Step")), str(self.daemon.get("batch", "Message")))
        flood = connect()
        answers = {"ok": 0, "refused": 0}

        def ok(*_):
            answers["ok"] += 1

        def refused(*_):
            answers["refused"] += 1
        records = flood.get_object("org.ambo.Station", "/org/ambo/records", introspect=False)
        bench = flood.get_object("org.ambo.Station", "/org/ambo/bench", introspect=False)
        for _ in range(300):
            records.List(dbus.Int64(0), dbus.UInt32(500), dbus_interface="org.ambo.Records1",
                         reply_handler=ok, error_handler=refused)
            bench.Act("dance", 1.0, dbus_interface="org.ambo.Bench1", reply_handler=ok,
                      error_handler=refused)
        self.assertGreater(len(self.daemon.all("batch")), 10)  # served in between
        until("an answer to each", lambda: answers["ok"] + answers["refused"] == 600)
        self.assertGreaterEqual(answers["refused"], 300)
        self.assertGreaterEqual(answers["ok"], 1)
        flood.close()
        self.assertEqual((str(self.daemon.get("batch", "Step")),
                          str(self.daemon.get("batch", "Message"))), before)
        self.assertEqual(int(self.daemon.get("batch", "Id")), batch)
        self.assertEqual(self.daemon.log(), "")

    def test_clients_that_leave_in_mid_call_change_nothing(self):
        self.daemon.act("unplug")  # so that no Weigh can be answered
        until("the silence", lambda: self.daemon.get("scale", "Condition") == "silent")
        clients = [subprocess.Popen(["busctl", "--user", "call", "org.ambo.Station",
                                     "/org/ambo/scale", "org.ambo.Scale1", "Weigh"],
                                    stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
                   for _ in range(20)]
        # Some are in mid-call, some have not called yet: any of it must do.
        until("twenty clients", lambda: len(self.daemon.bus.list_names()) >= 15)
        for client in clients:
            client.kill()
            client.wait(WAIT_S)
        self.daemon.act("plug")
        until("the scale to settle again",
              lambda: self.daemon.get("scale", "State") == "settled")
        self.daemon.call("scale", "Weigh", "")
        self.assertIsNone(self.daemon.process.poll())

    def test_properties_change_at_most_five_times_a_second(self):
        # Counts only: between n changes lie at least (n - 1) fifths of a second, in
        # which the readings that came tell the time.
        changes, readings = [], []
        bus = self.daemon.bus
        first = bus.add_signal_receiver(lambda *_: changes.append(len(readings)),
                                        "PropertiesChanged", path="/org/ambo/scale")
        second = bus.add_signal_receiver(lambda *args: readings.append(int(args[1])), "Reading")
        until("ten changes", lambda: len(changes) >= 10)
        first.remove()
        second.remove()
        # The bench runs at 8 times: a fifth of a second is 1.6 s of its time.
        passed_us = readings[-1] - readings[0]
        self.assertGreater(passed_us, 8 * 500000)


if __name__ == "__main__":
    main()
