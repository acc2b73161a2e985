# SPDX-License-Identifier: MIT
"""What is installed for systemd and the bus, looked at by their own tools."""
import os
import pwd
import re
import shutil
import subprocess
import tempfile
import unittest

from ambo_bus import AMBOD, TOP, WAIT_S, main

BUILD = os.environ.get("AMBO_BUILD", os.path.dirname(os.environ["AMBO_BIN"]))


def run(*args, **more):
    return subprocess.run(args, capture_output=True, text=True, timeout=WAIT_S, **more)


class Installed(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.root = tempfile.mkdtemp(prefix="ambo-root.")
        done = run("cmake", "--install", BUILD, "--prefix", "/usr",
                   env=dict(os.environ, DESTDIR=cls.root))
        if done.returncode != 0:
            raise AssertionError(done.stderr)
        cls.usr = os.path.join(cls.root, "usr")

    @classmethod
    def tearDownClass(cls):
        shutil.rmtree(cls.root, ignore_errors=True)

    def installed(self, *names):
        path = os.path.join(self.usr, *names)
        self.assertTrue(os.path.exists(path), path)
        return path

    def verify(self, change=lambda text: text):
        """The installed unit, its program the one that was built, after `change`."""
        with open(self.installed("lib", "systemd", "system", "ambod.service")) as file:
            text = file.read()
        text = re.sub(r"^ExecStart=\S+", "ExecStart=" + AMBOD, text, flags=re.M)
        folder = tempfile.mkdtemp(prefix="ambo-unit.")
        self.addCleanup(shutil.rmtree, folder)
        path = os.path.join(folder, "ambod.service")
        with open(path, "w") as file:
            file.write(change(text))
        return run("systemd-analyze", "verify", "--man=no", "--recursive-errors=yes", path)

    def test_the_unit_has_nothing_to_complain_of(self):
        done = self.verify()
        self.assertEqual((done.returncode, done.stderr), (0, ""))

    def test_a_broken_unit_is_complained_of(self):
        for old, new in (("WatchdogSec=", "WatchdogSecs="), ("ProtectSystem=", "ProtectSytem="),
                         ("Type=notify", "Type=notifi"), ("WatchdogSec=15", "WatchdogSec=often"),
                         ("ExecStart=/", "ExecStart=/nowhere/")):
            done = self.verify(lambda text: text.replace(old, new))
            self.assertNotEqual(done.stderr, "", new)

    def test_the_unit_says_what_the_daemon_needs(self):
        with open(self.installed("lib", "systemd", "system", "ambod.service")) as file:
            text = file.read()
        for line in ("Type=notify", "User=ambo", "StateDirectory=ambo", "WatchdogSec=15",
                     "RestartPreventExitStatus=2", "ProtectSystem=strict", "NoNewPrivileges=yes"):
            self.assertIn("\n" + line + "\n", text)
        self.assertNotIn("\nPrivateDevices=", text)

    def test_the_user_is_made(self):
        root = tempfile.mkdtemp(prefix="ambo-sysusers.")
        self.addCleanup(shutil.rmtree, root)
        os.mkdir(os.path.join(root, "etc"))
        done = run("systemd-sysusers", "--root=" + root,
                   os.path.join(TOP, "systemd", "ambo.sysusers"))
        self.assertEqual(done.returncode, 0, done.stderr)
        with open(os.path.join(root, "etc", "passwd")) as file:
            self.assertRegex(file.read(), r"(?m)^ambo:x:\d+:\d+:Ambo mixing station:/var/lib/ambo:")
        with open(os.path.join(root, "etc", "group")) as file:
            text = file.read()
        self.assertRegex(text, r"(?m)^ambo:x:\d+:")
        self.assertRegex(text, r"(?m)^ambo-keeper:x:\d+:")

    def test_the_folders_are_made(self):
        root = tempfile.mkdtemp(prefix="ambo-tmpfiles.")
        self.addCleanup(shutil.rmtree, root)
        me = pwd.getpwuid(os.getuid()).pw_name
        with open(self.installed("lib", "tmpfiles.d", "ambo.conf")) as file:
            text = file.read().replace(" ambo ambo ", " %s - " % me)
        path = os.path.join(root, "ambo.conf")
        with open(path, "w") as file:
            file.write(text.replace(" root root ", " %s - " % me))
        done = run("systemd-tmpfiles", "--root=" + root, "--create", path)
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        state = os.path.join(root, "var", "lib", "ambo")
        self.assertEqual(os.stat(state).st_mode & 0o7777, 0o700)

    def test_everything_else_is_installed(self):
        for names in (("bin", "ambod"), ("share", "man", "man8", "ambod.8"),
                      ("share", "man", "man5", "ambo.conf.5"),
                      ("share", "dbus-1", "system.d", "org.ambo.Station.conf"),
                      ("lib", "sysusers.d", "ambo.conf"),
                      ("share", "doc", "ambo", "examples", "systems.d", "tidepool-clear.conf")):
            self.installed(*names)

    def test_the_man_pages_are_well_formed(self):
        if shutil.which("man") is None:
            self.skipTest("man is not here")
        for section, name in (("man8", "ambod.8"), ("man5", "ambo.conf.5")):
            done = run("man", "--warnings", "-l", self.installed("share", "man", section, name),
                       env=dict(os.environ, MANPAGER="cat", LC_ALL="C"))
            self.assertEqual((done.returncode, done.stderr), (0, ""))


@unittest.skipUnless(os.getuid() == 0, "only root can be several users")
class Policy(unittest.TestCase):
    """The bus policy in a dbus-daemon of its own. The policy names users and groups;
    here `ambo` stands for two accounts that every Debian has."""
    OWNER, MEMBERS, STRANGER = "daemon", "games", "nobody"

    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="ambo-policy.")
        self.addCleanup(shutil.rmtree, self.folder)
        os.chmod(self.folder, 0o755)
        with open(os.path.join(TOP, "systemd", "org.ambo.Station.conf")) as file:
            policy = file.read()
        policy = policy.replace('user="ambo"', 'user="%s"' % self.OWNER)
        policy = policy.replace('group="ambo"', 'group="%s"' % self.MEMBERS)
        self.write("policy.conf", policy)
        # As a system bus: nothing is allowed but what a policy allows.
        self.write("bus.conf", """<!DOCTYPE busconfig PUBLIC
 "-//freedesktop//DTD D-BUS Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>system</type>
  <listen>unix:path=%(folder)s/socket</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow user="*"/>
    <deny own="*"/>
    <deny send_type="method_call"/>
    <allow send_type="signal"/>
    <allow send_requested_reply="true" send_type="method_return"/>
    <allow send_requested_reply="true" send_type="error"/>
    <allow receive_type="method_call"/>
    <allow receive_type="method_return"/>
    <allow receive_type="error"/>
    <allow receive_type="signal"/>
    <allow send_destination="org.freedesktop.DBus"
           send_interface="org.freedesktop.DBus"/>
  </policy>
  <include>%(folder)s/policy.conf</include>
</busconfig>
""" % {"folder": self.folder})
        self.bus = subprocess.Popen(["dbus-daemon", "--nofork", "--print-address",
                                     "--config-file=" + os.path.join(self.folder, "bus.conf")],
                                    stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        self.addCleanup(self.end, self.bus)
        self.address = self.bus.stdout.readline().strip()
        self.addCleanup(self.bus.stdout.close)

    def write(self, name, text):
        with open(os.path.join(self.folder, name), "w") as file:
            file.write(text)

    def end(self, process):
        process.terminate()
        process.wait(WAIT_S)

    def as_user(self, user, *args):
        account = pwd.getpwnam(user)
        return run(*args, user=account.pw_uid, group=account.pw_gid, extra_groups=[])

    def busctl(self, user, *args):
        return self.as_user(user, "busctl", "--address=" + self.address, *args)

    def start_station(self, user, groups=None):
        """ambod under the policy: its demo, told that this is the system bus. groups: the
        file it takes for /etc/group."""
        config = os.path.join(self.folder, "config")
        shutil.copytree(os.path.join(TOP, "config", "demo"), config)
        path = os.path.join(config, "ambo.conf")
        with open(path) as file:
            text = file.read().replace('which = "session"', 'which = "system"')
        with open(path, "w") as file:
            file.write(text)
        account = pwd.getpwnam(user)
        for base, folders, files in os.walk(config):
            for name in folders + files:
                os.chown(os.path.join(base, name), account.pw_uid, account.pw_gid)
        os.chown(config, account.pw_uid, account.pw_gid)
        program = shutil.copy(AMBOD, self.folder)  # where every user may read it
        command = [program, "--config", config]
        who = {"user": account.pw_uid, "group": account.pw_gid, "extra_groups": []}
        if groups is not None:
            command = ["unshare", "--mount", "sh", "-c",
                       'mount --bind "$1" /etc/group && shift && exec "$@"', "sh", groups,
                       "setpriv", "--reuid=%d" % account.pw_uid, "--regid=%d" % account.pw_gid,
                       "--clear-groups", *command]
            who = {}
        station = subprocess.Popen(
            command, **who, stderr=subprocess.PIPE, text=True,
            env=dict(os.environ, DBUS_SYSTEM_BUS_ADDRESS=self.address))
        self.addCleanup(station.stderr.close)
        self.addCleanup(self.end, station)
        return station

    def test_the_owner_serves_members_and_root_and_nobody_else(self):
        station = self.start_station(self.OWNER)
        for _ in range(600):
            if "org.ambo.Station" in self.busctl("root", "list", "--acquired").stdout:
                break
            self.assertIsNone(station.poll(), "ambod ended")
        call = ("call", "org.ambo.Station", "/org/ambo/batch", "org.ambo.Batch1", "Systems")
        for user in ("root", self.MEMBERS):
            done = self.busctl(user, *call)
            self.assertEqual(done.returncode, 0, done.stderr)
            self.assertIn("tidepool-clear", done.stdout)
        done = self.busctl(self.STRANGER, *call)
        self.assertNotEqual(done.returncode, 0)
        self.assertIn("Access denied", done.stderr)

    KEEPERS_ONLY = (("StartCalibration", "a{sv}", "0"), ("CalibrationNext", "d", "0"),
                    ("CancelCalibration",), ("AcceptCalibration",), ("UseCalibration", "x", "0"))

    def scale(self, user, *call):
        return self.busctl(user, "call", "org.ambo.Station", "/org/ambo/scale", "org.ambo.Scale1",
                           *call)

    def station_with_keepers(self, members):
        groups = os.path.join(self.folder, "group")
        with open("/etc/group") as file:
            lines = [line for line in file if not line.startswith("ambo-keeper:")]
        self.write("group", "".join(lines) + members)
        if run("unshare", "--mount", "sh", "-c", 'mount --bind "$1" /etc/group', "sh",
               groups).returncode != 0:
            self.skipTest("no mount namespace may be made here")
        station = self.start_station(self.OWNER, groups)
        for _ in range(600):
            if "org.ambo.Station" in self.busctl("root", "list", "--acquired").stdout:
                return station
            self.assertIsNone(station.poll(), "ambod ended")
        self.fail("no station came")

    def test_only_keepers_and_root_calibrate(self):
        for members, what in (("", "no such group"), ("ambo-keeper:x:64242:nobody\n", "no member")):
            station = self.station_with_keepers(members)
            for call in self.KEEPERS_ONLY:
                done = self.scale(self.MEMBERS, *call)
                self.assertNotEqual(done.returncode, 0, (what, call))
                self.assertIn("Only keepers may calibrate", done.stderr, (what, call))
            # Looking at the scale and checking it is for everyone who may talk to it.
            self.assertEqual(self.scale(self.MEMBERS, "Calibrations").returncode, 0)
            self.assertNotIn("keeper", self.scale(self.MEMBERS, "Check", "ds", "1000", "M1").stderr)
            self.assertEqual(self.scale("root", *self.KEEPERS_ONLY[0]).returncode, 0)
            # A calibration under way changes nothing of that.
            self.assertNotEqual(self.scale(self.MEMBERS, "CancelCalibration").returncode, 0)
            self.end(station)
            shutil.rmtree(os.path.join(self.folder, "config"))

    def test_a_member_of_the_keepers_calibrates(self):
        self.station_with_keepers("ambo-keeper:x:64242:%s\n" % self.MEMBERS)
        done = self.scale(self.MEMBERS, *self.KEEPERS_ONLY[0])
        self.assertEqual(done.returncode, 0, done.stderr)
        done = self.scale(self.MEMBERS, "CancelCalibration")
        self.assertEqual(done.returncode, 0, done.stderr)

    def test_the_person_of_a_session_is_its_keeper(self):
        config = os.path.join(self.folder, "config")
        shutil.copytree(os.path.join(TOP, "config", "demo"), config)
        account = pwd.getpwnam(self.STRANGER)
        for base, _, files in os.walk(config):
            for path in [base] + [os.path.join(base, name) for name in files]:
                os.chown(path, account.pw_uid, account.pw_gid)
        program = shutil.copy(AMBOD, self.folder)
        script = """
            "$1" --config "$2" & pid=$!
            for _ in $(seq 300); do
                busctl --address="$DBUS_SESSION_BUS_ADDRESS" list --acquired |
                    grep -q org.ambo.Station && break
                sleep 0.1
            done
            busctl --address="$DBUS_SESSION_BUS_ADDRESS" call org.ambo.Station /org/ambo/scale \\
                org.ambo.Scale1 StartCalibration 'a{sv}' 0
            status=$?
            kill $pid
            exit $status"""
        done = self.as_user(self.STRANGER, "dbus-run-session", "--", "sh", "-c", script, "sh",
                            program, config)
        self.assertEqual(done.returncode, 0, done.stderr)

    def test_another_user_cannot_take_the_name(self):
        station = self.start_station(self.STRANGER)
        self.assertEqual(station.wait(WAIT_S), 1)
        self.assertIn("policy", station.stderr.read())


if __name__ == "__main__":
    main()
