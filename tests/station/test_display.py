# SPDX-License-Identifier: MIT
"""The touch display against the real station on the simulated bench: whole batches by
mouse, by finger and by foot, and what goes wrong around it."""
import glob
import json
import os
import shutil
import subprocess
import tempfile
import time
import unittest

import dbus

from ambo_bus import SYSTEM, Daemon, Hands, main, until
from display_window import DISPLAY, LANGUAGES, Presses, Screen, Window

SHOTS = os.environ.get("AMBO_SHOTS", "")  # where pictures of every step are kept
OPTIONS = ('seed = 7; rate_hz = 80; speed = 8.0; noise_g = 0.05; '
           'warm_up_counts_per_s = 0.0; state = "bench.state";')


class Bottles(Hands):
    """Hands that never press: they rest bottles on the pan, and bring the cup back."""

    def __init__(self, daemon, gross_g):
        super().__init__(daemon)
        self.gross_g = gross_g
        self.shown = None  # the bottle on the pan
        self.since = 0.0

    def look(self):
        shown = self.daemon.all("batch")
        step, message = str(shown["Step"]), str(shown["Message"])
        if self.shown:
            self.take_off(step, message)
        elif step == "ready":
            self.put_on("a")
        elif message == "charge-done":
            self.stop()
            self.put_on("b")
        elif step in ("stir", "pour") and self.cup in ("lifted", "pan"):
            self.seen.append((step, message))
            self.around(step, shown)
        else:
            return super().look()
        return False

    def put_on(self, part):
        self.daemon.act("object", self.gross_g[part])
        self.shown, self.since = part, None

    def take_off(self, step, message):
        """Two seconds of the bench's after it was known, and some."""
        if self.since is None and message == "bottle-known":
            self.since = time.monotonic()
        if self.since is not None and time.monotonic() - self.since > 0.6:
            self.daemon.act("object", -self.gross_g[self.shown])
            self.shown = None
            until("the place it left", lambda: str(self.daemon.get("batch", "Step")) != step)

    def around(self, step, shown):
        """Stirred, back on the pan; lifted, poured out, the empty cup back on the pan."""
        if step == "stir" and self.cup == "lifted":
            if shown["Quantities"].get("StirLeftSeconds", 1.0) <= 0.0:
                self.daemon.act("return")
                self.cup = "pan"
        elif step == "pour" and self.cup == "pan":
            self.daemon.act("lift")
            self.cup = "poured"
            self.daemon.act("empty", 1.0)
            time.sleep(0.5)
            self.daemon.act("return")

    def answer(self, step, message, means):
        super().answer(step, message, "nothing")


class Display(unittest.TestCase):
    def setUp(self):
        self.daemon = Daemon(options=OPTIONS)
        self.addCleanup(self.daemon.close)
        self.daemon.start()
        self.until_warm()
        self.screen = Screen()
        self.addCleanup(self.screen.close)

    def until_warm(self):
        """The corner says so until the zero has been at rest for 20 s of the bench's time."""
        until("a warm scale", lambda: not self.daemon.get("scale", "Condition"))

    def window(self, *args, **more):
        if SHOTS:
            more.setdefault("shots", os.path.join(SHOTS, self.id().split(".")[-1]))
        window = Window(self.screen, *args, **more)
        self.addCleanup(window.close)
        return window

    def look_at_start(self, window, suffix="", turn=0):
        window.wait(r"^shown batch ready read-back start")
        window.look("ready" + suffix, turn)

    def mix(self, window, press, suffix="", turn=0):
        """From the batch's first step to its end, pressing by the display."""
        looked = []

        def look_and_press():
            if not looked and "charge-done" in window.line():
                window.look("charge-done" + suffix, turn)
                looked.append(True)
            press()
        hands = Hands(Presses(self.daemon, look_and_press))
        hands.mix()
        window.wait(r"^shown batch done done")
        record = json.loads(self.daemon.canonical(1))
        self.assertEqual((record["step"], record["verdict"]), ("done", "within"))
        return [line.split()[1:4] for line in window.lines]

    def in_order(self, shown, *wanted):
        """The messages wanted come in this order, whatever comes between."""
        at = 0
        for message in wanted:
            rest = [entry[2] for entry in shown[at:]]
            self.assertIn(message, rest, "%s not after %r in %r" % (message, wanted, shown))
            at += rest.index(message) + 1

    # At eight times true speed the verdict may stand too shortly to be sent.
    STEPS = ("read-back", "add", "charge-done", "add", "pour", "done")

    def test_a_batch_by_mouse(self):
        window = self.window()
        window.wait(r"^shown home .* link=up")
        window.look("home")
        window.click_to(r"^shown amount", "system", 0)
        # One tap is one act, whatever else SDL makes of a mouse.
        window.click_to(r"amount=230 ", "amount", -1000)
        window.click_to(r"amount=240 ", "amount", 100)
        time.sleep(0.3)
        self.assertIn("amount=240 ", window.line())
        window.look("amount")
        window.click("begin")
        self.look_at_start(window)
        shown = self.mix(window, lambda: window.target("press") and window.click("press"))
        self.in_order(shown, *self.STEPS)
        window.look()
        # The record of the batch just made, then the way home.
        window.click_to(r"^shown record", "record", -1)
        window.click_to(r"^shown records", "go")
        window.click_to(r"^shown home .* again/0", "go")

    def test_a_batch_by_finger_on_a_turned_picture(self):
        self.screen = Screen("800x480")
        self.addCleanup(self.screen.close)
        window = self.window("--turn", "90", size="800x480", mm="154x92.4")
        window.finger_to(r"^shown amount", "system", 0)
        window.finger("begin")
        self.look_at_start(window, "-turned", 90)
        shown = self.mix(window, lambda: window.target("press") and window.finger("press"),
                         "-turned", 90)
        self.in_order(shown, *self.STEPS)
        window.look(turn=90)

    def test_a_batch_by_foot_alone(self):
        window = self.window()
        window.wait(r"^shown home .* link=up .*system")
        window.key()
        window.wait(r"^shown amount")
        window.key("F5")
        self.look_at_start(window)
        shown = self.mix(window, lambda: window.target("press") and window.key())
        self.in_order(shown, *self.STEPS)
        window.look()
        window.key()
        window.wait(r"^shown home .* again/0")
        window.key()  # the same again
        window.wait(r"^shown batch ready read-back start")

    def test_a_batch_with_no_press_at_all(self):
        """By the bottle check: what is rested on the pan says what a press would say."""
        self.daemon.stop()
        self.daemon.write("systems.d/tidepool-clear.conf", SYSTEM
                          .replace('lot = "TA-014";', 'lot = "TA-014"; bottle_gross_g = 1000.0;')
                          .replace('lot = "TB-009";', 'lot = "TB-009"; bottle_gross_g = 600.0;'))
        with open(self.daemon.path("ambo.conf")) as file:
            conf = file.read()
        self.daemon.write("ambo.conf", conf.replace("station: {", "station: { bottles_on_pan = true;"))
        self.daemon.start()
        self.until_warm()
        window = self.window()
        window.wait(r"^shown home .* link=up")
        self.daemon.begin(TotalGrams=330.0)
        self.look_at_start(window)
        hands = Bottles(self.daemon, {"a": 1000.0, "b": 600.0})
        hands.mix()
        window.wait(r"^shown batch done done")
        window.look()
        record = json.loads(self.daemon.canonical(1))
        self.assertEqual((record["step"], record["verdict"]), ("done", "within"))
        shown = [line.split()[1:4] for line in window.lines]
        self.in_order(shown, "read-back", "bottle-known", "add", "charge-done", "bottle-known",
                      "add", "pour", "done")
        self.assertEqual([entry["identity"] for entry in record["dispenses"]], ["bottle"] * 2)

    def test_the_station_killed_in_mid_pour_comes_back(self):
        window = self.window()
        self.daemon.begin(TotalGrams=330.0)
        hands = Hands(self.daemon)
        until("a pour", lambda: hands.look() or hands.pouring)
        window.wait(r"^shown batch charge add")
        since = len(window.lines)
        self.daemon.kill()
        window.wait(r"link=lost", since)
        # Nothing can be pressed, and the foot does nothing, while nobody answers.
        self.assertNotIn("@", window.line())
        window.key()
        since = len(window.lines)
        self.daemon.start()
        self.daemon.act("stop", 0.1)  # the bottle was still tilted
        window.wait(r"^shown batch .* link=up", since)
        hands = Hands(Presses(self.daemon, lambda: window.target("press") and window.click("press")))
        hands.cup = "pan"
        hands.mix()
        window.wait(r"^shown batch done done")

    def test_the_bus_itself_gone_is_said_and_lived_with(self):
        window = self.window("--bus", "session")
        window.wait(r"link=up")
        self.daemon.kill()
        window.wait(r"link=lost")
        self.daemon.start()
        window.wait(r"link=up")
        self.assertEqual(window.close(), 0)

    def test_a_silent_scale_is_held_and_comes_back(self):
        window = self.window()
        self.daemon.begin(TotalGrams=330.0)
        hands = Hands(self.daemon)
        until("a pour", lambda: hands.look() or hands.pouring)
        hands.stop()
        self.daemon.act("unplug")
        window.wait(r"^shown batch held scale-silent")
        self.daemon.act("plug")
        window.wait(r"^shown batch (charge|held) (?!scale-silent)")

    def test_discarding_takes_two_touches_and_never_the_foot(self):
        window = self.window()
        self.daemon.begin(TotalGrams=330.0)
        window.wait(r"^shown batch ready")
        window.click_to(r"^shown batch held held-by-hand", "hold")
        first = window.until_target("ask")
        window.click_to(r"^shown discard", "ask")
        # The same place again keeps the batch.
        x, y = first
        window.finger_at(x / 1024, y / 600)
        window.wait(r"^shown batch held")
        window.click_to(r"^shown discard", "ask")
        # So does the foot; and a finger under which the screen changes means nothing.
        window.finger_at(x / 1024, y / 600, 900)
        time.sleep(0.4)
        window.key()
        window.wait(r"^shown batch held")
        time.sleep(1.0)
        self.assertEqual(window.screen(), "batch")
        self.assertEqual(str(self.daemon.get("batch", "Step")), "held")
        window.click_to(r"^shown discard", "ask")
        window.click_to(r"^shown batch discarded", "discard")

    def test_a_wet_glove_is_said_and_a_splash_is_nothing(self):
        window = self.window()
        window.wait(r"^shown home .*go/11")
        window.finger("go", 11, hold_ms=20)
        window.finger("go", 11, hold_ms=5600)
        window.wait(r"^shown home .* wipe", 0)
        self.assertEqual(window.screen(), "home")
        window.finger_to(r"^shown bench", "go", 11)
        self.assertNotIn(" wipe", window.line())

    def test_a_touch_that_wakes_only_wakes(self):
        settings = self.daemon.path("display.conf")
        with open(settings, "w") as file:
            file.write("first_run_done = true;\nblank_min = 0.03;\n")
        window = self.window("--settings", settings)
        window.wait(r" asleep")
        window.key()  # a busy machine may not have shown a thing before
        x, y = window.target("go", 11, window.wait(r"^shown home .* go/11", 0))
        window.wait(r" asleep")
        window.finger_at(x / 1024, y / 600)
        window.wait(r"^shown home (?!.*asleep)")
        time.sleep(0.5)
        self.assertEqual(window.screen(), "home")
        window.finger_to(r"^shown bench", "go", 11)
        # In a batch nothing blanks.
        self.daemon.begin(TotalGrams=330.0)
        window.wait(r"^shown (heard|batch) ready")
        time.sleep(3.0)
        self.assertNotIn("asleep", window.line())

    def test_the_first_run_is_asked_once_and_kept(self):
        settings = self.daemon.path("display.conf")
        window = self.window("--settings", settings)
        window.wait(r"^shown first .* link=up")
        window.click("hand")
        window.click("next")
        window.click_to(r"^shown first .*question=2 ", "sound", 6)
        window.click("language")
        window.click("next")
        for question in (3, 4, 5):
            window.wait(r"^shown first .*question=%d " % question)
            window.click("later")
        window.wait(r"^shown home")
        with open(settings) as file:
            text = file.read()
        self.assertIn('hand = "left"', text)
        self.assertIn("first_run_done = true", text)
        self.assertNotIn('language = "en"', text)
        window.close()
        self.window("--settings", settings).wait(r"^shown home .* link=up")

    def test_two_displays_in_two_languages_show_one_batch(self):
        one = self.window("--language", "en")
        other = self.window("--language", "de", "--hand", "left")
        one.wait(r"^shown home .* link=up")
        other.wait(r"^shown home .* link=up")
        self.daemon.begin(TotalGrams=330.0)
        one.wait(r"^shown batch ready read-back")
        other.wait(r"^shown batch ready read-back")
        other.finger("press")
        one.wait(r"^shown batch cup place-cup")
        other.wait(r"^shown batch cup place-cup")

    def test_what_the_station_refuses_is_said_in_the_displays_language(self):
        window = self.window("--language", "de")
        window.wait(r"^shown home .* link=up")
        window.click_to(r"^shown amount", "system", 0)
        self.daemon.call("scale", "StartCalibration", "a{sv}", dbus.Dictionary(signature="sv"))
        window.click_to(" said=Eine Kalibrierung hat die Waage: erst beenden oder abbrechen.$",
                        "begin")


class Refusals(unittest.TestCase):
    """One sentence, and an exit status; or one sentence, and it goes on."""

    def run_display(self, *args, env=None):
        return subprocess.run([DISPLAY, *args], capture_output=True, text=True, timeout=60,
                              env=env, check=False)

    def render(self, *args, env=None):
        state = os.path.join(os.environ["AMBO_TOP"], "tests", "data", "display", "add-a.json")
        return self.run_display("--render", "auto", state, "--languages", LANGUAGES, *args, env=env)

    def one_sentence(self, result, words, status):
        self.assertEqual(result.returncode, status, result.stderr)
        # Libraries may have their own say beside it.
        lines = [line for line in result.stderr.split("\n") if line.startswith("ambo-display:")]
        self.assertEqual(len(lines), 1, result.stderr)
        self.assertIn(words, lines[0])

    def test_what_cannot_be_is_refused(self):
        self.one_sentence(self.render("-o", "/dev/null", "--mm", "100x60", "--size", "800x480"),
                          "at least 154 x 86 mm", 2)
        self.one_sentence(self.run_display("--turn", "45"), "0, 90, 180 or 270", 2)
        self.one_sentence(self.run_display("--size", "big"), "WIDTHxHEIGHT", 2)
        self.one_sentence(self.run_display("--colour", "red"), "--colour", 2)
        self.one_sentence(self.run_display("--render", "home"), "a state file", 2)
        self.one_sentence(self.run_display("--render", "attic", "/dev/null", "-o", "/dev/null"),
                          "no screen \"attic\"", 2)
        self.one_sentence(self.run_display("--render", "home", "/nowhere.json", "-o", "/dev/null"),
                          "/nowhere.json", 1)
        self.one_sentence(self.run_display("--render", "home", "/dev/null", "-o", "/dev/null"),
                          "cannot be read as a state", 1)

    def test_a_missing_language_is_said_and_english_goes_on(self):
        self.one_sentence(self.render("-o", "/dev/null", "--language", "xx"),
                          "going on in English", 0)

    def test_a_missing_font_is_said_and_another_goes_on(self):
        folder = tempfile.mkdtemp(prefix="ambo-fonts.")
        self.addCleanup(shutil.rmtree, folder, ignore_errors=True)
        fonts = subprocess.run(["fc-list", ":family=DejaVu Sans", "file"], capture_output=True,
                               text=True, check=True).stdout.split(":")[0]
        if not fonts:
            self.skipTest("no second font on this machine")
        with open(os.path.join(folder, "fonts.conf"), "w") as file:
            file.write("<fontconfig><dir>%s</dir><cachedir>%s</cachedir></fontconfig>"
                       % (os.path.dirname(fonts), folder))
        env = dict(os.environ, FONTCONFIG_FILE=os.path.join(folder, "fonts.conf"))
        self.one_sentence(self.render("-o", "/dev/null", env=env), "Roboto is missing", 0)

    def test_no_screen_is_said_with_what_to_do(self):
        env = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
        result = self.run_display(env=env)
        self.one_sentence(result, "screen", 1)
        result = self.run_display(env=dict(env, DISPLAY=":4711"))
        self.one_sentence(result, "no window could be opened", 1)

    def runs_on(self, words, settings=None, args=(), env=None):
        """One sentence, and a picture all the same."""
        folder = tempfile.mkdtemp(prefix="ambo-runs-on.")
        self.addCleanup(shutil.rmtree, folder, ignore_errors=True)
        screen = Screen()
        self.addCleanup(screen.close)
        if settings is not None:
            with open(os.path.join(folder, "display.conf"), "w") as file:
                file.write(settings)
            args = ("--settings", os.path.join(folder, "display.conf"), *args)
        window = Window(screen, *args, env=env)
        self.addCleanup(window.close)
        window.wait(r"^shown (home|first) ")
        lines = [line for line in window.said().splitlines() if line.startswith("ambo-display:")]
        self.assertEqual(len(lines), 1, lines)
        self.assertRegex(lines[0], words)
        self.assertEqual(window.close(), 0)

    def test_a_wrong_rotation_that_was_set_is_said_and_it_runs_on(self):
        self.runs_on(r"display.conf:1: turn_deg: .*0, 90, 180 or 270", "turn_deg = 45;\n")

    def test_a_language_file_that_cannot_be_read_is_said_and_it_runs_on_in_english(self):
        folder = tempfile.mkdtemp(prefix="ambo-languages.")
        self.addCleanup(shutil.rmtree, folder, ignore_errors=True)
        os.makedirs(os.path.join(folder, "de", "LC_MESSAGES"))
        with open(os.path.join(folder, "de", "LC_MESSAGES", "ambo.mo"), "w") as file:
            file.write("this is no catalogue")
        self.runs_on("going on in English", args=("--languages", folder, "--language", "de"))

    def test_settings_that_cannot_be_read_are_said_and_it_runs_on_with_the_usual(self):
        self.runs_on(r"display.conf:2: ", "first_run_done = true;\nhand = = left;\n")

    def test_learnt_stops_that_cannot_be_read_are_said_with_their_line(self):
        folder = tempfile.mkdtemp(prefix="ambo-stops.")
        self.addCleanup(shutil.rmtree, folder, ignore_errors=True)
        settings = os.path.join(folder, "display.conf")
        with open(settings + ".stops", "w") as file:
            file.write("1\ta\ttidepool-clear\t250000 us\t3 stops\nrubbish\n")
        self.runs_on(r"display.conf.stops:2: ", args=("--settings", settings))

    def test_a_bare_screen_is_refused_with_what_is_missing(self):
        """No desktop and SDL's own back end for a bare screen: no card is here, or the
        user is in none of the groups."""
        env = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
        env["SDL_VIDEODRIVER"] = "kmsdrm"
        result = self.run_display(env=env)
        if glob.glob("/dev/dri/card*"):
            self.one_sentence(result, "bare screen", 1)
        else:
            self.one_sentence(result, "no /dev/dri/card*", 1)

    def test_the_glass_of_a_window_is_checked_too(self):
        screen = Screen()
        self.addCleanup(screen.close)
        env = dict(os.environ, DISPLAY=screen.name)
        self.one_sentence(self.run_display("--mm", "120x70", "--size", "800x480", env=env),
                          "120 x 72 mm", 1)


if __name__ == "__main__":
    main()
