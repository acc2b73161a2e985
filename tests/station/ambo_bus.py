# SPDX-License-Identifier: MIT
"""A station of the test's own, seen through python3-dbus: a client we did not write.

Each test file runs under dbus-run-session (see terminal.cmake for the environment),
so its bus is private. Every wait is bounded; none is asserted.
"""
import ctypes
import os
import re
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time

import dbus
import dbus.bus
import dbus.mainloop.glib

BIN = os.environ["AMBO_BIN"]
TOP = os.environ["AMBO_TOP"]
AMBOD = os.path.join(BIN, "ambod")
SERVICE = "org.ambo.Station"
WAIT_S = 60.0  # for anything that should come soon: generous

# python3-dbus hands signals to GLib's main context; this turns it without python3-gi.
_glib = ctypes.CDLL("libglib-2.0.so.0")
dbus.mainloop.glib.DBusGMainLoop(set_as_default=True)


def turn():
    """Lets signals that have come in reach their handlers."""
    while _glib.g_main_context_iteration(None, False):
        pass


def until(what, probe, timeout=WAIT_S):
    end = time.monotonic() + timeout
    while time.monotonic() < end:
        turn()
        value = probe()
        if value:
            return value
        time.sleep(0.01)
    raise AssertionError("did not come in %g s: %s" % (timeout, what))


def connect():
    """A connection of its own. By its address: libdbus ends the whole process when a
    connection closes that it opened as "the" session bus."""
    return dbus.bus.BusConnection(os.environ["DBUS_SESSION_BUS_ADDRESS"])


SYSTEM = """
name = "Tidepool Clear"; basis = "weight"; hardener = "b";
a = { label = "resin"; parts = 100.0; density_g_per_ml = 1.15; lot = "TA-014"; };
b = { label = "hardener"; parts = 45.0; density_g_per_ml = 0.98; lot = "TB-009"; };
tolerance_pct = 2.0;
working_life = { s = 2400.0; mass_g = 400.0; degc = 23.0; };
stir_s = 15.0;
"""

CONF = """
scale: {
  driver = "%(driver)s"; max_g = 5000.0; interval_g = 0.1; noise_g = %(noise)s; rate_hz = %(rate)s;
  calibration: { degree = 1; zero_counts = %(zero_counts)r; counts_per_g = %(counts_per_g)r; residual_sd_g = 0.02; };
  %(driver)s: { %(options)s };
};
store: { path = "ambo.db"; keep_inputs = %(keep)d; };
bus: { which = "session"; };
station: { %(station)s };
check: { interval_h = %(check)s; };
%(groups)s
"""


class Daemon:
    """ambod on a configuration folder of its own, thrown away at the end."""

    def __init__(self, driver="simulated", options=None, station="", keep=0, folder=None,
                 rate=80.0, noise=0.05, check=0.0, zero_counts=190000.0, counts_per_g=429.5,
                 groups=""):
        self.folder = folder or tempfile.mkdtemp(prefix="ambo-station.")
        self.owned = folder is None
        if options is None:
            options = ('seed = 7; rate_hz = %g; speed = 8.0; noise_g = 0.05; '
                       'warm_up_counts_per_s = 0.0;' % rate)
        os.makedirs(os.path.join(self.folder, "systems.d"), exist_ok=True)
        self.write("systems.d/tidepool-clear.conf", SYSTEM)
        self.write("ambo.conf", CONF % {"driver": driver, "options": options, "keep": keep,
                                        "station": station, "rate": rate, "noise": noise, "check": check,
                                        "zero_counts": zero_counts, "counts_per_g": counts_per_g,
                                        "groups": groups})
        self.zero_counts, self.counts_per_g = zero_counts, counts_per_g
        self.process = None
        self.bus = None
        self.log_path = os.path.join(self.folder, "ambod.log")

    def write(self, name, text):
        with open(os.path.join(self.folder, name), "w") as file:
            file.write(text)

    def path(self, *names):
        return os.path.join(self.folder, *names)

    def spawn(self, *args, env=None):
        with open(self.log_path, "a") as log:
            self.process = subprocess.Popen([AMBOD, "--config", self.folder, *args],
                                            stdin=subprocess.DEVNULL, stdout=log, stderr=log,
                                            env=env)
        return self

    def start(self, *args, env=None):
        self.spawn(*args, env=env)
        self.bus = self.bus or connect()
        until("the service " + SERVICE, self.is_up)
        return self

    def stop_calibrated(self):
        """As stop(), and a calibration of the station's own is in its store that says what
        its configuration does: without one a real scale mixes nothing."""
        driver = str(self.get("scale", "Driver"))
        status = self.stop()
        until("the name to be free", lambda: not self.bus.name_has_owner(SERVICE))
        with sqlite3.connect(self.path("ambo.db")) as store:
            store.execute(
                "INSERT INTO calibration VALUES (1, 'a boot', 0, 0, 0, ?, NULL, 1, ?, ?, 0, "
                "0.02, ?, 0, 0, 0, 0)",
                (driver, self.zero_counts, 1.0 / self.counts_per_g, 5000.0))
            store.execute("INSERT INTO calibration_use VALUES (1, 1, 0, 0)")
        store.close()
        return status

    def is_up(self):
        if self.process.poll() is not None:
            raise AssertionError("ambod ended with %d:\n%s" % (self.process.returncode, self.log()))
        return self.bus.name_has_owner(SERVICE)

    def log(self):
        with open(self.log_path) as file:
            return file.read()

    def kill(self):
        self.process.kill()
        self.process.wait(WAIT_S)
        # The bus tells of the death a moment later.
        until("the name to be free", lambda: not self.bus.name_has_owner(SERVICE))

    def stop(self):
        """Ends it as the service manager would; returns the exit status."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(WAIT_S)

    def close(self):
        if self.process is not None and self.process.poll() is None:
            self.stop()
        if self.bus is not None:
            self.bus.close()
        if self.owned:
            shutil.rmtree(self.folder, ignore_errors=True)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    # Objects, by their last name: "scale", "batch", "records", "bench".
    def object(self, name):
        return self.bus.get_object(SERVICE, "/org/ambo/" + name, introspect=False)

    def call(self, name, method, signature, *args, timeout=WAIT_S):
        interface = "org.ambo." + name.capitalize() + "1"
        return self.bus.call_blocking(SERVICE, "/org/ambo/" + name, interface, method, signature,
                                      args, timeout=timeout)

    def get(self, name, prop):
        return self.bus.call_blocking(SERVICE, "/org/ambo/" + name,
                                      "org.freedesktop.DBus.Properties", "Get", "ss",
                                      ("org.ambo." + name.capitalize() + "1", prop),
                                      timeout=WAIT_S)

    def all(self, name):
        return self.bus.call_blocking(SERVICE, "/org/ambo/" + name,
                                      "org.freedesktop.DBus.Properties", "GetAll", "s",
                                      ("org.ambo." + name.capitalize() + "1",), timeout=WAIT_S)

    def act(self, verb, amount=0.0):
        self.call("bench", "Act", "sd", verb, float(amount))

    def begin(self, **request):
        request.setdefault("System", "tidepool-clear")
        request.setdefault("TotalGrams", 330.0)
        batch_id, warning = self.call("batch", "Begin", "a{sv}",
                                      dbus.Dictionary(request, signature="sv"))
        return int(batch_id), str(warning)

    def press(self):
        self.call("batch", "Press", "x", 0)

    def canonical(self, batch_id, what="canonical"):
        with tempfile.TemporaryFile() as file:
            self.call("records", "Export", "xsh", batch_id, what,
                      dbus.types.UnixFd(file.fileno()))
            file.seek(0)
            return file.read()


def error_of(call, *args, **kwargs):
    """The name (without its prefix) and sentence of the error a call ends in."""
    try:
        call(*args, **kwargs)
    except dbus.DBusException as error:
        return error.get_dbus_name().replace("org.ambo.Error.", ""), error.get_dbus_message()
    raise AssertionError("no error came")


class Hands:
    """Hands at the simulated bench, that look at nothing but the bus. One look at a
    time, so that a test can interrupt them anywhere."""

    def __init__(self, daemon, cup_g=52.0, rate=12.0):
        self.daemon = daemon
        self.cup_g = cup_g
        self.rate = rate
        self.hand_s = 0.6  # from bottle to bottle
        self.pouring = None
        self.cup = "away"  # away, pan, lifted
        self.sprinkle_after = 0.0
        self.bottle = None   # in hand since
        self.seen = []     # step and message, as they changed

    def look(self):
        """Does what is next; true when the batch is finished."""
        shown = self.daemon.all("batch")
        step, message = str(shown["Step"]), str(shown["Message"])
        if not self.seen or self.seen[-1] != (step, message):
            self.seen.append((step, message))
        if step in ("done", "discarded"):
            return True
        left = shown["Quantities"].get("RemainingGrams")
        component = str(shown["Component"])
        if step in ("charge", "top-up") and message in ("add", "top-up", "tip-back"):
            self.pour(component, left, message)
            return False
        self.stop()
        if message == "add-powder" and left is not None:
            if self.in_hand(component) and time.monotonic() > self.sprinkle_after and left > 0.1:
                self.daemon.act("tint", left)
                self.sprinkle_after = time.monotonic() + 3.0  # then wait and look
            return False
        self.answer(step, message, str(shown["PressMeans"]))
        return False

    def in_hand(self, component):
        """Nobody pours within 3 s of taking the bottle up, at 8 times true speed."""
        if self.bottle is None or self.bottle[0] != component:
            self.bottle = (component, time.monotonic())
        return time.monotonic() - self.bottle[1] > self.hand_s

    def pour(self, component, left, message):
        if left is None:
            return
        if not self.in_hand(component):
            return
        if self.pouring is None:
            if message != "tip-back" and left > 0.3:
                # Out of another cup: to the bench a liquid is a liquid.
                self.daemon.act("pour-" + ("a" if component == "mixed" else component), self.rate if left > 20.0 else 2.0)
                self.pouring = component
        elif left < 0.6:
            self.stop()
        else:
            # Slower the nearer: on a busy machine looks come seldom, at 8 times true speed.
            for near_g, rate in ((4.0, 0.5), (12.0, 1.5), (30.0, 4.0)):
                if left < near_g:
                    self.daemon.act("taper", min(rate, self.rate))
                    break

    def stop(self):
        if self.pouring is not None:
            self.daemon.act("stop", 0.1)
            self.pouring = None

    def answer(self, step, message, means):
        if message == "place-cup" and self.cup == "away":
            self.daemon.act("cup", self.cup_g)
            self.cup = "pan"
        elif step == "held" and message == "cup-lifted" and self.cup == "lifted":
            self.daemon.act("return")  # lifted while nobody looked: asked for again
            self.cup = "pan"
        elif message in ("ratio-within", "lift-and-stir") and self.cup == "pan":
            self.daemon.act("lift")
            self.cup = "lifted"
        elif means != "nothing" and message not in ("not-yet", "reading-pan", "stir"):
            try:
                self.daemon.press()
            except dbus.DBusException as error:
                # The batch may have gone on between the look and the press.
                if not error.get_dbus_name().endswith((".NotNow", ".Finished")):
                    raise

    def mix(self, timeout=WAIT_S):
        try:
            until("the end of the batch", self.look, timeout)
        except AssertionError as error:
            raise AssertionError("%s; seen: %r\n%s" % (error, self.seen, self.daemon.log()))


class NotifySocket:
    """The service manager's side of sd_notify."""

    def __init__(self):
        self.folder = tempfile.mkdtemp(prefix="ambo-notify.")
        self.path = os.path.join(self.folder, "notify")
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind(self.path)
        self.lines = []

    def read(self, timeout=0.0):
        self.socket.settimeout(max(timeout, 0.001))
        try:
            self.lines += self.socket.recv(4096).decode().splitlines()
        except (TimeoutError, socket.timeout):
            pass
        return self.lines

    def wait(self, line, timeout=WAIT_S):
        """Reads until the line comes and takes everything up to it away."""
        end = time.monotonic() + timeout
        while line not in self.lines:
            if time.monotonic() > end:
                raise AssertionError("no %s among %r" % (line, self.lines))
            self.read(0.1)
        del self.lines[:self.lines.index(line) + 1]

    def close(self):
        self.socket.close()
        shutil.rmtree(self.folder, ignore_errors=True)


def main():
    """As unittest.main(); a line `skip: why` for each skip, 77 when all were."""
    import unittest
    result = unittest.main(module="__main__", exit=False, verbosity=2).result
    for test, why in result.skipped:
        print("skip: %s: %s" % (test.id().split(".")[-1], why), flush=True)
    if not result.wasSuccessful():
        sys.exit(1)
    sys.exit(77 if result.testsRun == len(result.skipped) else 0)
