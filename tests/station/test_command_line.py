# SPDX-License-Identifier: MIT
"""What `ambo` says to a command line: help, mistakes, exit statuses."""
import json
import os
import re
import shutil
import subprocess
import tempfile
import unittest

import ambo_station
from ambo_station import AMBO, TOP, ambo

COMMANDS = ["watch", "mix", "press", "hold", "discard", "again", "divide", "systems", "records",
            "weigh", "plan", "piece", "clocks", "rehearse", "bench"]


class CommandLine(unittest.TestCase):
    def test_help_is_everywhere_and_names_the_exit_statuses(self):
        for args in [["--help"]] + [[c, "--help"] for c in COMMANDS]:
            with self.subTest(args=args):
                out = ambo(*args)
                self.assertEqual(out.returncode, 0)
                self.assertTrue(out.stdout.startswith("usage: ambo "), out.stdout)
                self.assertIn("3 no station on the bus", out.stdout.replace("\n", " "))
                self.assertEqual(out.stderr, "")

    def test_the_list_of_commands_is_the_manual_pages(self):
        listed = ambo("--help").stdout
        with open(os.path.join(TOP, "display", "terminal", "ambo.1")) as page:
            manual = page.read()
        for command in COMMANDS:
            self.assertIn("\n  %s " % command.ljust(10), listed)
            self.assertRegex(manual, r"\n\.BR? .*\b%s\b" % command)

    def test_the_manual_names_every_key_of_a_plan_and_a_cure(self):
        with open(os.path.join(TOP, "display", "terminal", "ambo.1")) as page:
            plan_page, cure_page = re.search(
                r"\n\.SH A PLAN AS JSON\n(.*)\n\.SH A CURE AS JSON\n(.*?)\n\.SH ", page.read(),
                re.S).groups()

        def keys(value):
            if isinstance(value, dict):
                for key, inner in value.items():
                    yield key
                    yield from keys(inner)
            elif isinstance(value, list):
                for inner in value:
                    yield from keys(inner)

        piece = os.path.join(TOP, "config", "demo", "pieces", "fern-clock.conf")
        layer = ("cure", "--json", "--system", "fast", "--at-s", "60", "--depth-mm", "3")
        cup = ("cure", "--json", "--system", "fast", "--cup-g", "100")
        for args, text in (("plan", piece, "--json"), plan_page), (layer, cure_page), (cup, cure_page):
            named = set(re.findall(r"[a-z][a-z0-9_]*", text))
            got = set(keys(json.loads(ambo(*args).stdout)))
            self.assertTrue(got)
            self.assertEqual(got - named, set())

    def test_the_manual_is_well_formed(self):
        if shutil.which("man") is None:
            self.skipTest("man is not here")
        done = subprocess.run(["man", "--warnings", "-l",
                               os.path.join(TOP, "display", "terminal", "ambo.1")],
                              capture_output=True, text=True,
                              env=dict(os.environ, MANPAGER="cat", LC_ALL="C"))
        self.assertEqual((done.returncode, done.stderr), (0, ""))

    def test_times_of_a_cure_come_back_as_they_were_asked(self):
        out = ambo("cure", "--json", "--system", "fast", "--depth-mm", "3", "--at-s", "900,60",
                   "--at-s", "60")
        at = json.loads(out.stdout)["at"]
        self.assertEqual([one["t_s"] for one in at], [900, 60, 60])
        self.assertEqual(at[1], at[2])
        self.assertGreater(at[0]["middle_conversion"], at[1]["middle_conversion"])

    def test_mistakes_are_one_sentence_and_exit_2(self):
        mistakes = [
            [], ["nonsense"], ["--bus", "x", "watch"], ["--bus"], ["--nonsense"],
            ["--wait", "-1", "watch"], ["watch", "--csv", "--json"], ["watch", "--count", "1.5"],
            ["watch", "more"], ["press", "--batch", "0"], ["press", "7"], ["divide"],
            ["divide", "--mass", "0"], ["divide", "--mass", "nan"], ["discard"],
            ["mix", "demo"], ["mix", "demo", "--total", "1", "--volume", "1"],
            ["mix", "demo", "--total", "330,5"], ["mix", "--total", "330"], ["mix", "a", "b"],
            ["rehearse"], ["rehearse", "demo"], ["rehearse", "demo", "--total", "1", "--seed", "x"],
            ["records", "--csv", "--json"], ["records", "0"], ["records", "x"],
            ["records", "--curve"], ["records", "--limit", "0"], ["bench"], ["bench", "cup", "x"],
            ["weigh", "--csv", "--json"], ["weigh", "x", "--counts-per-gram", "0"],
            ["weigh", "x", "--config", "d", "--zero-counts", "1"],
            ["plan"], ["plan", "x", "--room", "99"], ["piece"], ["piece", "paint"], ["piece", "show"],
            ["piece", "dry"], ["piece", "dry", "x", "-1"], ["piece", "report", "x"],
            ["piece", "poured", "x", "--a", "1"], ["piece", "room"], ["piece", "check", "x"],
            ["clocks", "x"],
        ]
        for args in mistakes:
            with self.subTest(args=args):
                out = ambo(*args)
                self.assertEqual(out.returncode, 2)
                if args:
                    self.assertEqual(out.stdout, "")
                    self.assertEqual(out.stderr.count("\n"), 1, out.stderr)
                    self.assertTrue(out.stderr.startswith("ambo: "), out.stderr)

    def test_without_a_station_every_command_says_so_and_exits_3(self):
        for args in [["watch"], ["mix"], ["mix", "s", "--total", "1"], ["press"], ["hold"],
                     ["discard", "--yes"], ["again"], ["divide", "--mass", "1"], ["systems"],
                     ["records"], ["clocks"], ["piece", "list"], ["records", "--verify"], ["weigh"], ["bench", "wipe"],
                     ["rehearse", "s", "--total", "1"]]:
            with self.subTest(args=args):
                out = ambo("--bus", "session", *args)
                self.assertEqual(out.returncode, 3)
                self.assertIn("no station on the session bus", out.stderr)
                self.assertEqual(out.stdout, "")

    def test_without_any_bus_it_says_so_too(self):
        env = {"PATH": os.environ["PATH"], "DBUS_SESSION_BUS_ADDRESS": "unix:path=/nonexistent"}
        out = ambo("--bus", "session", "watch", env=env)
        self.assertEqual(out.returncode, 3)

    def test_a_full_disk_behind_standard_output_is_a_failure(self):
        with open("/dev/full", "w") as full:
            out = subprocess.run([AMBO, "--help"], stdout=full, stderr=subprocess.PIPE, timeout=20)
            trace = os.path.join(ambo_station.DATA, "synth_pour_10sps.csv")
            weigh = subprocess.run([AMBO, "weigh", trace], stdout=full, stderr=subprocess.PIPE,
                                   timeout=20)
        self.assertEqual(weigh.returncode, 1)
        self.assertIn(b"standard output", weigh.stderr)
        self.assertEqual(out.returncode, 1)


class Scripts(unittest.TestCase):
    """The two scripts, where they must refuse."""

    def run_script(self, *args, **kwargs):
        return subprocess.run(["sh", *args], capture_output=True, text=True, timeout=60, **kwargs)

    def test_wrong_options_exit_2(self):
        for script in ["config/try.sh", "tests/run.sh"]:
            path = os.path.join(TOP, script)
            self.assertEqual(self.run_script(path, "--nonsense").returncode, 2)
            self.assertEqual(self.run_script(path, "--help", cwd="/").returncode, 0)
        self.assertEqual(self.run_script(os.path.join(TOP, "config/try.sh"), "--seed").returncode,
                         2)

    @unittest.skipUnless(os.getuid() == 0, "needs root, to become someone without its rights")
    def test_without_rights_and_with_packages_missing_they_say_what_to_install(self):
        with tempfile.TemporaryDirectory() as folder:
            os.chmod(folder, 0o755)
            for name, says in [("dpkg-query", 'case "$*" in *cmake*) exit 1;; esac; echo installed'),
                               ("sudo", "exit 1")]:
                path = os.path.join(folder, name)
                with open(path, "w") as file:
                    file.write("#!/bin/sh\n%s\n" % says)
                os.chmod(path, 0o755)
            for script in ["config/try.sh", "tests/run.sh"]:
                # The tree may lie where nobody else can look: hand them a copy of the list.
                copy = os.path.join(folder, "tree")
                for name in ["config", "tests"]:
                    os.makedirs(os.path.join(copy, name), exist_ok=True)
                for name in [script, "config/install.sh", "config/packages"]:
                    with open(os.path.join(TOP, name)) as old, \
                            open(os.path.join(copy, name), "w") as new:
                        new.write(old.read())
                env = dict(os.environ, PATH=folder + ":" + os.environ["PATH"], TMPDIR=folder)
                os.chmod(folder, 0o777)
                out = self.run_script(os.path.join(copy, script), env=env, cwd="/",
                                      preexec_fn=lambda: (os.setgroups([]), os.setgid(65534),
                                                          os.setuid(65534)))
                self.assertEqual(out.returncode, 1, out.stdout + out.stderr)
                self.assertIn("apt-get install -y --no-install-recommends cmake", out.stderr)
                self.assertNotIn("Building", out.stdout, "it stops there")


if __name__ == "__main__":
    ambo_station.main()
