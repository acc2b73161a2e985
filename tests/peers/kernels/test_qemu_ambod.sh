#!/bin/sh
# SPDX-License-Identifier: MIT
# test_qemu_ambod.sh FOLDER-OF-PROGRAMS SOURCE-TREE: the whole, unmodified ambod with the
# real libgpiod on Debian's stock kernel.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
. "$here/cache.sh"
[ -n "${AMBO_LONG:-}" ] || skip "the stock kernel only runs with --long (AMBO_LONG=1)"
need qemu-system-x86_64 qemu-system-x86
need busybox busybox-static
need cpio cpio
need busctl systemd
need dbus-daemon dbus-daemon
stock=$(sh "$here/debian_kernel.sh") || { echo "$stock"; exit $?; }
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
sh "$here/qemu_image.sh" "$stock" "$1" "$2" "$work/image"
sh "$here/qemu_run.sh" "$stock" "$work/image" 1200 AMBO_BENCH=1 >"$work/console" 2>&1 ||
	echo "qemu ended with status $?"
/usr/bin/env python3 "$here/judge_qemu.py" "$work/console" || {
	tail -n 60 "$work/console"
	exit 1
}
