# SPDX-License-Identifier: MIT
"""ambo-display in a real window on a screen of its own (Xvfb), seen through the lines it
tells and used as a person would: mouse and keys by xdotool, fingers through --touches."""
import os
import re
import shutil
import struct
import subprocess
import tempfile
import threading
import time
import zlib

BIN = os.environ["AMBO_BIN"]
DISPLAY = os.path.join(BIN, "ambo-display")
LANGUAGES = os.environ["AMBO_CATALOGUES"]
WAIT_S = 60.0
STEPS = os.path.join(os.environ["AMBO_TOP"], "tests", "data", "display", "steps")
MAKES_STEPS = False    # only make_display_steps.py says so
SAME_SHARE = 0.0005    # of the pixels
DIGITS_SHARE = 0.012   # a mass, a deviation, the pointer
EDGE_PX = 18           # 2.7 mm: it shows what the cue says at this moment,
CORNER_PX = 44         # and the corner what the scale does


def write_png(path, width, height, rows):
    """rows: of RGB bytes."""
    def chunk(name, data):
        return (struct.pack(">I", len(data)) + name + data +
                struct.pack(">I", zlib.crc32(name + data)))
    with open(path, "wb") as file:
        file.write(b"\x89PNG\r\n\x1a\n")
        file.write(chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)))
        file.write(chunk(b"IDAT", zlib.compress(b"".join(b"\0" + row for row in rows), 1)))
        file.write(chunk(b"IEND", b""))


def differs(one, other, turn=0):
    """The share of pixels that differ by much."""
    result = subprocess.run([os.path.join(BIN, "compare_pictures"), one, other, str(turn), str(EDGE_PX), str(CORNER_PX)],
                            capture_output=True, text=True, timeout=WAIT_S, check=False)
    if result.returncode != 0:
        raise AssertionError(result.stderr)
    return float(result.stdout)


class Screen:
    """An X server without a screen."""

    def __init__(self, size="1024x600"):
        read, write = os.pipe()
        self.folder = tempfile.mkdtemp(prefix="ambo-screen.")
        self.process = subprocess.Popen(
            ["Xvfb", "-displayfd", str(write), "-screen", "0", size + "x24", "-nolisten", "tcp",
             "-fbdir", self.folder],
            pass_fds=(write,), stdin=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        os.close(write)
        with os.fdopen(read) as file:
            number = file.readline().strip()
        if not number:
            raise AssertionError("Xvfb did not start")
        self.name = ":" + number

    def grab(self, path):
        """What is on the screen, as the server has it: an X window dump, to a PNG."""
        with open(os.path.join(self.folder, "Xvfb_screen0"), "rb") as file:
            data = file.read()
        head = struct.unpack(">25I", data[:100])
        width, height, stride, start = head[4], head[5], head[12], head[0] + 12 * head[19]
        rows = []
        for y in range(height):
            line = data[start + y * stride:start + y * stride + 4 * width]
            row = bytearray(3 * width)
            row[0::3], row[1::3], row[2::3] = line[2::4], line[1::4], line[0::4]
            rows.append(bytes(row))
        write_png(path, width, height, rows)

    def close(self):
        self.process.terminate()
        self.process.wait(WAIT_S)
        shutil.rmtree(self.folder, ignore_errors=True)


class Window:
    def __init__(self, screen, *args, size="1024x600", mm="154x90.2", shots=None,
                 env=None):
        self.screen_of = screen
        self.folder = tempfile.mkdtemp(prefix="ambo-window.")
        self.fifo = os.path.join(self.folder, "touches")
        os.mkfifo(self.fifo)
        self.size = [int(n) for n in size.split("x")]
        command = [DISPLAY, "--bus", "session", "--size", size, "--mm", mm, "--tell",
                   "--languages", LANGUAGES, "--touches", self.fifo, *args]
        self.shots = shots or os.path.join(self.folder, "shots")
        shutil.rmtree(self.shots, ignore_errors=True)
        os.makedirs(self.shots)
        command += ["--shots", self.shots]
        self.env = dict(os.environ, DISPLAY=screen.name, **{"SDL_AUDIODRIVER": "dummy", **(env or {})})
        self.env.pop("WAYLAND_DISPLAY", None)
        self.errors = open(os.path.join(self.folder, "errors"), "w+")
        self.process = subprocess.Popen(command, env=self.env, stdin=subprocess.DEVNULL,
                                        stdout=subprocess.PIPE, stderr=self.errors, text=True)
        self.lines = []
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()
        self.wait("^shown ")
        self.touches = open(self.fifo, "w")

    def _read(self):
        for line in self.process.stdout:
            self.lines.append(line.rstrip("\n"))

    def line(self):
        return self.lines[-1] if self.lines else ""

    def wait(self, what, since=None, timeout=WAIT_S):
        """The first line since that matches; since None: the newest."""
        end = time.monotonic() + timeout
        while time.monotonic() < end:
            found = self.lines[since:] if since is not None else self.lines[-1:]
            for line in found:
                if re.search(what, line):
                    return line
            if self.process.poll() is not None:
                break
            time.sleep(0.02)
        raise AssertionError("%r was never shown (status %r); last:\n%s\n%s" % (
            what, self.process.poll(), "\n".join(self.lines[-8:]), self.said()))

    def said(self):
        self.errors.flush()
        with open(os.path.join(self.folder, "errors")) as file:
            return file.read()

    def screen(self):
        return self.line().split()[1]

    def target(self, kind, value=None, line=None):
        """Where it is (was, in that line), in pixels of the window; None while it is not there."""
        for name, number, x, y in re.findall(r"([a-z-]+)/(-?\d+)@(\d+),(\d+)", line or self.line()):
            if name == kind and (value is None or int(number) == value):
                return int(x), int(y)
        return None

    def until_target(self, kind, value=None):
        end = time.monotonic() + WAIT_S
        while time.monotonic() < end:
            at = self.target(kind, value)
            if at:
                return at
            time.sleep(0.02)
        raise AssertionError("no target %s: %s" % (kind, self.line()))

    def xdotool(self, *args):
        subprocess.run(["xdotool", *[str(a) for a in args]], env=self.env, check=True,
                       timeout=WAIT_S)

    def click(self, kind, value=None):
        x, y = self.until_target(kind, value)
        self.xdotool("mousemove", x, y, "mousedown", 1, "sleep", 0.35, "mouseup", 1)

    def touch_to(self, what, touch, kind, value=None):
        """Touches until the display shows what: a touch of a busy machine may be too short
        or too long to count, and then nothing at all has come of it."""
        end = time.monotonic() + WAIT_S
        while time.monotonic() < end:
            self.until_target(kind, value)
            before = self.line()
            touch(kind, value)
            while time.monotonic() < end:
                try:
                    return self.wait(what, timeout=5.0)
                except AssertionError:
                    if self.process.poll() is not None or self.line() == before:
                        break
        return self.wait(what, timeout=0.1)

    def click_to(self, what, kind, value=None):
        return self.touch_to(what, self.click, kind, value)

    def finger_to(self, what, kind, value=None):
        return self.touch_to(what, self.finger, kind, value)

    def finger(self, kind, value=None, hold_ms=120):
        x, y = self.until_target(kind, value)
        self.finger_at(x / self.size[0], y / self.size[1], hold_ms)

    def finger_at(self, x, y, hold_ms=120):
        self.touches.write("down %.5f %.5f\nwait %d\nup %.5f %.5f\n" % (x, y, hold_ms, x, y))
        self.touches.flush()

    def newest_shot(self):
        names = sorted(name for name in os.listdir(self.shots) if name.endswith(".png"))
        return os.path.join(self.shots, names[-1]) if names else None

    def look(self, name=None, turn=0):
        """What the X server shows is what the display painted, turned as it should be; and
        that is, but for digits, edge and corner, the picture of this step which was approved
        by eye. Those are made by make_display_steps.py, which nothing else calls. No name: a
        step whose words hang on what was weighed."""
        grabbed = os.path.join(self.folder, "grabbed.png")
        approved = os.path.join(STEPS, name + ".png") if name else None
        end = time.monotonic() + WAIT_S
        if MAKES_STEPS:  # what stands, not what is on its way
            time.sleep(1.0)
        while True:
            self.screen_of.grab(grabbed)
            shot = self.newest_shot()
            shares = self.compare(grabbed, shot, approved, turn)
            if shares[0] < SAME_SHARE and shares[1] < DIGITS_SHARE:
                return
            if time.monotonic() > end:
                raise AssertionError("%s: %.2f %% of the screen is not what was painted, %.2f %% "
                                     "of that not as in %s" % (shot, 100 * shares[0],
                                                               100 * shares[1], approved))
            time.sleep(0.05)

    def compare(self, grabbed, shot, approved, turn):
        try:
            painted = differs(grabbed, shot, turn)
            if not approved:
                return painted, 0.0
            if MAKES_STEPS and painted < SAME_SHARE:
                shutil.copy(shot, approved)
            return painted, differs(shot, approved)
        except AssertionError:  # it is still being written
            return 1.0, 1.0

    def key(self, name="space"):
        self.xdotool("key", name)  # the newest window has the focus

    def close(self):
        if self.process.poll() is None:
            self.process.terminate()
        status = self.process.wait(WAIT_S)
        self.reader.join(WAIT_S)
        self.process.stdout.close()
        self.touches.close()
        self.errors.close()
        shutil.rmtree(self.folder, ignore_errors=True)
        return status


class Presses:
    """A station for Hands: pours at the bench, but presses by the display alone."""

    def __init__(self, daemon, press):
        self.daemon, self.by = daemon, press
        self.last = 0.0

    def __getattr__(self, name):
        return getattr(self.daemon, name)

    def press(self):
        # One tap, then a look at what came of it.
        if time.monotonic() - self.last > 0.5:
            self.by()
            self.last = time.monotonic()
