# SPDX-License-Identifier: MIT
"""A recorded batch, played again through the daemon, gives the same record.

tests/data/station holds one batch of the simulated bench: trace.csv, presses.csv and
the canonical record. AMBO_GOLDEN=write makes them anew; why they changed belongs in
the commit.
"""
import json
import os
import re
import shutil
import unittest

from ambo_bus import TOP, WAIT_S, Daemon, Hands, main, until

GOLDEN = os.path.join(TOP, "tests", "data", "station")
RATE = 10.0


def simulated(bench="", **more):
    options = ('seed = 11; rate_hz = %g; speed = 10.0; noise_g = 0.02; '
               'warm_up_counts_per_s = 0.0; corrupt_ratio = 0.002; %s' % (RATE, bench))
    return Daemon(options=options, rate=RATE, noise=0.02, **more)


def replay(folder, speed, **more):
    return Daemon("replay", 'file = "%s/trace.csv"; presses = "%s/presses.csv"; speed = %g;'
                  % (folder, folder, speed), rate=RATE, noise=0.02, **more)


def record_of(daemon):
    """The canonical record after the trace has ended."""
    until("the end of the trace", lambda: daemon.get("scale", "Condition") == "ended")
    batch = int(daemon.get("batch", "Id"))
    if not batch:
        raise AssertionError("no batch began:\n" + daemon.log())
    return daemon.canonical(batch)


def write_golden():
    with simulated(keep=3) as daemon:
        daemon.start()
        hands = Hands(daemon)
        daemon.begin(TotalGrams=160.0, TintPercent=1.0, TintLabel="sea blue")
        hands.mix()
        batch = int(daemon.get("batch", "Id"))
        text = daemon.canonical(batch)
        daemon.stop()
        os.makedirs(GOLDEN, exist_ok=True)
        kept = daemon.path("ambo.db.inputs", str(batch))
        shutil.copy(os.path.join(kept, "trace.csv"), GOLDEN)
        with open(os.path.join(kept, "presses.csv")) as file:
            presses = file.read()
        with open(os.path.join(GOLDEN, "presses.csv"), "w") as file:
            file.write(re.sub(r" state=\S+", "", presses))  # the recipe is made anew
        with open(os.path.join(GOLDEN, "canonical.json"), "wb") as file:
            file.write(text)
        print(hands.seen)


def golden():
    with open(os.path.join(GOLDEN, "canonical.json"), "rb") as file:
        return file.read()


def close(got, wanted, key=""):
    """Equal in every step, time and word, masses within 1 mg: what is promised across
    machines, whose libm differ in the last bit. What is derived from masses follows."""
    if isinstance(wanted, dict):
        return (isinstance(got, dict) and list(got) == list(wanted) and
                all(close(got[name], wanted[name], name) for name in wanted))
    if isinstance(wanted, list):
        return len(got) == len(wanted) and all(map(close, got, wanted, [key] * len(got)))
    if type(wanted) is int and key.endswith("_ug"):
        return type(got) is int and abs(got - wanted) <= 1000
    if type(wanted) is int and key.endswith("_e6"):
        return type(got) is int and abs(got - wanted) <= 2000
    return type(got) is type(wanted) and got == wanted


class Replay(unittest.TestCase):
    maxDiff = 4000

    def assertGolden(self, text):
        self.assertTrue(close(json.loads(text), json.loads(golden())),
                        "%s\nis not\n%s" % (text, golden()))

    def test_closeness_is_not_given_away(self):
        wanted = json.loads(golden())
        self.assertTrue(close(json.loads(golden()), wanted))
        for path, value in ((("verdict",), "outside"), (("step",), "discarded"),
                            (("afterwards", "life_start_us"), 0),
                            (("dispenses", 0, "mass_ug"),
                             wanted["dispenses"][0]["mass_ug"] + 1001)):
            other = json.loads(golden())
            inside = other
            for name in path[:-1]:
                inside = inside[name]
            inside[path[-1]] = value
            self.assertFalse(close(other, wanted), path)

    def test_the_golden_batch_ten_times_as_fast_as_it_can_and_at_another_speed(self):
        texts = set()
        for speed in [0] * 10 + [4]:
            with replay(GOLDEN, speed) as daemon:
                texts.add(record_of(daemon.start()))
                self.assertEqual(daemon.log(), "")
        # On one machine to the byte, whatever the speed.
        self.assertEqual(len(texts), 1, texts)
        self.assertGolden(texts.pop())

    def test_the_golden_batch_is_finished_and_within(self):
        record = json.loads(golden())
        self.assertEqual(record["step"], "done")
        self.assertEqual(record["verdict"], "within")

    def test_a_live_batch_and_its_kept_inputs_give_the_same_record(self):
        with simulated(keep=3) as live:
            live.start()
            live.begin(TotalGrams=120.0, Piece="fern, upper half", Layer="2 = clear")
            Hands(live).mix()
            batch = int(live.get("batch", "Id"))
            text = live.canonical(batch)
            self.assertEqual(json.loads(text)["step"], "done")
            live.stop()
            with replay(live.path("ambo.db.inputs", str(batch)), 0) as again:
                self.assertEqual(record_of(again.start()), text)

    def assertReplays(self, live, texts):
        """Each batch's kept inputs, alone, give the record that it has, to the byte."""
        live.stop()
        for batch, text in texts.items():
            with replay(live.path("ambo.db.inputs", str(batch)), 0) as again:
                self.assertEqual(record_of(again.start()), text, batch)
                self.assertEqual(again.log(), "")

    def mix_until(self, daemon, hands, step):
        def there():
            if str(daemon.get("batch", "Step")) == step:
                return True
            hands.look()
            return False
        until(step, there)

    def press_until_finished(self, daemon, batch):
        def finished():
            if batch not in [int(row["Id"]) for row in daemon.get("batch", "Open")]:
                return True
            try:
                daemon.call("batch", "Press", "x", batch)
            except Exception as error:
                self.assertTrue(error.get_dbus_name().endswith((".NotNow", ".Busy")), error)
            return False
        until("the end of batch %d" % batch, finished)

    def test_a_divided_batch_and_its_parent_replay_each_alone(self):
        with simulated(keep=20) as live:
            live.start()
            parent, _ = live.begin(TotalGrams=160.0)
            self.mix_until(live, Hands(live), "pour")
            children = []
            for mass in (60.0, 40.0):
                children.append(int(live.call("batch", "Divide", "xdds", parent, mass, 1.0, "sand")))
                Hands(live).mix()
            self.press_until_finished(live, parent)
            texts = {batch: live.canonical(batch) for batch in [parent] + children}
            record = json.loads(texts[parent])
            self.assertEqual(record["step"], "done")
            self.assertAlmostEqual(record["afterwards"]["given_ug"] * 1e-6, 100.0, delta=4.0)
            self.assertReplays(live, texts)

    def test_two_batches_at_once_replay_each_alone(self):
        with simulated(keep=20) as live:
            live.start()
            first, _ = live.begin(TotalGrams=160.0)
            self.mix_until(live, Hands(live), "stir")
            until("the pan to have been read", lambda: not live.get("batch", "Provisional"))
            second, _ = live.begin(TotalGrams=120.0)
            Hands(live).mix()
            live.call("batch", "Press", "x", first)
            until("the first to be shown", lambda: str(live.get("batch", "Step")) == "pour")
            live.act("cup", 53.5)  # emptied, weighed back
            until("the first to be done", lambda: not live.get("batch", "Open"))
            record = json.loads(live.canonical(first))
            self.assertAlmostEqual(record["afterwards"]["stayed_ug"] * 1e-6, 1.5, delta=0.5)
            self.assertReplays(live, {batch: live.canonical(batch) for batch in (first, second)})

    def test_a_batch_that_outlived_its_station_replays_from_where_it_went_on(self):
        with simulated(keep=20, bench='state = "bench";') as live:
            live.start()
            batch, _ = live.begin(TotalGrams=160.0)
            hands = Hands(live)
            for _ in range(2):
                until("some resin", lambda: hands.look() or live.get("batch", "Quantities").get(
                    "DispensedGrams", 0.0) > 20.0)
                live.kill()  # in mid-pour
                live.start()
                until("the batch to go on", lambda: int(live.get("batch", "Id")) == batch)
                hands.stop()
                hands.bottle = None
            hands.mix()
            texts = {batch: live.canonical(batch)}
            self.assertEqual(json.loads(texts[batch])["step"], "done")
            self.assertReplays(live, texts)
            kept = os.listdir(live.path("ambo.db.inputs", str(batch)))
            for name in ("trace.csv", "trace-1.csv", "trace-2.csv", "presses-2.csv", "state.txt",
                         "state-2.txt"):
                self.assertIn(name, kept)
            with open(live.path("ambo.db.inputs", str(batch), "presses.csv")) as file:
                rows = [line.strip().split(",")[1].split()[0] for line in file]
            self.assertEqual(rows[1:3], ["begin", "resume"])

    def rows_of(self, folder):
        with open(os.path.join(folder, "trace.csv")) as file:
            return [line.strip().split(",") for line in file if line[0] != "#"]

    def test_a_live_batch_with_corrupt_reads_and_its_kept_inputs_give_the_same_record(self):
        options = ('seed = 3; rate_hz = 80; speed = 8.0; noise_g = 0.05; '
                   'warm_up_counts_per_s = 0.0; corrupt_ratio = 0.004;')
        with Daemon(options=options, keep=3) as live:
            live.start()
            live.begin(TotalGrams=120.0)
            Hands(live).mix()
            batch = int(live.get("batch", "Id"))
            text = live.canonical(batch)
            live.stop()
            folder = live.path("ambo.db.inputs", str(batch))
            codes = [int(row[1]) for row in self.rows_of(folder)]
            jumps = [1 for before, code, after in zip(codes, codes[1:], codes[2:])
                     if min(abs(code - before), abs(code - after)) > 100000]
            self.assertGreater(len(jumps), 0)
            with Daemon("replay", 'file = "%s/trace.csv"; presses = "%s/presses.csv"; speed = 0;'
                        % (folder, folder), rate=80.0, noise=0.05) as again:
                self.assertEqual(record_of(again.start()), text)

    def test_what_a_driver_knew_to_be_corrupt_is_kept_as_such(self):
        with simulated() as other:  # a folder to write in
            for name, flag in (("void", 2), ("plain", 0)):
                os.mkdir(other.path(name))
                shutil.copy(os.path.join(GOLDEN, "presses.csv"), other.path(name))
                lines = ["# t_us,raw24,driver_flags"]
                for i, row in enumerate(self.rows_of(GOLDEN)):
                    # A second in ten believable and wrong, as no gate can tell.
                    bad = i % 100 >= 90
                    lines.append("%s,%d,%d" % (row[0], int(row[1]) + (4000 if bad else 0),
                                               flag if bad else 0))
                other.write(name + "/trace.csv", "\n".join(lines) + "\n")
            texts = []
            for name in ("void", "plain"):
                with replay(other.path(name), 0, keep=3) as first:
                    texts.append(record_of(first.start()))
                    batch = int(first.get("batch", "Id"))
                    first.stop()
                    kept = first.path("ambo.db.inputs", str(batch))
                    with replay(kept, 0) as second:
                        self.assertEqual(record_of(second.start()), texts[-1])
            self.assertNotEqual(texts[0], texts[1])

    def test_a_trace_that_the_daemon_recorded_plays_to_the_same_record(self):
        with replay(GOLDEN, 0, station='record = "copy.csv";') as first:
            first.start()
            text = record_of(first)
            self.assertGolden(text)
            first.stop()
            os.mkdir(first.path("copy"))
            shutil.copy(first.path("copy.csv"), first.path("copy", "trace.csv"))
            shutil.copy(os.path.join(GOLDEN, "presses.csv"), first.path("copy"))
            with replay(first.path("copy"), 0) as second:
                self.assertEqual(record_of(second.start()), text)

    def test_the_end_of_the_trace_ends_the_daemon_only_when_asked(self):
        with replay(GOLDEN, 0) as daemon:
            daemon.start()
            record_of(daemon)
            self.assertIsNone(daemon.process.poll())
            self.assertEqual(daemon.get("scale", "State"), "fault")
            self.assertEqual(len(daemon.get("scale", "Quantities")), 0)
            self.assertEqual(daemon.stop(), 0)
        with replay(GOLDEN, 0) as daemon:
            daemon.spawn("--exit-at-end")
            self.assertEqual(daemon.process.wait(WAIT_S), 0)
            self.assertEqual(daemon.log(), "")

    def test_presses_that_cannot_be_played_fail_an_unattended_replay(self):
        with simulated() as other:  # a folder to write in
            os.mkdir(other.path("bad"))
            shutil.copy(os.path.join(GOLDEN, "trace.csv"), other.path("bad"))
            for text, says in (("t_us,event\n5000000,dance\n", "dance"),
                               ("t_us,event\n5000000,press\n", "no batch"),
                               ("t_us,event\n5000000,begin system=no-such total_g=100\n",
                                "no-such"),
                               ("t_us,event\n5000000,hold\n4000000,hold\n", "presses.csv:3")):
                other.write("bad/presses.csv", text)
                with replay(other.path("bad"), 0) as daemon:
                    daemon.spawn("--exit-at-end")
                    self.assertEqual(daemon.process.wait(WAIT_S), 1, text)
                    self.assertIn(says, daemon.log())


if __name__ == "__main__":
    if os.environ.get("AMBO_GOLDEN") == "write":
        write_golden()
    else:
        main()
