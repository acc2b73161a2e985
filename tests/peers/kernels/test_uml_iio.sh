#!/bin/sh
# SPDX-License-Identifier: MIT
# test_uml_iio.sh FOLDER-OF-PROGRAMS: the driver iio on the kernel's own HX711 driver.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
. "$here/cache.sh"
[ -n "${AMBO_LONG:-}" ] || skip "User-mode Linux only runs with --long (AMBO_LONG=1)"
need busybox busybox-static
need dtc device-tree-compiler
kernel=$(sh "$here/build_uml.sh") || { echo "$kernel"; exit $?; }
out=$(mktemp)
tree=$(mktemp)
trap 'rm -f "$out" "$tree"' EXIT
dtc -q -O dtb -o "$tree" "$here/uml_iio.dts"
sh "$here/uml_run.sh" "$kernel" 120 "$here/uml_iio_init.sh" "dtb=$tree" "AMBO_BIN=$1" \
	"AMBO_HERE=$here" |
	tr -d '\r' | tee "$out"
grep -q 'the guest has finished' "$out"

# expect N LINE: so many lines are exactly that.
expect() {
	n=$(grep -c -x -e "$2" "$out" || true)
	[ "$n" -eq "$1" ] || {
		echo "'$2': $n times, expected $1"
		exit 1
	}
}
expect 1 'name: hx711'
# Stuck low: offset binary zero, once by chance, then void, then the fault.
expect 2 'counts 0 flags 0'
expect 6 'counts 0 flags 2'
expect 2 'iio: exactly zero 8 times and more: the data line is stuck low: .*'
expect 1 'iio: the converter does not answer (Input/output error): .*'
expect 1 '0.000004655'
expect 1 "command line: device: no device 'hx712' in .*; expected one of: hx711 .*"
expect 1 ".*in_voltage5_raw' cannot be read (No such file or directory); .*"
