# SPDX-License-Identifier: MIT
"""What is heard of a real batch: the display's own sound, written down by SDL's disk
driver, and what there is instead where it must not or cannot be heard."""
import os
import subprocess
import time
import unittest

from ambo_bus import BIN, Daemon, Hands, main, until
from display_window import WAIT_S, Screen, Window

TRUE_SPEED = ('seed = 7; rate_hz = 80; speed = 1.0; noise_g = 0.05; '
              'warm_up_counts_per_s = 0.0; state = "bench.state";')
QUICK = TRUE_SPEED.replace("speed = 1.0", "speed = 8.0")
RATE = 48000


class Note:
    def __init__(self, line):
        self.begin, self.end, self.hz = (int(n) for n in line.split())

    def is_at(self, hz, within=15):
        return abs(self.hz - hz) <= within


def text_of(path):
    try:
        with open(path) as file:
            return file.read()
    except FileNotFoundError:
        return ""


def hear(path):
    """Notes, share of energy from 500 to 1500 Hz, loudest sample."""
    out = subprocess.run([os.path.join(BIN, "hear"), path], capture_output=True, text=True,
                         timeout=120, check=True).stdout.splitlines()
    return ([Note(line) for line in out[:-2]], float(out[-2].split()[1]),
            float(out[-1].split()[1]))


class Person(Hands):
    """Pours A until the cue says so, B as Hands do; looks at a verdict before going on."""

    def __init__(self, daemon, window):
        super().__init__(daemon, rate=6.0)
        self.window, self.hand_s = window, 4.0
        self.judged = None  # since when

    def pour(self, component, left, message):
        if component != "a" or self.pouring is None:
            super().pour(component, left, message)
        elif " sound=tip-back" in self.window.line():
            time.sleep(0.2)  # a person's reaction
            self.daemon.act("stop", 0.25)
            self.pouring = None

    def answer(self, step, message, means):
        if message not in ("charge-done", "ratio-within"):
            self.judged = None
        elif self.judged is None:
            self.judged = time.monotonic()
        if self.judged is None or time.monotonic() - self.judged > 1.5:
            super().answer(step, message, means)


class Sound(unittest.TestCase):
    def station(self, options):
        self.daemon = Daemon(options=options)
        self.addCleanup(self.daemon.close)
        self.daemon.start()
        self.screen = Screen()
        self.addCleanup(self.screen.close)

    def window(self, settings, driver="disk"):
        self.settings = self.daemon.path("display.conf")
        self.recording = self.daemon.path("sound.raw")
        with open(self.settings, "w") as file:
            file.write("first_run_done = true;\n" + settings)
        window = Window(self.screen, "--settings", self.settings,
                        env={"SDL_AUDIODRIVER": driver, "SDL_DISKAUDIOFILE": self.recording})
        self.addCleanup(window.close)
        window.wait(r"^shown home .* link=up")
        return window

    def to_sound(self, window):
        for screen, name in ((11, "bench"), (8, "settings"), (9, "sound")):
            window.click_to("^shown %s " % name, "go", screen)

    def learnt(self):
        return [line.split("\t")[:3] for line in text_of(self.settings + ".stops").splitlines()]

    def beats(self, notes, hz):
        """The first train of single beats at that pitch: where they begin."""
        first = next(i for i, note in enumerate(notes) if note.is_at(hz))
        last = first
        while last + 1 < len(notes) and notes[last + 1].is_at(hz):
            last += 1
        return [note.begin for note in notes[first:last + 1]]

    def test_a_batch_is_heard_from_the_question_to_the_last_two_notes(self):
        self.station(TRUE_SPEED)
        window = self.window("sound_level = 1.0;\n")
        self.daemon.begin(TotalGrams=120.0)
        # Did you hear it? One press, and the batch is there.
        window.wait(r"^shown heard ready")
        until("the test tone's second round", lambda: os.path.getsize(self.recording) > 4 * RATE * 5)
        window.key()
        window.wait(r"^shown batch ready read-back")
        self.assertEqual(str(self.daemon.get("batch", "Step")), "ready")
        window.key()
        Person(self.daemon, window).mix(timeout=180)
        window.wait(r"^shown batch done done")
        self.check_order(window)
        notes, share, loudest = hear(self.recording)
        self.check_question(notes)
        self.check_charge_a(notes)
        self.check_charge_b(notes)
        self.assertGreater(share, 0.75)
        self.assertLess(loudest, 1.0)
        # The stop was learnt from, and one press forgets it.
        self.assertIn(["1", "a", "tidepool-clear"], self.learnt())
        window.key()
        window.wait(r"^shown home")
        self.to_sound(window)
        window.click("sound", 5)
        window.wait(r"^shown sound .* notice", 0)
        self.assertEqual(self.learnt(), [])

    def check_order(self, window):
        heard = []
        for line in window.lines:
            for word in line.split():
                if word.startswith("sound=") and (not heard or heard[-1] != word[6:]):
                    heard.append(word[6:])
        text = " ".join(heard)
        # At rest and not yet judged it is near again: more may still be poured.
        charge = r"pulse near tip-back ((wait|tip-back|near) )*in-band "
        self.assertRegex(text + " ", charge + ".*" + charge)

    def check_question(self, notes):
        self.assertTrue(notes[0].is_at(600) and notes[1].is_at(900), notes[0].hz)
        self.assertTrue(notes[2].is_at(600) and notes[3].is_at(900))
        self.assertLess(abs(notes[1].begin - notes[0].begin - 0.4 * RATE), 100)

    def check_charge_a(self, notes):
        a = self.beats(notes, 660)
        # One beat every 1.2 s, as exactly as the device counts; the last may be the first of
        # the near train, which begins at the same pitch.
        steps = [after - before for before, after in zip(a[:-2], a[1:-1])]
        self.assertGreater(len(steps), 2)
        self.assertTrue(all(abs(step - 1.2 * RATE) <= 2 for step in steps), steps)
        drop = next(note for note in notes if note.begin > a[-1] and note.is_at(520))
        near = [note for note in notes if a[-1] < note.begin < drop.begin]
        self.assertGreater(len(near), 3)
        self.assertTrue(all(640 < note.hz < 1010 for note in near), [n.hz for n in near])
        self.assertGreater(near[-1].hz, near[0].hz + 100)
        steps = [after.begin - before.begin for before, after in zip(near[1:-1], near[2:-1])]
        self.assertTrue(all(abs(step - 0.6 * RATE) <= 2 for step in steps), steps)
        # Silence is never a message: from the first beat to the drop it never lasts.
        begins = a + [note.begin for note in near] + [drop.begin]
        self.assertLess(max(y - x for x, y in zip(begins, begins[1:])), 1.25 * RATE)
        # The two soft notes, and none of them again.
        band = self.in_band(notes, drop.begin)
        after = [n for n in notes if band.begin < n.begin < band.begin + 3 * RATE]
        self.assertFalse([n.hz for n in after if self.is_last(n)])

    def in_band(self, notes, since):
        """The second of the two notes: longer than any beat, even than two that meet. What
        rings on of a beat may run into the first, so that one need only sound before."""
        high = next(note for note in notes if note.begin > since and self.is_last(note))
        self.assertTrue([note for note in notes
                         if note.begin <= high.begin - 0.27 * RATE < note.end])
        return high

    def is_last(self, note):
        return note.is_at(988) and 0.45 < (note.end - note.begin) / RATE < 0.6

    def check_charge_b(self, notes):
        """Twice a beat, 130 ms apart, and of another timbre: B is not A."""
        band = self.in_band(notes, 0)
        b = [note for note in notes if note.begin > band.end and note.is_at(660, 20)]
        pairs = [after.begin - before.begin for before, after in zip(b, b[1:])
                 if after.begin - before.begin < 0.3 * RATE]
        self.assertGreater(len(pairs), 2)
        self.assertTrue(all(abs(step - 0.13 * RATE) <= 3 for step in pairs), pairs)

    def test_in_quiet_mode_nothing_is_heard_and_the_edge_says_it(self):
        self.station(QUICK)
        window = self.window("quiet = true;\n")
        self.daemon.begin(TotalGrams=330.0)
        window.wait(r"^shown batch ready")  # nobody is asked what cannot be heard
        hands = Hands(self.daemon)
        until("a pour", lambda: hands.look() or hands.pouring)
        window.wait(r" sound=(pulse|near) lit ", 0)
        since = len(window.lines)
        window.wait(r" sound=\S+ (?!lit)", since)
        window.wait(r" sound=\S+ lit ", since)
        hands.stop()
        window.close()
        _, _, loudest = hear(self.recording)
        self.assertEqual(loudest, 0.0)

    def test_a_station_that_dies_in_mid_pour_is_heard(self):
        self.station(QUICK)
        window = self.window("sound_level = 1.0;\n")
        self.daemon.begin(TotalGrams=330.0)
        window.wait(r"^shown heard")
        window.click("sound", 6)
        hands = Hands(self.daemon)
        until("a pour", lambda: hands.look() or hands.pouring)
        window.wait(r" sound=(pulse|near)", 0)
        self.daemon.kill()
        window.wait(r"link=lost sound=silent")
        size = os.path.getsize(self.recording)
        until("two seconds of it", lambda: os.path.getsize(self.recording) > size + 8 * RATE)
        window.close()
        notes, _, _ = hear(self.recording)
        five = [note.begin for note in notes if note.is_at(1180)]
        self.assertGreaterEqual(len(five), 5)
        self.assertTrue(all(abs(b - a - 0.11 * RATE) <= 60 for a, b in zip(five[:4], five[1:5])))

    def test_a_sound_device_that_is_not_there_is_one_sentence(self):
        self.station(QUICK)
        window = self.window("", driver="no-such-driver")
        lines = [line for line in window.said().splitlines() if line.startswith("ambo-display:")]
        self.assertEqual(len(lines), 1, lines)
        self.assertIn("sound: no device", lines[0])
        self.daemon.begin(TotalGrams=330.0)
        window.wait(r"^shown batch ready")  # what cannot be heard is not asked
        hands = Hands(self.daemon)
        until("a pour", lambda: hands.look() or hands.pouring)
        window.wait(r" sound=(pulse|near)", 0)
        hands.stop()

    def test_no_sound_is_an_answer_and_is_kept(self):
        self.station(QUICK)
        window = self.window("")
        self.daemon.begin(TotalGrams=330.0)
        window.wait(r"^shown heard ready")
        window.click_to(r"^shown batch ready", "sound", 7)
        until("the file", lambda: "quiet = true" in text_of(self.settings))

    def test_speech_that_cannot_be_had_is_said_and_stays_off(self):
        self.station(QUICK)
        window = self.window("")
        window.close()
        folder = self.daemon.path("empty")
        os.mkdir(folder)
        window = Window(self.screen, "--settings", self.settings, env={"PATH": folder})
        self.addCleanup(window.close)
        window.env["PATH"] = os.environ["PATH"]  # for xdotool
        window.wait(r"^shown home .* link=up")
        self.to_sound(window)
        window.click_to(r"^shown sound .* notice", "sound", 3)
        self.assertNotIn("speech = true", text_of(self.settings))

    def test_a_sentence_is_spoken_when_it_is_new_and_ends_before_tip_back(self):
        """espeak-ng is played by a script: when it began and how it ended is written down."""
        self.station(TRUE_SPEED)
        self.daemon.stop()
        self.daemon.start()
        folder, log = self.daemon.path("bin"), self.daemon.path("spoken")
        os.mkdir(folder)
        with open(os.path.join(folder, "espeak-ng"), "w") as file:
            file.write('#!/bin/sh\necho "$3" >>"%s"\necho $$ >"%s.pid"\nexec sleep 30\n' % (log, log))
        os.chmod(os.path.join(folder, "espeak-ng"), 0o755)
        with open(self.daemon.path("display.conf"), "w") as file:
            file.write("first_run_done = true;\nspeech = true;\n")
        window = Window(self.screen, "--settings", self.daemon.path("display.conf"),
                        env={"PATH": folder + ":" + os.environ["PATH"]})
        self.addCleanup(window.close)
        self.daemon.begin(TotalGrams=120.0)
        window.wait(r"^shown heard ready")
        window.key()
        until("a sentence", lambda: "Press when it agrees" in text_of(log))
        window.key()
        person = Person(self.daemon, window)
        until("the near zone", lambda: person.look() or " sound=near" in window.line(), 120)
        # Nobody speaks now, whatever was being said.
        pid = int(text_of(log + ".pid"))
        until("it to be still", lambda: not os.path.exists("/proc/%d" % pid))
        person.stop()


if __name__ == "__main__":
    main()
