# SPDX-License-Identifier: MIT
"""Stores that cannot be used, and configurations: said clearly, nothing damaged."""
import hashlib
import os
import resource
import shutil
import sqlite3
import subprocess
import tempfile
import unittest

import dbus

from ambo_bus import AMBOD, TOP, WAIT_S, Daemon, Hands, connect, error_of, main, until


def digest(path):
    with open(path, "rb") as file:
        return hashlib.sha256(file.read()).hexdigest()


def run(*args, program=AMBOD, **more):
    return subprocess.run([program, *args], capture_output=True, text=True, timeout=WAIT_S,
                          stdin=subprocess.DEVNULL, **more)


class Store(unittest.TestCase):
    def refused(self, daemon, says):
        """Started once more, it ends with 1 and one sentence; the bytes stay."""
        path = daemon.path("ambo.db")
        before = digest(path)
        ended = run("--config", daemon.folder)
        self.assertEqual(ended.returncode, 1, ended.stderr)
        self.assertRegex(ended.stderr, says)
        self.assertEqual(digest(path), before)

    def made(self):
        daemon = Daemon()
        self.addCleanup(daemon.close)
        daemon.start()
        batch, _ = daemon.begin()
        daemon.call("batch", "Discard", "x", batch)
        return daemon

    def test_a_second_daemon_on_the_same_store_is_refused(self):
        daemon = self.made()
        ended = run("--config", daemon.folder)
        self.assertEqual(ended.returncode, 1)
        self.assertIn("ambo.db", ended.stderr)
        self.assertRegex(ended.stderr, "another|other")
        self.assertEqual(str(daemon.get("batch", "Step")), "discarded")
        self.assertEqual(int(daemon.call("records", "Verify", "")[1]), 0)

    def test_a_newer_store_is_refused(self):
        daemon = self.made()
        daemon.stop()
        db = sqlite3.connect(daemon.path("ambo.db"))
        db.execute("PRAGMA journal_mode = DELETE")
        db.execute("PRAGMA user_version = 999")
        db.commit()
        db.close()
        self.refused(daemon, "ambo.db.*(newer|version)")

    def test_a_file_that_is_no_store_is_refused(self):
        daemon = self.made()
        daemon.stop()
        for name in os.listdir(daemon.folder):
            if name.startswith("ambo.db-"):
                os.unlink(daemon.path(name))
        daemon.write("ambo.db", "This is a letter, not a database. " * 100)
        self.refused(daemon, "ambo.db")

    def test_a_store_that_cannot_be_written_is_refused(self):
        daemon = self.made()
        daemon.stop()
        path, folder = daemon.path("ambo.db"), daemon.folder
        before = digest(path)
        os.chmod(path, 0o444)
        os.chmod(folder, 0o555)
        # root may write anywhere: let nobody try, with a program of their own, as the
        # tree may lie where nobody else can look.
        more = {"user": 65534, "group": 65534, "extra_groups": []} if os.getuid() == 0 else {}
        with tempfile.TemporaryDirectory() as bin_folder:
            os.chmod(bin_folder, 0o755)
            program = shutil.copy(AMBOD, bin_folder)
            ended = run("--config", folder, program=program, **more)
        os.chmod(folder, 0o755)
        self.assertEqual(ended.returncode, 1, ended.stderr)
        self.assertRegex(ended.stderr, "ambo.db.*(written|write|permission|allowed|owner)")
        self.assertEqual(digest(path), before)

    def test_a_folder_that_is_not_there_is_told(self):
        with Daemon() as daemon:
            with open(daemon.path("ambo.conf")) as file:
                text = file.read()
            daemon.write("ambo.conf", text.replace('"ambo.db"', '"nowhere/ambo.db"'))
            ended = run("--config", daemon.folder)
            self.assertEqual(ended.returncode, 1)
            self.assertIn("nowhere", ended.stderr)

    def test_a_disk_that_fills_up_holds_the_batch_with_the_reason(self):
        daemon = self.made()
        daemon.stop()
        # No file may grow past its size of now: what a full disk does to a store.
        # A write beyond the limit fails with EFBIG once SIGXFSZ is ignored.
        size = os.path.getsize(daemon.path("ambo.db")) + 4 * 4096

        def limited():
            import signal
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
        with open(daemon.log_path, "a") as log:
            daemon.process = subprocess.Popen(
                [AMBOD, "--config", daemon.folder], preexec_fn=limited, restore_signals=False,
                stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
            log.write("")
        until("the service", daemon.is_up)
        failed = None
        for _ in range(60):
            try:
                batch, _ = daemon.begin()
                daemon.press()
                daemon.call("batch", "Discard", "x", batch)
            except Exception as error:  # any bus error: looked at below
                failed = error
                break
        self.assertIsNotNone(failed)
        self.assertTrue(failed.get_dbus_name().endswith(".StoreFailed"), failed)
        self.assertIsNone(daemon.process.poll())
        step, message = str(daemon.get("batch", "Step")), str(daemon.get("batch", "Message"))
        if step == "held":
            self.assertEqual(message, "store-failed")
        daemon.process.terminate()
        daemon.process.communicate(timeout=WAIT_S)
        # With room again it goes on: nothing recorded is lost.
        daemon.start()
        self.assertEqual(int(daemon.call("records", "Verify", "")[1]), 0)
        rows, _ = daemon.call("records", "List", "xu", 0, 500)
        self.assertGreaterEqual(len(rows), 1)
        self.assertEqual([int(row["Id"]) for row in rows],
                         list(range(len(rows), 0, -1)))


def room():
    """A folder that a small file system can be mounted on, or why not."""
    folder = tempfile.mkdtemp(prefix="ambo-full.")
    done = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", folder],
                          capture_output=True, text=True)
    if done.returncode == 0:
        subprocess.run(["umount", folder], check=True)
    os.rmdir(folder)
    return "" if done.returncode == 0 else "no tmpfs can be mounted here: " + done.stderr.strip()


NO_ROOM = room()


@unittest.skipIf(NO_ROOM, NO_ROOM)
class FullDisk(unittest.TestCase):
    """A store on a file system that is full: at the start, as a batch begins, in the middle."""

    FULL = "the disk is full; make room on it, then try again"

    def disk(self, size):
        self.folder = tempfile.mkdtemp(prefix="ambo-full.")
        self.addCleanup(shutil.rmtree, self.folder)
        subprocess.run(["mount", "-t", "tmpfs", "-o", "size=" + size, "tmpfs", self.folder],
                       check=True)
        self.addCleanup(subprocess.run, ["umount", "-l", self.folder], check=True)
        daemon = Daemon(keep=20, options='seed = 7; speed = 8.0; warm_up_counts_per_s = 0.0; '
                                         'state = "bench.state";')
        self.addCleanup(daemon.close)
        with open(daemon.path("ambo.conf")) as file:
            text = file.read()
        daemon.write("ambo.conf", text.replace('"ambo.db"', '"%s/ambo.db"' % self.folder))
        return daemon

    def make_room(self):
        subprocess.run(["mount", "-o", "remount,size=16M", self.folder], check=True)

    def fill(self):
        self.ballast = os.path.join(self.folder, "ballast")
        with open(self.ballast, "wb", buffering=0) as file:
            with self.assertRaises(OSError):
                while True:
                    file.write(b"x" * 4096)

    def check_whole(self, daemon, n):
        """n batches, each finished and within, no link of their chain broken."""
        rows, _ = daemon.call("records", "List", "xu", 0, 500)
        self.assertEqual([(str(row["Step"]), str(row["Verdict"])) for row in rows],
                         [("done", "within")] * n)
        self.assertEqual([int(x) for x in daemon.call("records", "Verify", "")], [n, 0])

    def mix_until_held(self, daemon, hands):
        def full():
            try:
                hands.look()
            except dbus.DBusException as error:  # a press that could not be stored
                self.assertTrue(error.get_dbus_name().endswith(".StoreFailed"), error)
                self.assertIn("the disk is full", error.get_dbus_message())
            return str(daemon.get("batch", "Message")) == "store-failed"
        until("the disk to be full", full)
        self.assertEqual(str(daemon.get("batch", "Step")), "held")
        self.assertEqual(str(daemon.get("batch", "Sentence")),
                         "The record could not be written: the disk is full. Set that right, "
                         "then press.")

    def test_too_small_for_a_store_it_does_not_start_until_there_is_room(self):
        daemon = self.disk("100k")
        ended = run("--config", daemon.folder)
        self.assertEqual(ended.returncode, 1)
        self.assertIn(self.FULL, ended.stderr)
        self.make_room()
        daemon.start()
        daemon.begin()
        Hands(daemon).mix()
        self.check_whole(daemon, 1)

    def test_a_batch_that_does_not_fit_is_refused_before_anything_is_poured(self):
        daemon = self.disk("4M")
        daemon.start()
        self.fill()
        name, sentence = error_of(daemon.begin)
        self.assertEqual((name, sentence),
                         ("StoreFailed", "The batch cannot be stored: " + self.FULL + "."))
        os.unlink(self.ballast)
        daemon.begin()
        Hands(daemon).mix()
        self.check_whole(daemon, 1)

    def test_a_batch_is_held_when_it_fills_up_and_goes_on_when_there_is_room(self):
        daemon = self.disk("400k")
        daemon.start()
        daemon.begin()
        hands = Hands(daemon)
        self.mix_until_held(daemon, hands)
        for _ in range(3):  # no press helps before there is room
            self.assertEqual(error_of(daemon.press)[0], "StoreFailed")
            self.assertEqual(str(daemon.get("batch", "Step")), "held")
        self.make_room()
        daemon.press()
        hands.mix()
        self.check_whole(daemon, 1)

    def test_killed_on_a_full_disk_it_starts_there_and_goes_on_when_there_is_room(self):
        daemon = self.disk("8M")
        daemon.start()
        daemon.begin()
        hands = Hands(daemon)
        until("B", lambda: hands.look() or str(daemon.get("batch", "Component")) == "b")
        hands.stop()
        resin_g = lambda: float(daemon.call("records", "List", "xu", 0, 10)[0][0]["ResinGrams"])
        poured_g = resin_g()
        self.fill()
        daemon.kill()
        daemon.start()
        until("the batch to be back", lambda: int(daemon.get("batch", "Id")) == 1)
        os.unlink(self.ballast)
        daemon.kill()
        daemon.start()
        self.assertAlmostEqual(resin_g(), poured_g, delta=0.2)  # neither lost nor doubled
        again = Hands(daemon)
        again.cup = "pan"
        again.mix()
        self.check_whole(daemon, 1)


class Configuration(unittest.TestCase):
    def test_check_config_says_everything_and_opens_nothing(self):
        with Daemon() as daemon:
            daemon.write("ambo.conf", 'scale: { driver = "bathroom"; };\nsotre: { };\n')
            daemon.write("systems.d/bad.conf", 'name = "x";\n')
            for args in (("--check-config",), ()):
                ended = run("--config", daemon.folder, *args)
                self.assertEqual(ended.returncode, 2)
                lines = ended.stderr.splitlines()
                self.assertGreater(len(lines), 8)
                for line in lines:
                    self.assertRegex(line, r"^/\S+\.conf(:\d+)?: \S+: .*; expected .+")
                self.assertTrue(any('expected "store", perhaps' in line for line in lines))
            self.assertFalse(os.path.exists(daemon.path("ambo.db")))

    def test_the_demo_and_the_installed_configuration_have_nothing_wrong(self):
        ended = run("--check-config", "--config", os.path.join(TOP, "config", "demo"))
        self.assertEqual((ended.returncode, ended.stderr), (0, ""))
        with Daemon() as daemon:
            shutil.copy(os.path.join(TOP, "config", "ambo.conf"), daemon.folder)
            ended = run("--check-config", "--config", daemon.folder)
            self.assertEqual((ended.returncode, ended.stderr), (0, ""))

    def test_wrong_options_end_with_2_and_help_with_0(self):
        for args, status in ((("--colour",), 2), (("here",), 2), (("--config",), 2),
                             (("--config", "/nowhere"), 2), (("--help",), 0),
                             (("--version",), 0)):
            self.assertEqual(run(*args).returncode, status, args)

    def test_a_locale_with_decimal_commas_changes_nothing(self):
        env = dict(os.environ, LC_ALL="de_DE.UTF-8", LANG="de_DE.UTF-8")
        ended = run("--check-config", "--config", os.path.join(TOP, "config", "demo"), env=env)
        self.assertEqual((ended.returncode, ended.stderr), (0, ""))

    def test_without_a_bus_it_says_what_to_do(self):
        with Daemon() as daemon:
            env = {key: value for key, value in os.environ.items()
                   if key not in ("DBUS_SESSION_BUS_ADDRESS", "XDG_RUNTIME_DIR")}
            ended = run("--config", daemon.folder, env=env)
            self.assertEqual(ended.returncode, 1)
            self.assertIn("session bus", ended.stderr)

    def test_a_trace_that_is_wrong_is_said_with_its_line(self):
        cases = (("t_us,raw24\n0,190000\nx,190000\n", ":3:"), ("", "trace.csv"),
                 ("t_us\n0\n", "raw24"), ("t_us,raw24\n0,8388608\n", ":2:"),
                 ("t_us,raw24\n0,1\n5,2\n4,3\n", ":4:"))
        for text, says in cases:
            with Daemon("replay", 'file = "trace.csv"; speed = 0;') as daemon:
                daemon.write("trace.csv", text)
                daemon.spawn()
                try:
                    status = daemon.process.wait(3)
                    self.assertEqual(status, 1, text)
                    self.assertIn(says, daemon.log())
                except subprocess.TimeoutExpired:
                    # It opened: the mistake is in the middle, and the scale says so.
                    daemon.bus = connect()
                    condition = until("the condition", lambda: str(
                        daemon.get("scale", "Condition")))
                    self.assertIn("failed:", condition)
                    self.assertIn(says, condition)
                    self.assertEqual(daemon.log().count(says), 1, daemon.log())
                    daemon.stop()
                    daemon.bus.close()
                    daemon.bus = None
                    daemon.spawn("--exit-at-end")
                    self.assertEqual(daemon.process.wait(WAIT_S), 1, text)


if __name__ == "__main__":
    main()
