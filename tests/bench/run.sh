#!/bin/sh
# SPDX-License-Identifier: MIT
# How good the weighing is and what the station costs, printed in one run: the weighing
# beside the practice of small scales, each cost beside a baseline.
set -u
top=$(cd "$(dirname "$0")/../.." && pwd) || exit 1

usage() {
	cat <<'END_OF_USAGE'
usage: sh tests/bench/run.sh [--trials N] [--build DIR]

Builds into build-bench/ and prints
  - the weighing: 2000 simulated trials a table (--trials)
  - instructions a sample, counted by callgrind (skipped without valgrind)
  - commit time a step, beside the same bytes appended and synced
  - ambod: start, processor and memory at 80 samples/s with one client

  --trials N   of the weighing
  --build DIR  the programs of a build that is there already

Exit status: 0 all was measured, 1 something failed, 2 wrong options.
END_OF_USAGE
}

trials=2000 build=''
while [ $# -gt 0 ]; do
	case $1 in
	--trials | --build)
		[ $# -ge 2 ] || { usage >&2; exit 2; }
		eval "${1#--}=\$2"
		shift
		;;
	-h | --help) usage && exit 0 ;;
	*)
		echo "bench: $1: no such option" >&2
		usage >&2
		exit 2
		;;
	esac
	shift
done
if [ -z "$build" ]; then
	build=$top/build-bench
	log=$(mktemp) || exit 1
	if ! { cmake -S "$top" -B "$build" -G Ninja -DCMAKE_BUILD_TYPE=RelWithDebInfo &&
		cmake --build "$build" --target weighing_bench commit_bench ambod; } >"$log" 2>&1; then
		tail -n 30 "$log" >&2
		echo "bench: the build failed; its end stands above" >&2
		exit 1
	fi
	rm -f "$log"
fi
build=$(cd "$build" && pwd) || exit 1
bin=$build/bin
failed=''

# How many instructions FUNCTION and all it calls execute, of weighing_bench --cost 20000 ARM.
collected() {
	valgrind --tool=callgrind --callgrind-out-file=/dev/null --toggle-collect="$1" \
		"$bin/weighing_bench" --cost 20000 "$2" 2>&1 | sed -n 's/.*Collected : //p'
}

echo "== Weighing"
"$bin/weighing_bench" "$trials" || failed=yes
echo
echo "== Instructions a sample (callgrind, 20000 samples of pours)"
if command -v valgrind >/dev/null 2>&1; then
	given=$(collected weigher_feed given) learnt=$(collected weigher_feed learnt)
	practice=$(collected practice_feed practice)
	awk -v g="$given" -v l="$learnt" -v p="$practice" 'BEGIN {
		if (g < 1 || l < 1 || p < 1) { print "  callgrind counted nothing"; exit 1 }
		printf "  %-38s %10s %10s %10s %8s\n", "", "given", "learnt", "practice", "ratio"
		printf "  %-38s %10.0f %10.0f %10.0f %8.1f\n", "instructions a sample",
			g / 20000, l / 20000, p / 20000, l / p }' || failed=yes
else
	echo "  skip: valgrind is not installed"
fi
echo
echo "== Commit of a step"
"$bin/commit_bench" || failed=yes
echo
echo "== The daemon"
AMBO_BIN=$bin AMBO_TOP=$top PYTHONDONTWRITEBYTECODE=1 \
	PYTHONPATH=$top/tests/station:$top/tests/support \
	dbus-run-session -- /usr/bin/python3 "$top/tests/bench/daemon_bench.py" || failed=yes
[ -z "$failed" ]
