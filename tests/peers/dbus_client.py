# SPDX-License-Identifier: MIT
"""A small client on python3-dbus, a library that is not ours: runs a whole batch.

It knows the bus from the introspection alone, not from our code. 0 only when the
committed record says "within".
"""
import sys
import time

import dbus

bus = dbus.SessionBus()


def interface(path, name):
    return dbus.Interface(bus.get_object("org.ambo.Station", path), name)


batch = interface("/org/ambo/batch", "org.ambo.Batch1")
bench = interface("/org/ambo/bench", "org.ambo.Bench1")
records = interface("/org/ambo/records", "org.ambo.Records1")
properties = interface("/org/ambo/batch", "org.freedesktop.DBus.Properties")


class Hands:
    def __init__(self):
        self.pouring = ""
        self.slow = False
        self.done = set()

    def once(self, verb, amount):
        if verb not in self.done:
            bench.Act(verb, dbus.Double(amount))
            self.done.add(verb)

    def press(self, seen):
        if seen["PressMeans"] != "nothing":
            batch.Press(dbus.Int64(0))
            time.sleep(0.7)

    def pour_on(self, seen, left):
        if seen["Component"] != self.pouring or left is None or left < 0.7 or seen["Cue"] == "tip-back":
            bench.Act("stop", dbus.Double(0.2))
            self.pouring = ""
            time.sleep(0.7)
        elif not self.slow and left < 25.0:
            bench.Act("taper", dbus.Double(2.0))
            self.slow = True

    def move(self, seen):
        left = seen["Quantities"].get("RemainingGrams")
        step, message = seen["Step"], seen["Message"]
        if self.pouring:
            self.pour_on(seen, left)
        elif message == "place-cup":
            self.once("cup", 38.0)
        elif message in ("add", "not-yet", "top-up") and left is not None and left > 0.3:
            self.slow = left < 25.0
            bench.Act("pour-" + seen["Component"], dbus.Double(1.5 if self.slow else 12.0))
            self.pouring = str(seen["Component"])
        elif message == "ratio-within":
            self.once("lift", 0.0)
        elif step == "pour":
            self.once("empty", 0.5)
            self.press(seen)
        elif step == "stir":
            if seen["PressMeans"] == "stirred":
                self.press(seen)
        elif step in ("ready", "held") or message in ("charge-done", "too-much"):
            self.press(seen)


def main():
    number, warning = batch.Begin(
        dbus.Dictionary({"System": "tidepool-clear", "TotalGrams": dbus.Double(330.0)}, signature="sv"))
    print("batch", int(number), str(warning))
    hands, before = Hands(), None
    end = time.monotonic() + 150.0
    while time.monotonic() < end:
        seen = properties.GetAll("org.ambo.Batch1")
        if (seen["Step"], seen["Message"]) != before:
            before = (seen["Step"], seen["Message"])
            print("%s %s: %s" % (*before, seen["Sentence"]), flush=True)
        if seen["Step"] in ("done", "discarded"):
            break
        hands.move(seen)
        time.sleep(0.02)
    row, steps = records.Get(number)
    print("record of batch %d: %s, %s, %d steps" % (number, row["Step"], row["Verdict"], len(steps)))
    return 0 if row["Step"] == "done" and row["Verdict"] == "within" else 1


if __name__ == "__main__":
    sys.exit(main())
