# SPDX-License-Identifier: MIT
"""words_told.h against the station's own formats, both ways: a refusal that the table lacks
would stand in English on every display, and a row that nobody says any more is dead."""
import os
import re
import sys
import unittest

TOP = os.environ["AMBO_TOP"]
# Where a sentence is made that a display can be given.
SAID_IN = """station/actions.c station/again.c station/begin.c station/bus.c station/bus_batch.c
station/bus_care.c station/bus_checks.c station/bus_drying.c station/bus_enter.c
station/bus_pieces.c station/bus_plan.c station/bus_records.c station/bus_scale.c
station/calibrating.c station/pieces_facts.c casting/plan.c casting/plan_advice.c
casting/plan_calendar.c casting/plan_mass.c casting/plan_warn.c mixing/recipe.c
mixing/system_check.c records/store_sql.c""".split()
# What is said in them to others than a display, or to one that breaks the bus's own rules.
NOT_SHOWN = re.compile("|".join([
    r"cannot %s %s:", r"^batch %lld", r"^presses:", r" bus cannot be reached", r"^the name %s cannot",
    r"^BEGIN ", r"= %\.4f; ?}?;", r"parts = ",
    r"^is the ", r"^start ambod", r"^another ambod", r"^# Entered",  # the log, a file
    r"expected \\\"cool", r"expected \\\"canonical", r"expected a limit", r"^System is missing",
    r"^The code has", r"^A division", r"^%g g; expected what", r"^%g g that are",
    r"^Layer %lld with", r"^The description has", r"^There are %u pieces", r"^Coat ",
    r"^this station does not", r"^has no pour depth", r"may delete a piece",
    r"^The calibration of this line", r"^There is no batch\.$",  # no display asks for that
    r"no printable character", r"^the name has", r"^character %zu", r"is no date",
    r"expected grams$", r"^it is missing; expected \\\"",  # nor can it enter that
]))
ALSO = ["station/conf_file.c"]  # its reader has more to say than any entry at a display can be
OWN = ["{file}:", "{d} too", "sound:", "speech:"]  # and the display's own
LITERAL = re.compile(r'"((?:[^"\\\n]|\\.)*)"')


def joined(source):
    """The string literals, adjacent ones put together; macros between them are a gap."""
    source = re.sub(r"/\*.*?\*/", " ", source, flags=re.S)
    source = re.sub(r"^\s*#.*$", "", source, flags=re.M)
    for run in re.finditer(r'"(?:[^"\\\n]|\\.)*"(?:\s*(?:[A-Z_]{3,}\s*)?"(?:[^"\\\n]|\\.)*")*',
                           source):
        gaps = re.sub(r'"\s*[A-Z_]{3,}\s*"', "%s", run.group(0))
        yield "".join(LITERAL.findall(gaps))


def shape(text):
    """What a format or a template says but for its values."""
    text = re.sub(r"%%", "\0", text)
    text = re.sub(r"%[-0-9.*]*(?:ll|l|z)?[a-zA-Z]|\{\w+\}", "\1", text)
    text = re.sub("\1:\1", "\1", text)  # times of day
    text = re.sub("\1+", "\1", text.replace("[ \1]", "\1"))  # a unit, or none
    return text.replace("\0", "%").rstrip(".").lower()


def told():
    with open(os.path.join(TOP, "words/words_told.h"), encoding="utf-8") as file:
        source = file.read()
    return [row for row in joined(source[source.index("words_told[]"):]) if row]


def said():
    for name in SAID_IN:
        with open(os.path.join(TOP, "daemon", name), encoding="utf-8") as file:
            for text in joined(file.read()):
                sentence = len(text.split()) >= 3 or name == "records/store_sql.c"
                if sentence and " " in text and not NOT_SHOWN.search(text):
                    yield name, text


class Told(unittest.TestCase):
    def test_every_sentence_of_the_station_has_its_row(self):
        rows = {shape(row) for row in told()}
        self.assertEqual([(name, text) for name, text in said()
                          if shape(text) not in rows], [])

    def test_every_row_is_still_said(self):
        shapes = {shape(text) for _, text in said()}
        for name in SAID_IN + ALSO:
            with open(os.path.join(TOP, "daemon", name), encoding="utf-8") as file:
                shapes |= {shape(text) for text in joined(file.read())}
        self.assertEqual([row for row in told() if shape(row) not in shapes and
                          not row.startswith(tuple(OWN))], [])


if __name__ == "__main__":
    sys.exit(unittest.main(verbosity=2))
