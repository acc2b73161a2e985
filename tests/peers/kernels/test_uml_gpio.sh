#!/bin/sh
# SPDX-License-Identifier: MIT
# test_uml_gpio.sh FOLDER-OF-PROGRAMS: reader and panel on the gpio-sim of a real kernel.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
. "$here/cache.sh"
[ -n "${AMBO_LONG:-}" ] || skip "User-mode Linux only runs with --long (AMBO_LONG=1)"
need busybox busybox-static
kernel=$(sh "$here/build_uml.sh") || { echo "$kernel"; exit $?; }
out=$(mktemp)
trap 'rm -f "$out"' EXIT
sh "$here/uml_run.sh" "$kernel" 300 "$here/uml_gpio_init.sh" "AMBO_BIN=$1" "AMBO_HERE=$here" \
	AMBO_SECONDS=2 |
	tr -d '\r' | tee "$out"
grep -q 'the guest has finished' "$out"
[ "$(grep -c '^good: ' "$out")" -eq 3 ]
! grep -q '^bad: ' "$out"
