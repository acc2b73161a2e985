#!/bin/sh
# SPDX-License-Identifier: MIT
# Unpacks Debian's stock kernel, the one that the package linux-image-amd64 names, into
# the cache, without installing it. Prints the folder: vmlinuz and modules/ in it.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
. "$here/cache.sh"
need apt-get apt
need dpkg-deb dpkg
lock_cache
package=$(apt-cache depends linux-image-amd64 2>/dev/null |
	sed -n 's/^ *Depends: \(linux-image-[0-9].*-amd64\)$/\1/p' | head -n 1)
if [ -z "$package" ]; then
	# No lists, or another system: what is in the cache will do.
	stock=$(ls -d "$kernels"/linux-image-*-amd64 2>/dev/null | tail -n 1) || true
	[ -n "$stock" ] || skip "apt knows no package linux-image-amd64, and none is cached"
else
	stock=$kernels/$package
fi
if ! [ -f "$stock/vmlinuz" ]; then
	work=$(mktemp -d "$kernels/stock.XXXXXX")
	trap 'rm -rf "$work"' EXIT
	(cd "$work" && apt-get -q -o APT::Sandbox::User=root download "$package") >&2 ||
		skip "the package $package cannot be downloaded"
	dpkg-deb -x "$work"/*.deb "$work/unpacked"
	mkdir "$work/stock"
	cp "$work"/unpacked/boot/vmlinuz-* "$work/stock/vmlinuz"
	mkdir "$work/stock/modules"
	for module in hid/hid hid/uhid hid/hid-cp2112 hid/hid-generic input/evdev; do
		cp "$work"/unpacked/lib/modules/*/kernel/drivers/$module.ko "$work/stock/modules/"
	done
	mv "$work/stock" "$stock"
fi
echo "$stock"
