# SPDX-License-Identifier: MIT
"""What ambod costs as a process at 80 samples/s with one client that is sent every
reading: processor, resident memory, start to first reading.

The baseline, in the same run, is the message bus that carries the very same readings
and does nothing else. The simulated bench makes its samples inside ambod, so that its
noise is counted too; the programs come from the page cache.

On a bus of its own, see run.sh: daemon_bench.py [SECONDS [STARTS]]"""
import glob
import os
import statistics
import subprocess
import sys
import time

from ambo_bus import Daemon, Hands, connect, turn, until

OPTIONS = 'seed = 7; rate_hz = 80; speed = 1.0; noise_g = 0.05; warm_up_counts_per_s = 0.0;'


def cpu_s(pid):
    """Time on a processor of all its threads, in s, to the nanosecond."""
    total = 0
    for path in glob.glob("/proc/%d/task/*/schedstat" % pid):
        with open(path) as file:
            total += int(file.read().split()[0])
    return total * 1e-9


def memory_mb(pid, key):
    with open("/proc/%d/status" % pid) as file:
        for line in file:
            if line.startswith(key + ":"):
                return int(line.split()[1]) / 1024
    raise AssertionError("no %s in the status of %d" % (key, pid))


class Readings:
    """The one client: counts what it is sent, and when the first known mass came."""

    def __init__(self, bus):
        self.n = 0
        self.first = self.first_mass = None
        bus.add_signal_receiver(self.take, "Reading", "org.ambo.Scale1")

    def take(self, sequence, t_us, state, quantities, cue):
        self.n += 1
        self.first = self.first or time.monotonic()
        if "GrossGrams" in quantities:
            self.first_mass = self.first_mass or time.monotonic()


def row(what, unit, ours, baseline):
    print("  %-42s %9.3f %9.3f %8.2f  %s" % (what, ours, baseline, ours / baseline, unit))


def bus_start_ms():
    """A private bus from its start to the address it prints."""
    start = time.monotonic()
    process = subprocess.Popen(["dbus-daemon", "--session", "--nofork", "--print-address"],
                               stdout=subprocess.PIPE)
    process.stdout.readline()
    taken = time.monotonic() - start
    process.terminate()
    process.wait()
    process.stdout.close()
    return taken * 1e3


def starts(n):
    """Medians of n starts in turn: to a first reading, to a first known mass, of a bus."""
    reading, mass, bus = [], [], []
    for _ in range(n):
        with Daemon(options=OPTIONS) as daemon:
            daemon.bus = connect()
            readings = Readings(daemon.bus)
            begun = time.monotonic()
            daemon.spawn()
            until("a mass", lambda: readings.first_mass)
            reading.append((readings.first - begun) * 1e3)
            mass.append((readings.first_mass - begun) * 1e3)
        bus.append(bus_start_ms())
    row("start to first reading, median", "ms", statistics.median(reading), statistics.median(bus))
    row("start to first mass, median", "ms", statistics.median(mass), statistics.median(bus))


def over(what, daemon, bus_pid, readings, seconds):
    pids = (daemon.process.pid, bus_pid)
    before, n, begun = [cpu_s(pid) for pid in pids], readings.n, time.monotonic()
    while time.monotonic() - begun < seconds:
        turn()
        time.sleep(0.01)
    taken = time.monotonic() - begun
    share = [100.0 * (cpu_s(pid) - was) / taken for pid, was in zip(pids, before)]
    got = (readings.n - n) / taken
    row("processor, %s" % what, "%% of one, %.1f readings/s came" % got, *share)


def main():
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    print("ambod at 80 samples/s, one client; baseline: the bus that carries the same\n"
          "  %-42s %9s %9s %8s" % ("", "ambod", "baseline", "ratio"))
    starts(int(sys.argv[2]) if len(sys.argv) > 2 else 11)
    with Daemon(options=OPTIONS, keep=20) as daemon:
        daemon.start()
        bus_pid = int(daemon.bus.call_blocking(
            "org.freedesktop.DBus", "/org/freedesktop/DBus", "org.freedesktop.DBus",
            "GetConnectionUnixProcessID", "s", ("org.freedesktop.DBus",)))
        readings = Readings(daemon.bus)
        until("a reading", lambda: readings.n > 0)
        over("no batch", daemon, bus_pid, readings, seconds)
        daemon.begin()
        hands = Hands(daemon)
        until("the step charge", lambda: hands.look() or daemon.get("batch", "Step") == "charge")
        daemon.act("pour-a", 2.0)
        over("pouring", daemon, bus_pid, readings, seconds)
        pids = (daemon.process.pid, bus_pid)
        row("resident memory", "MiB", *(memory_mb(pid, "VmRSS") for pid in pids))
        row("  of which its own, not libraries", "MiB", *(memory_mb(pid, "RssAnon") for pid in pids))
        print("  %-42s %9.3f %9s %8s  MiB" % ("  at its highest", memory_mb(pids[0], "VmHWM"),
                                             "", ""))


if __name__ == "__main__":
    main()
