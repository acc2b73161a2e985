#!/bin/sh
# SPDX-License-Identifier: MIT
# Collects what the display says into ambo.pot and brings each LANGUAGE.po up to date.
# --check: changes nothing, and fails when ambo.pot is not of now.
set -eu
top=$(cd "$(dirname "$0")/../.." && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$top"
collect() {
	xgettext --from-code=UTF-8 --package-name=ambo --no-location --sort-output "$@" 2>"$work/log" || {
		cat "$work/log" >&2
		exit 1
	}
}
collect -o "$work/screens.pot" -k_ -kN_ -kP_:1,2 --add-comments=Translators display/touch/*.c words/words.c words/words_advice.c words/words_told.h
# The table's texts stand bare: all of its strings, but for the includes and "".
grep -v '^#include' words/words_table.h >"$work/table.c"
collect -o "$work/table.pot" -a "$work/table.c"
sed -i 's/CHARSET/UTF-8/' "$work/screens.pot" "$work/table.pot"
msgcat --use-first --sort-output "$work/screens.pot" "$work/table.pot" |
	# A per cent sign is no format of C: no text here goes through printf().
	sed -e '/^"POT-Creation-Date/d' -e '/^#, c-format$/d' >"$work/ambo.pot"
if [ "${1:-}" = --check ]; then
	diff -u display/po/ambo.pot "$work/ambo.pot"
	exit
fi
cp "$work/ambo.pot" display/po/ambo.pot
for po in display/po/*.po; do
	[ -e "$po" ] || continue
	msgmerge --quiet --no-location --sort-output --update --backup=none "$po" display/po/ambo.pot
done
