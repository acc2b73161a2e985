# SPDX-License-Identifier: MIT
"""ambod killed at any moment: the open batch goes on, nothing is lost or doubled."""
import json
import os
import random
import sqlite3
import time
import unittest

import dbus

from ambo_bus import SYSTEM, Daemon, Hands, main, until

LONG = os.environ.get("AMBO_LONG") == "1"
KILLS = 60 if LONG else 12
SEED = int(os.environ.get("AMBO_SEED", "20261125"))


def masses(text):
    """(component, identity, mass) of every charge that has ended."""
    record = json.loads(text)
    return [(row["component"], row["mass_ug"]) for row in record["dispenses"]]


class Kill(unittest.TestCase):
    def steps(self, daemon, batch):
        _, steps = daemon.call("records", "Get", "x", batch)
        return [(int(s["Sequence"]), int(s["TimeMicroseconds"]), str(s["Step"]),
                 str(s["Message"])) for s in steps]

    def test_a_batch_survives_being_killed_at_any_moment(self):
        print("seed %d, %d kills" % (SEED, KILLS), flush=True)
        chance = random.Random(SEED)
        options = ('seed = 5; rate_hz = 80; speed = 8.0; noise_g = 0.05; '
                   'warm_up_counts_per_s = 0.0; state = "bench.state";')
        with Daemon(options=options) as daemon:
            daemon.start()
            kills, batches, within = 0, 0, 0
            while kills < KILLS or batches == 0:
                batch, _ = daemon.begin(TotalGrams=160.0)
                hands = Hands(daemon)
                batches += 1
                kills += self.mix_with_kills(daemon, hands, batch, chance, KILLS - kills)
                record = json.loads(daemon.canonical(batch))
                self.assertIn(record["step"], ("done", "discarded"))
                within += record["verdict"] == "within"
                links, bad = daemon.call("records", "Verify", "")
                self.assertEqual((int(links), int(bad)), (batches, 0))
                daemon.act("empty", 0.0)
            print("%d batches, %d kills, %d within tolerance" % (batches, kills, within))
            rows, _ = daemon.call("records", "List", "xu", 0, 500)
            self.assertEqual([int(row["Id"]) for row in rows],
                             list(range(batches, 0, -1)))

    def mix_with_kills(self, daemon, hands, batch, chance, left):
        kills, known, looks = 0, [], 0
        next_kill = chance.randrange(1, 120)

        def look():
            nonlocal kills, known, looks, next_kill
            if hands.look():
                return True
            looks += 1
            if kills < left and looks >= next_kill:
                known = self.steps(daemon, batch)
                had = masses(daemon.canonical(batch))
                daemon.kill()
                kills += 1
                daemon.start()
                until("the batch again", lambda: int(daemon.get("batch", "Id")) == batch)
                now = self.steps(daemon, batch)
                # What was there is there still, once, in its order.
                self.assertEqual(now[:len(known)], known)
                self.assertEqual([row[0] for row in now], list(range(1, len(now) + 1)))
                self.assertEqual([row[1] for row in now], sorted(row[1] for row in now))
                self.assertEqual(masses(daemon.canonical(batch))[:max(len(had) - 1, 0)],
                                 had[:max(len(had) - 1, 0)])
                looks, next_kill = 0, chance.randrange(1, 120)
            return False
        until("the end of the batch", look, 120)
        return kills

    def test_an_acknowledged_step_is_there_after_a_kill(self):
        with Daemon(options='speed = 8.0; state = "bench.state";') as daemon:
            daemon.start()
            for _ in range(5):
                batch, _ = daemon.begin()
                daemon.press()  # answered: so it is stored
                daemon.kill()
                daemon.start()
                until("the batch again", lambda: int(daemon.get("batch", "Id")) == batch)
                self.assertIn((2, "cup"),
                              [(row[0], row[2]) for row in self.steps(daemon, batch)])
                daemon.call("batch", "Discard", "x", batch)

    def test_a_batch_that_was_begun_is_there_after_a_kill(self):
        with Daemon(options='speed = 8.0; state = "bench.state";') as daemon:
            daemon.start()
            batch, _ = daemon.begin()
            daemon.kill()
            daemon.start()
            until("the batch again", lambda: int(daemon.get("batch", "Id")) == batch)
            self.assertEqual(str(daemon.get("batch", "Step")), "ready")
            daemon.press()
            self.assertNotEqual(str(daemon.get("batch", "Step")), "ready")

    def test_a_zero_outlives_the_daemon(self):
        with Daemon(options='speed = 8.0; state = "bench.state"; noise_g = 0.01; '
                            'warm_up_counts_per_s = 0;') as daemon:
            daemon.start()
            daemon.act("object", 50.0)
            until("the object", lambda: daemon.get("scale", "Quantities")
                  .get("GrossGrams", 0.0) > 49.0)
            until("the zero", lambda: self.zeroed(daemon))
            until("zero", lambda: abs(daemon.get("scale", "Quantities")
                                      .get("GrossGrams", 50.0)) < 1.0)
            daemon.call("records", "Verify", "")  # comes after it on the store thread
            daemon.kill()
            daemon.start()
            gross = until("a reading", lambda: daemon.get("scale", "Quantities")
                          .get("GrossGrams"))
            self.assertLess(abs(gross), 1.0)

    def test_a_power_cut_without_a_clock_ends_the_working_life(self):
        """Across a reboot only two synchronised clocks tell how long it was."""
        with Daemon(options='seed = 5; speed = 8.0; state = "bench.state"; noise_g = 0.05; '
                            'warm_up_counts_per_s = 0.0;') as daemon:
            # Longer than most machines are up: this boot alone must not use it up.
            daemon.write("systems.d/tidepool-clear.conf",
                         SYSTEM.replace("s = 2400.0", "s = 600000.0"))
            for synchronised, life_is_over in ((1, False), (0, True)):
                daemon.start()
                batch, _ = daemon.begin(TotalGrams=160.0)
                hands = Hands(daemon)

                def stirring():
                    if str(daemon.get("batch", "Step")) in ("stir", "pour"):
                        return True
                    hands.look()
                    return False
                until("the stirring", stirring, 120)
                daemon.kill()
                self.reboot(daemon, synchronised)
                daemon.start()
                until("the batch again", lambda: int(daemon.get("batch", "Id")) == batch)
                # This machine's clock need not be synchronised where tests run.
                if life_is_over or "no clock tells" in daemon.log():
                    until("the end of its working life", lambda: self.life_left(daemon) <= 0.0)
                    self.assertIn("no clock tells", daemon.log())
                elif self.uptime_s() < 500000.0:
                    self.assertGreater(self.life_left(daemon), 0.0)
                daemon.call("batch", "Discard", "x", batch)
                daemon.act("empty", 0.0)
                daemon.stop()

    def uptime_s(self):
        with open("/proc/uptime") as file:
            return float(file.read().split()[0])

    def life_left(self, daemon):
        return [float(row["WorkingLifeLeftSeconds"]) for row in daemon.get("batch", "Open")
                if "WorkingLifeLeftSeconds" in row][0]

    def reboot(self, daemon, synchronised):
        """As if the store had been written in an earlier boot, 100 s before this one."""
        before_us = int((self.uptime_s() + 100.0) * 1e6)
        now_us = int(time.time() * 1e6)
        db = sqlite3.connect(daemon.path("ambo.db"))
        for table, boot in (("step", "'earlier'"), ("boot", "'earlier-' || seq")):
            db.execute("UPDATE %s SET boot_id = %s, synchronised = ?, realtime_us = ?"
                       % (table, boot), (synchronised, now_us - before_us))
        db.commit()
        db.close()

    def zeroed(self, daemon):
        try:
            daemon.call("scale", "Zero", "")
        except dbus.DBusException as error:
            self.assertTrue(error.get_dbus_name().endswith(".NotSettled"))
            return False
        return True


if __name__ == "__main__":
    main()
