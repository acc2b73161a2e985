#!/bin/sh
# SPDX-License-Identifier: MIT
# test_gpiod2.sh SOURCE-TREE: the same source against libgpiod 2.x: the tests of lines,
# driver and panel, then words and panel on a real kernel where there is one.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
. "$here/cache.sh"
[ -n "${AMBO_LONG:-}" ] || skip "the other libgpiod is only built with --long (AMBO_LONG=1)"
PKG_CONFIG_PATH=$(sh "$here/get_gpiod2.sh") || { echo "$PKG_CONFIG_PATH"; exit 77; }
export PKG_CONFIG_PATH
build=$(mktemp -d "${TMPDIR:-/tmp}/ambo-gpiod2.XXXXXX")
out=$build/out
trap 'rm -rf "$build"' EXIT
cmake -S "$1" -B "$build/tree" -G Ninja -DCMAKE_BUILD_TYPE=Debug -DAMBO_WERROR=ON >"$out"
grep '^LIBGPIOD_VERSION' "$build/tree/CMakeCache.txt" || true
programs='test_gpio_lines test_hx711_driver test_gpio_panel sim_reader sim_panel sim_pulses'
# shellcheck disable=SC2086 # a list of names
cmake --build "$build/tree" -j 2 --target $programs >"$out" || { tail -n 30 "$out"; exit 1; }
ldd "$build/tree/bin/sim_reader" | grep -q 'libgpiod.so.3' || {
	echo "not linked with libgpiod 2"
	exit 1
}
for test in test_gpio_lines test_hx711_driver test_gpio_panel; do
	"$build/tree/bin/$test"
done
command -v busybox >/dev/null || skip "lines are tested; the guest needs busybox-static"
kernel=$(sh "$here/build_uml.sh") || { echo "$kernel"; exit $?; }
sh "$here/uml_run.sh" "$kernel" 300 "$here/uml_gpio_init.sh" "AMBO_BIN=$build/tree/bin" \
	"AMBO_HERE=$here" AMBO_N=200 | tr -d '\r' | tee "$out"
grep -q 'the guest has finished' "$out"
[ "$(grep -c '^good: ' "$out")" -eq 3 ]
