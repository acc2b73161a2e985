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

from ambo_bus import AMBOD, TOP, WAIT_S, Daemon, connect, main, until


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
