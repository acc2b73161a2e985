# SPDX-License-Identifier: MIT
"""What the end-to-end tests share: the programs, and a station of their own.

Each test file runs as a ctest entry under dbus-run-session, so that its bus is
private; AMBO_BIN names the folder of the programs, AMBO_TOP the source tree.
"""
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
import unittest

BIN = os.environ.get("AMBO_BIN", "")
TOP = os.environ.get("AMBO_TOP", "")
DATA = os.path.join(TOP, "tests", "data")
AMBO = os.path.join(BIN, "ambo")
AMBOD = os.path.join(BIN, "ambod")
WAIT_S = 60.0  # for anything that should happen soon: generous, never asserted


def ambo(*args, stdin="", env=None, timeout=WAIT_S):
    """Runs ambo to its end: a CompletedProcess with text output."""
    return subprocess.run([AMBO, *[str(a) for a in args]], input=stdin, capture_output=True,
                          text=True, timeout=timeout, env=env)


class Station:
    """ambod on a copy of the demo configuration, at the simulated bench."""

    def __init__(self, speed=8.0, seed=7, bench_state=False, replace=()):
        self.folder = tempfile.mkdtemp(prefix="ambo-test.")
        self.config = os.path.join(self.folder, "config")
        shutil.copytree(os.path.join(TOP, "config", "demo"), self.config)
        path = os.path.join(self.config, "ambo.conf")
        with open(path) as file:
            text = file.read()
        text = re.sub(r"speed = [0-9.]+", "speed = %.6f" % speed, text)
        text = re.sub(r"seed = [0-9]+", "seed = %d" % seed, text)
        if bench_state:  # the pan keeps its load when the daemon dies
            text = re.sub(r"(speed = [0-9.]+;)", r'\1\n    state = "%s";'
                          % os.path.join(self.folder, "bench"), text)
        for old, new in replace:
            assert old in text, old
            text = text.replace(old, new)
        with open(path, "w") as file:
            file.write(text)
        self.log = open(os.path.join(self.folder, "ambod.log"), "a+")
        self.process = None
        self.start()

    def start(self):
        self.process = subprocess.Popen([AMBOD, "--config", self.config], stdin=subprocess.DEVNULL,
                                        stdout=self.log, stderr=self.log)
        up = ambo("--bus", "session", "--wait", 20, "watch", "--count", 1)
        if up.returncode != 0:
            self.log.seek(0)
            sys.stderr.write(self.log.read())
            raise AssertionError("the station did not start: " + up.stderr)

    def kill(self):
        self.process.kill()
        self.process.wait(WAIT_S)

    def stop(self):
        if self.process.poll() is None:
            self.process.terminate()
            try:
                self.process.wait(WAIT_S)
            except subprocess.TimeoutExpired:
                self.kill()
        self.log.close()
        shutil.rmtree(self.folder, ignore_errors=True)


def until(what, probe, timeout=WAIT_S):
    """Waits until probe() is true and returns it; fails saying what did not come."""
    end = time.monotonic() + timeout
    while time.monotonic() < end:
        value = probe()
        if value:
            return value
        time.sleep(0.05)
    raise AssertionError("did not come in %g s: %s" % (timeout, what))


def main():
    """As unittest.main(), with a line `skip: why` for each skip and 77 if all were."""
    program = unittest.main(module="__main__", exit=False, verbosity=2)
    result = program.result
    for test, why in result.skipped:
        print("skip: %s: %s" % (test.id().split(".")[-1], why), flush=True)
    if not result.wasSuccessful():
        sys.exit(1)
    if result.testsRun == 0 or len(result.skipped) == result.testsRun:
        sys.exit(77)
    sys.exit(0)
