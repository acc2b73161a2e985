# SPDX-License-Identifier: MIT
"""`ambo mix` in a pseudo-terminal: a whole batch by keys, left once by Ctrl-C and once
by a station killed in mid-charge, and come back to."""
import csv
import fcntl
import io
import os
import pty
import re
import select
import signal
import struct
import subprocess
import termios
import time
import unittest

import ambo_station
from ambo_station import AMBO, WAIT_S, Station, ambo

COLUMNS = 78


class Screen:
    """ambo mix on a terminal of its own, read as a person would."""

    def __init__(self, *args):
        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, COLUMNS, 0, 0))
        env = dict(os.environ, LC_ALL="C.UTF-8")
        self.process = subprocess.Popen([AMBO, "mix", *args], stdin=slave, stdout=slave,
                                        stderr=slave, env=env, start_new_session=True,
                                        preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0))
        os.close(slave)
        self.text = ""

    def read(self, seconds):
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            ready, _, _ = select.select([self.master], [], [], 0.05)
            if not ready:
                return
            try:
                data = os.read(self.master, 65536)
            except OSError:
                return  # the other side has closed
            if not data:
                return
            self.text += data.decode("utf-8", "replace")

    def frame(self):
        """The newest whole picture, without its escapes."""
        self.read(0.1)
        frames = re.split(r"\x1b\[\d+A\r", self.text)
        whole = frames[-1] if frames[-1].count("\n") >= 13 or len(frames) < 2 else frames[-2]
        return re.sub(r"\x1b\[[0-9;]*[A-Za-z]", "", whole).replace("\r", "")

    def wait(self, what, timeout=WAIT_S):
        end = time.monotonic() + timeout
        while time.monotonic() < end:
            frame = self.frame()
            if re.search(what, frame):
                return frame
            if self.process.poll() is not None:
                break
            time.sleep(0.02)
        raise AssertionError("%r never came; the screen:\n%s" % (what, self.frame()))

    def key(self, key):
        os.write(self.master, key.encode())

    def ended(self):
        end = time.monotonic() + WAIT_S
        while self.process.poll() is None and time.monotonic() < end:
            self.read(0.2)
        self.read(0.2)
        return self.process.wait(1)

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait(WAIT_S)
        os.close(self.master)


def left_g(frame):
    found = re.search(r"([0-9.]+) g to go, of", frame)
    return float(found.group(1)) if found else None


class Mix(unittest.TestCase):
    def setUp(self):
        self.station = Station(speed=4.0, seed=5, bench_state=True)
        self.addCleanup(self.station.stop)

    def screen(self, *args):
        screen = Screen(*args)
        self.addCleanup(screen.close)
        return screen

    def pour(self, screen, headline):
        """By keys: full stream, slower near the end, tipped back when told."""
        screen.wait(headline)
        for _ in range(12):
            frame = screen.wait(r"IS IN|RATIO GOOD|TOO MUCH|%s" % headline)
            if not re.search(headline, frame):
                return frame
            left = left_g(frame)
            if left is None or left < 0.15:
                time.sleep(0.3)
                continue
            screen.key("p")
            if left < 30.0:
                screen.key("s")
            slow = left < 30.0
            while True:
                frame = screen.frame()
                left = left_g(frame)
                if not slow and left is not None and left < 25.0:
                    screen.key("s")
                    slow = True
                if left is None or left < 0.8 or "TIP BACK" in frame:
                    break
            screen.key("p")
            # Until the scale has said whether it is enough.
            time.sleep(1.2)
        raise AssertionError("never poured enough:\n" + screen.frame())

    def test_a_batch_is_left_by_ctrl_c_and_survives_its_station(self):
        screen = self.screen("tidepool-clear", "--total", "330")
        screen.wait("RIGHT LABEL")
        self.assertIn("gloves", screen.wait("for 100 g of resin"))
        screen.key("\n")
        screen.wait("PUT CUP ON")
        screen.key("c")
        screen.wait("ADD A")

        # Ctrl-C as the terminal sends it: the batch goes on without the screen.
        screen.key("\x03")
        self.assertEqual(screen.ended(), 130)
        self.assertIn("Come back to it with: ambo mix", screen.text)
        self.assertEqual(ambo("records", "--csv").stdout.count("charge"), 1)

        screen = self.screen()
        self.pour(screen, "ADD A")
        screen.wait("A IS IN")

        # A station killed in mid-batch: the screen waits for it and goes on.
        self.station.kill()
        screen.wait("the station is gone")
        self.station.start()
        frame = screen.wait(r"\bcharge\b(.|\n)*A IS IN")
        self.assertNotIn("the station is gone", frame)
        screen.key("\n")
        screen.wait("ADD B")

    def test_a_whole_batch_by_keys_is_recorded_within(self):
        screen = self.screen("tidepool-clear", "--total", "330")
        screen.wait("RIGHT LABEL")
        screen.key(" ")
        screen.wait("PUT CUP ON")
        screen.key("c")
        self.pour(screen, "ADD A")
        screen.wait("A IS IN")
        # One d alone discards nothing.
        screen.key("d")
        screen.wait("press d once more")
        screen.key("\n")
        frame = screen.wait("ADD B")
        self.assertRegex(frame, "[▶◀·┃]")
        self.assertTrue(all(len(line) < COLUMNS for line in frame.split("\n")), frame)
        time.sleep(1.0)
        self.pour(screen, "ADD B")
        screen.wait("RATIO GOOD")
        screen.key("l")
        screen.wait(r"STIR ")
        # Its pan read: the verdict stands.
        screen.wait(r"  within(.|\n)*Enter it is stirred")
        screen.key("\n")
        screen.wait("POUR")
        screen.key("e")
        screen.wait("Enter it is poured")
        screen.key("\n")
        self.assertEqual(screen.ended(), 0, screen.frame())
        self.assertIn("within", screen.text)
        record = next(csv.DictReader(io.StringIO(ambo("records", "--csv").stdout)))
        self.assertEqual((record["step"], record["verdict"]), ("done", "within"))
        self.assertNotRegex(re.sub(r"\x1b\[[0-9;]*[A-Za-z]", "", screen.text), r"-[0-9.]+ g\b")

    def test_hold_other_part_and_discard_by_keys(self):
        screen = self.screen("tidepool-clear", "--total", "330")
        screen.wait("RIGHT LABEL")
        screen.key("\n")
        screen.wait("PUT CUP ON")
        screen.key("c")
        screen.wait("ADD A")
        screen.key("h")
        screen.wait("HELD")
        screen.key("\n")
        screen.wait("ADD A")
        screen.key("o")  # nothing poured yet: refused or nothing to relabel, never a crash
        screen.key("d")
        screen.wait("press d once more")
        screen.key("d")
        self.assertEqual(screen.ended(), 1)
        self.assertIn("discarded", screen.text)

    def test_a_terminal_that_goes_away_leaves_the_batch_running(self):
        screen = self.screen("tidepool-clear", "--total", "330")
        screen.wait("RIGHT LABEL")
        screen.process.send_signal(signal.SIGTERM)
        self.assertEqual(screen.ended(), 130)
        self.assertIn("ready", ambo("records", "--csv").stdout)


if __name__ == "__main__":
    ambo_station.main()
