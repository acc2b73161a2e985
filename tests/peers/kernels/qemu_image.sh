#!/bin/sh
# SPDX-License-Identifier: MIT
# qemu_image.sh STOCK-KERNEL FOLDER-OF-PROGRAMS SOURCE-TREE OUT: the guest's files in one
# archive: our programs, the bus's, and every library they ask for.
set -eu
stock=$1 programs=$2 top=$3 out=$4
here=$(cd "$(dirname "$0")" && pwd)
root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT
mkdir -p "$root/bin" "$root/dev" "$root/proc" "$root/sys" "$root/etc/ambo" "$root/modules"
cp "$(command -v busybox)" "$root/bin/busybox"
for program in "$programs/ambod" "$programs/cp2112_chip" "$programs/sim_pulses" \
	"$(command -v dbus-daemon)" "$(command -v busctl)"; do
	cp "$program" "$root/bin/"
	ldd "$program" | sed -n 's/^.* => \(\/[^ ]*\).*/\1/p; s/^[^=]*\(\/lib[^ ]*ld-[^ ]*\) (.*/\1/p' |
		while read -r library; do
			mkdir -p "$root$(dirname "$library")"
			cp -L "$library" "$root$library"
		done
done
# busctl finds its own library by a path in itself.
for library in /usr/lib/*/systemd/libsystemd-shared-*.so; do
	[ -e "$library" ] || continue
	mkdir -p "$root$(dirname "$library")"
	cp -L "$library" "$root$library"
done
cp "$stock"/modules/*.ko "$root/modules/"
# Demo systems are not mixed on a real scale, and to the guest this one is.
mkdir -p "$root/etc/ambo/systems.d"
sed '/^demo = true;/d' "$top/config/demo/systems.d/tidepool-clear.conf" \
	>"$root/etc/ambo/systems.d/tidepool-clear.conf"
cp "$here/qemu_ambo.conf" "$root/etc/ambo/ambo.conf"
cp "$here/qemu_bus.conf" "$root/etc/bus.conf"
echo 'root:x:0:0:root:/:/bin/sh' >"$root/etc/passwd"
echo 'root:x:0:' >"$root/etc/group"
echo 00000000000000000000000000000001 >"$root/etc/machine-id"
cp "$here/qemu_init.sh" "$root/init"
(cd "$root" && find . | cpio -o -H newc 2>/dev/null | gzip -1) >"$out"
