# SPDX-License-Identifier: MIT
"""Makes a catalogue for tests out of ambo.pot: `long`, every text at least 40 % longer
with accents above and below; `rtl`, in Hebrew letters from right to left.

usage: pseudo.py long|rtl ambo.pot out.po

Placeholders {x}, brackets and bars stay. Headlines (no lower case letter) keep their
length: 12 characters are theirs in every language."""
import re
import sys

ACCENTS = str.maketrans("AaCcEeIiOoUuNnSs", "ÂâÇçÊêÎîÔôÛûÑñŠš")
HEBREW = "אבגדהוזחטיכלמנסעפצקרשת"


def pieces(text):
    return re.split(r"(\{[a-zA-Z_]+\}|[\[\]|])", text)


def long_text(text):
    letters = re.sub(r"\{\w+\}", "", text)
    out = "".join(p if p.startswith("{") or p in "[]|" else p.translate(ACCENTS)
                  for p in pieces(text))
    if not re.search("[a-z]", letters):
        return out
    # Words of a usual length, so that lines break as they would.
    more = (len(text) * 4 + 9) // 10
    return out + (" " if len(text) > 12 else "") + ("xyloph øgest " * (more // 13 + 1))[:more].strip()


def rtl_text(text):
    def letter(match):
        return HEBREW[ord(match.group(0).lower()) % len(HEBREW)]
    return "".join(p if p.startswith("{") or p in "[]|" else re.sub("[A-Za-z]", letter, p)
                   for p in pieces(text))


def unquote(lines):
    return "".join(re.findall(r'"((?:[^"\\]|\\.)*)"', line)[0] for line in lines)


def main():
    kind, source, target = sys.argv[1:]
    with open(source, encoding="utf-8") as file:
        entries = file.read().split("\n\n")[1:]
    with open(target, "w", encoding="utf-8") as out:
        out.write('msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=UTF-8\\n"\n'
                  '"Language: %s\\n"\n"Plural-Forms: nplurals=2; plural=(n != 1);\\n"\n' % kind)
        for entry in entries:
            lines = [line for line in entry.split("\n") if line and not line.startswith("#")]
            if not lines:
                continue
            at = next(i for i, line in enumerate(lines) if line.startswith("msgstr"))
            many = next((i for i, line in enumerate(lines) if line.startswith("msgid_plural")), at)
            text = unquote(lines[:many])
            made = {"ltr": "rtl" if kind == "rtl" else "ltr", "decimal .": "decimal ,",
                    "English": kind}.get(text)
            make = long_text if kind == "long" else rtl_text
            if many < at:
                plural = unquote(lines[many:at])
                out.write('\nmsgid "%s"\nmsgid_plural "%s"\nmsgstr[0] "%s"\nmsgstr[1] "%s"\n' %
                          (text, plural, make(text), make(plural)))
            else:
                out.write('\nmsgid "%s"\nmsgstr "%s"\n' % (text, made or make(text)))


if __name__ == "__main__":
    main()
