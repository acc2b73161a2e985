#!/bin/sh
# SPDX-License-Identifier: MIT
# Installs what the tests need, builds, runs them. Last line:
#   passed P, failed F, skipped S
set -u
top=$(cd "$(dirname "$0")/.." && pwd) || exit 1

usage() {
	cat <<'END'
usage: sh tests/run.sh [--long] [--no-skips] [--no-install] [--filter REGEX]

  --long          also: the full counts (AMBO_LONG=1), clang, address and
                  undefined-behaviour sanitisers, fuzzing for a bounded time
  --no-skips      a skipped test counts as failed
  --no-install    do not look for packages
  --filter REGEX  only the tests whose names match

Some tests replay recordings that are not ours to hand on: they run where
AMBO_TRACES names the folder that holds them, and are skipped elsewhere.

Exit status: 0 all passed, 1 something failed, 2 wrong options.
END
}

long='' no_skips='' install=yes filter=''
while [ $# -gt 0 ]; do
	case $1 in
	--long) long=yes ;;
	--no-skips) no_skips=yes ;;
	--no-install) install='' ;;
	--filter)
		[ $# -ge 2 ] || { usage >&2; exit 2; }
		filter=$2
		shift
		;;
	-h | --help)
		usage
		exit 0
		;;
	*)
		echo "run.sh: $1: no such option" >&2
		usage >&2
		exit 2
		;;
	esac
	shift
done

if [ -n "$install" ]; then
	# shellcheck source=config/install.sh
	. "$top/config/install.sh"
	echo "== Packages"
	# shellcheck disable=SC2086 # long or nothing
	install_packages build test ${long:+long} || exit 1
fi

work=$(mktemp -d "${TMPDIR:-/tmp}/ambo-tests.XXXXXX") || exit 1
trap 'rm -rf "$work"' EXIT
trap 'exit 1' HUP INT TERM
passed=0 failed=0 skipped=0
: >"$work/reasons"

# One outcome that is no ctest entry: a build, a fuzzer.
count() {
	case $1 in
	passed) passed=$((passed + 1)) ;;
	failed) failed=$((failed + 1)) ;;
	esac
	echo "$1: $2"
}

# build NAME CMAKE-OPTION...: into build-NAME, warnings are errors.
build() {
	name=$1 && shift
	echo "== Building build-$name/"
	if { cmake -S "$top" -B "$top/build-$name" -G Ninja -DAMBO_WERROR=ON "$@" &&
		cmake --build "$top/build-$name" -j 2; } >"$work/build-$name.log" 2>&1; then
		count passed "build-$name builds without a warning"
	else
		tail -n 40 "$work/build-$name.log"
		count failed "build-$name does not build"
		return 1
	fi
}

# tests NAME: ctest in build-NAME. Counts from its JUnit report, reasons from the
# tests' own output: a test that skips prints "skip: why".
tests() {
	echo "== Tests in build-$1/"
	(cd "$top/build-$1" && ctest -j 2 --output-on-failure --no-tests=error \
		${filter:+-R "$filter"} --output-junit "$work/$1.xml") >"$work/$1.log" 2>&1
	ctest_status=$?
	cat "$work/$1.log"
	if ! [ -s "$work/$1.xml" ]; then
		count failed "ctest in build-$1 ended with status $ctest_status and no report"
		return
	fi
	/usr/bin/env python3 - "$work/$1.xml" "$work/reasons" >"$work/$1.counts" <<'END'
import re, sys
import xml.etree.ElementTree as tree

passed = failed = skipped = 0
reasons = open(sys.argv[2], "a")
for case in tree.parse(sys.argv[1]).getroot().iter("testcase"):
    if case.get("status") == "run":
        passed += 1
    elif case.get("status") in ("notrun", "disabled"):
        skipped += 1
        said = re.findall(r"^skip: .*", case.findtext("system-out") or "", re.M)
        reasons.write("skipped: %s: %s\n" % (case.get("name"), "; ".join(s[6:] for s in said) or "gave no reason"))
    else:
        failed += 1
        reasons.write("failed: %s\n" % case.get("name"))
print(passed, failed, skipped)
END
	read -r p f s <"$work/$1.counts" || { p=0 f=1 s=0; }
	# A crash of ctest itself must not look like a pass.
	[ $ctest_status -eq 0 ] || [ "$f" -gt 0 ] || f=1
	passed=$((passed + p)) failed=$((failed + f)) skipped=$((skipped + s))
}

sanitise='-fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer'
[ -z "$long" ] || export AMBO_LONG=1
build test -DCMAKE_BUILD_TYPE=RelWithDebInfo && tests test
if [ -n "$long" ]; then
	build clang -DCMAKE_BUILD_TYPE=RelWithDebInfo -DCMAKE_C_COMPILER=clang && tests clang
	unset AMBO_LONG # under sanitisers the usual counts are long enough
	build sanitise -DCMAKE_BUILD_TYPE=Debug "-DCMAKE_C_FLAGS=$sanitise" && tests sanitise
	if build fuzz -DCMAKE_BUILD_TYPE=RelWithDebInfo -DCMAKE_C_COMPILER=clang \
		-DAMBO_FUZZERS=ON -DAMBO_TESTS=ON; then
		for fuzzer in "$top"/build-fuzz/bin/fuzz_*; do
			[ -x "$fuzzer" ] || continue
			name=$(basename "$fuzzer")
			mkdir -p "$work/corpus-$name"
			seeds=$top/tests/fuzz/corpus/${name#fuzz_}
			[ -d "$seeds" ] || seeds=''
			if timeout 300 "$fuzzer" -max_total_time=60 -rss_limit_mb=1024 \
				-artifact_prefix="$work/" "$work/corpus-$name" \
				${seeds:+"$seeds"} >"$work/$name.log" 2>&1; then
				count passed "$name: 60 s without a finding"
			else
				tail -n 30 "$work/$name.log"
				count failed "$name"
			fi
		done
	fi
fi

echo "== Result"
cat "$work/reasons"
if [ -n "$no_skips" ] && [ "$skipped" -gt 0 ]; then
	echo "--no-skips: $skipped skipped tests count as failed"
	failed=$((failed + skipped)) skipped=0
fi
echo "$passed passed, $failed failed, $skipped skipped"
echo "passed $passed, failed $failed, skipped $skipped"
[ "$failed" -eq 0 ]
