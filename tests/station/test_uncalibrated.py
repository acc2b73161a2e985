# SPDX-License-Identifier: MIT
"""A real scale that nobody has calibrated mixes nothing, whoever asks: the real driver of an
HX711 at the pin level, and the kernel's own as a folder of files."""
import os
import shutil
import subprocess
import tempfile
import unittest

from ambo_bus import BIN, WAIT_S, Daemon, error_of, main, until
from stand_in import HX711, MISSING, Bench

AMBO = os.path.join(BIN, "ambo")


def ambo(*args):
    return subprocess.run([AMBO, "--bus", "session", *args], capture_output=True, text=True,
                          timeout=WAIT_S, stdin=subprocess.DEVNULL)


class Uncalibrated(unittest.TestCase):
    def check_refused(self, call):
        name, sentence = error_of(call)
        self.assertEqual(name, "NotCalibrated")
        self.assertIn("not calibrated", sentence)
        self.assertIn("ambo calibrate", sentence)

    def check_command(self, *args):
        done = ambo(*args)
        self.assertEqual((done.returncode, done.stderr.count("\n")), (1, 1), done.stderr)
        self.assertIn("ambo calibrate", done.stderr)

    def check_mixes_nothing(self, daemon):
        self.check_refused(daemon.begin)
        self.assertEqual(list(daemon.call("records", "List", "xu", 0, 10)[0]), [])
        self.check_command("mix", "tidepool-clear", "--total", "330")
        done = ambo("health")
        self.assertEqual(done.returncode, 1)
        self.assertIn("finding,not-calibrated\n", done.stdout)
        # Whoever mends the scale may see what it reads, and is told what that is worth.
        done = ambo("watch", "--count", "3")
        self.assertEqual((done.returncode, done.stdout.count("\n")), (0, 4))
        self.assertEqual(done.stderr.count("not calibrated"), 1)

    @unittest.skipIf(MISSING, MISSING)
    def test_an_hx711_mixes_once_it_is_calibrated(self):
        with Bench() as bench, Daemon(driver="hx711", options=HX711 % "") as daemon:
            daemon.start(env=bench.environment())
            until("a reading", lambda: "NetGrams" in daemon.get("scale", "Quantities"))
            self.check_mixes_nothing(daemon)
            self.assertEqual(daemon.stop_calibrated(), 0)
            daemon.start(env=bench.environment())
            self.assertEqual(daemon.begin()[0], 1)
            self.assertNotIn("not-calibrated", ambo("health").stdout)
            daemon.call("batch", "Discard", "x", 1)
            # Going back to the configuration's is going back to a guess.
            daemon.call("scale", "UseCalibration", "x", 0)
            self.check_refused(daemon.begin)
            # There is a batch to repeat now.
            self.check_refused(lambda: daemon.call("batch", "Again", ""))
            self.check_command("again")

    def test_nor_does_what_the_kernel_drives(self):
        devices = tempfile.mkdtemp(prefix="ambo-iio.")
        self.addCleanup(shutil.rmtree, devices)
        os.mkdir(os.path.join(devices, "iio:device0"))
        for name, text in (("name", "hx711"), ("in_voltage0_raw", "8578608"),
                           ("in_voltage0_scale", "0.000002327")):
            with open(os.path.join(devices, "iio:device0", name), "w") as file:
                file.write(text + "\n")
        options = 'device = "hx711"; folder = "%s"; rate_hz = 80.0;' % devices
        with Daemon(driver="iio", options=options) as daemon:
            daemon.start()
            until("a reading", lambda: "NetGrams" in daemon.get("scale", "Quantities"))
            self.check_mixes_nothing(daemon)


if __name__ == "__main__":
    main()
