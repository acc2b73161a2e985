# SPDX-License-Identifier: MIT
"""What the display costs, all of it in one run. As a process: start to first picture; the
processor while idle, in a charge at rest and while pouring; from sample to changed pixel
through daemon, bus and display; memory; how soon a station or a bus that is gone is said,
and how soon it is there again. Then the drawing alone (display_bench) and what the cue is
worth to the person of the simulated bench (cue_bench).

On a bus of its own, under Xvfb, software renderer; run once, prints figures:
    dbus-run-session -- python3 tests/bench/display_bench.py
with the environment of the station tests (AMBO_BIN, AMBO_TOP, AMBO_CATALOGUES,
PYTHONPATH=tests/support:tests/station)."""
import os
import subprocess
import time

from ambo_bus import BIN, Daemon, connect, turn
from display_window import Screen, Window
from test_display_bus import Bus

TICK = os.sysconf("SC_CLK_TCK")


def cpu_s(pid):
    with open("/proc/%d/stat" % pid) as file:
        fields = file.read().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / TICK


def resident_mb(pid):
    with open("/proc/%d/status" % pid) as file:
        for line in file:
            if line.startswith("VmRSS"):
                return int(line.split()[1]) / 1024


def share(pid, seconds):
    before, start = cpu_s(pid), time.monotonic()
    time.sleep(seconds)
    return 100.0 * (cpu_s(pid) - before) / (time.monotonic() - start)


def percentile(values, p):
    return sorted(values)[min(len(values) - 1, int(len(values) * p))]


def stamps(window, since):
    """Sample to pixel, and arrival to pixel, in ms. The station's clock of a simulated
    bench has an origin of its own: the quickest way of all readings through daemon and
    bus counts as none, so sample to pixel is above that quickest way."""
    rows = [[int(n) for n in line.split()[1:]] for line in window.lines[since:]
            if line.startswith("stamp")]
    least = min(came - taken for taken, came, _, _ in rows)
    return ([(shown - taken - least) / 1000 for taken, _, shown, n in rows if n > 0],
            [(shown - came) / 1000 for _, came, shown, n in rows if n > 0])


def said(window, act, link):
    """ms from an act to the picture that tells of it."""
    since, start = len(window.lines), time.monotonic()
    act()
    while not any(" link=%s " % link in line for line in window.lines[since:]):
        time.sleep(0.001)
        if time.monotonic() - start > 60.0:
            raise AssertionError("link=%s was never shown" % link)
    return (time.monotonic() - start) * 1e3


def bus_gone():
    bus = Bus()
    bus.start()
    os.environ["DBUS_SESSION_BUS_ADDRESS"] = bus.address
    screen = Screen("800x480")
    with Daemon() as daemon:
        daemon.start()
        window = Window(screen, size="800x480", mm="154x92.4")
        window.wait(r"link=up", 0)
        print("bus killed to said              %6.0f ms" % said(window, bus.kill, "lost"))
        bus.start()
        daemon.bus = None
        daemon.process.wait(60)
        print("station started to said         %6.0f ms" % said(window, daemon.spawn, "up"))
        window.close()
        daemon.bus = connect()
    screen.close()
    bus.close()


def main():
    options = 'seed = 7; rate_hz = 80; speed = 1.0; noise_g = 0.05; warm_up_counts_per_s = 0.0;'
    with Daemon(options=options) as daemon:
        daemon.start()
        screen = Screen("800x480")
        start = time.monotonic()
        window = Window(screen, "--stamp", size="800x480", mm="154x92.4")
        print("start to first picture told     %6.0f ms" % ((time.monotonic() - start) * 1e3))
        window.wait(r"^shown home .*link=up", 0)
        pid = window.process.pid
        time.sleep(2.0)
        print("processor, idle                 %6.2f %% of a core" % share(pid, 10.0))
        daemon.begin(TotalGrams=1200.0)
        window.wait(r"^shown batch ready", 0)
        daemon.press()
        time.sleep(4.0)
        daemon.act("cup", 40.0)
        window.wait(r"^shown batch charge add", 0, timeout=90)
        time.sleep(5.0)
        print("processor, a charge at rest     %6.2f %% of a core" % share(pid, 10.0))
        daemon.act("pour-a", 12.0)
        time.sleep(1.0)
        since = len(window.lines)
        busy = share(pid, 30.0)
        turn()
        took, drawn = stamps(window, since)
        print("processor, pouring              %6.2f %% of a core" % busy)
        print("sample to changed pixel, %4d   p50 %.1f ms, p99 %.1f ms, most %.1f ms"
              % (len(took), percentile(took, 0.5), percentile(took, 0.99), max(took)))
        print("  of which arrival to pixel     p50 %.1f ms, p99 %.1f ms"
              % (percentile(drawn, 0.5), percentile(drawn, 0.99)))
        print("resident memory                 %6.1f MB" % resident_mb(pid))
        print("station killed to said          %6.0f ms" % said(window, daemon.process.kill, "lost"))
        window.close()
        screen.close()
    bus_gone()
    for name in ("display_bench", "cue_bench"):
        print("\n" + name, flush=True)
        subprocess.run([os.path.join(BIN, name)], check=True, timeout=600)


if __name__ == "__main__":
    main()
