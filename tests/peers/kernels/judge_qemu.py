# SPDX-License-Identifier: MIT
"""judge_qemu.py CONSOLE: whether what the guest showed is right.

The words that the converter sent and the codes that ambod recorded must agree one by
one; the panel's lines must have moved as the batch went."""
import re
import sys

RED, YELLOW, GREEN, BUZZER, VIBRATION = 3, 4, 5, 6, 7
VOID = 2

wrong = []


def check(right, what):
    print("%s: %s" % ("good" if right else "bad", what))
    if not right:
        wrong.append(what)


def sections(text):
    """What stands between the guest's marks, by name."""
    parts = re.split(r"^=== (.*)$", text, flags=re.M)
    return {name: body.strip().splitlines() for name, body in zip(parts[1::2], parts[2::2])}


def compare(words, recording):
    """Each good code is the next of the words, some of which were dropped on purpose."""
    rows = [tuple(int(x) for x in line.split(",")[:3]) for line in recording if line[0] != "#"]
    good = [row for row in rows if not row[2] & VOID]
    at = 0
    for t_us, code, flags in good:
        while at < len(words) and words[at] != code:
            at += 1
        if at == len(words):
            check(False, "code %d at %d us was never sent" % (code, t_us))
            return
        at += 1
    dropped = at - len(good)
    check(len(good) >= 300, "%d codes recorded, each as the converter sent it" % len(good))
    # Settling after each reset, and the one conversion before it that was cut short.
    resets = 4
    spoilt = len(rows) - len(good)
    check(dropped <= 4 * (resets + spoilt), "%d words dropped while it settled, %d void" %
          (dropped, spoilt))
    check(all(0 < b[0] - a[0] for a, b in zip(rows, rows[1:])), "times go forward")
    check(all(-(1 << 23) <= row[1] < 1 << 23 for row in rows), "all codes are of 24 bits")


def follow(lines):
    """Changes of the panel's lines between the marks of the guest: name -> [(line, level)]."""
    between, now, state = {}, "before", {}
    for line in lines:
        mark = re.match(r"\d+ # (.*?);", line)
        if mark:
            rules = [int(n) for n in re.findall(r"\d+", line.split("rules broken:")[1])[:6]]
            between[mark.group(1)] = between.pop(now, [])
            check(sum(rules) - rules[3] == 0, "no rule broken until " + mark.group(1))
        else:
            _, pin, level = (int(x) for x in line.split())
            between.setdefault(now, []).append((pin, level))
            state[pin] = level
    check(not any(state.values()), "dark and quiet at the end")
    return between


def main():
    text = open(sys.argv[1], errors="replace").read().replace("\r", "")
    check("the guest has finished" in text, "the guest came to its end")
    parts = sections(text)
    check(not re.search(r"^bad: ", text, re.M), "nothing bad in the guest")
    check(len(re.findall(r"^good: ", text, re.M)) >= 10, "every step of the batch was reached")
    compare([int(w) for w in parts["words"]], parts["station/recording.csv"])
    moved = follow(parts["lines"])
    check((GREEN, 1) in moved["the batch has begun"], "green when a batch begins")
    check(moved["pouring"].count((GREEN, 0)) >= 1 and (RED, 1) not in moved["pouring"],
          "green flashes while pouring")
    check(moved["a long press holds"].count((YELLOW, 1)) >= 1, "yellow when held")
    check((GREEN, 1) in moved["a press goes on"], "green when it goes on")
    dead = moved["the data line is dead"]
    check(dead.count((RED, 1)) >= 2 and (BUZZER, 1) in dead, "red and the buzzer when silent")
    print("\n".join(parts["ambod.log"]))
    tail = parts["end"]
    print("\n".join(line for line in tail if line))
    sys.exit(1 if wrong else 0)


main()
