#!/bin/sh
# SPDX-License-Identifier: MIT
# Builds User-mode Linux with gpio-sim and the kernel's own HX711 driver from Debian's
# linux-source-6.1 into the cache, once a source package. Prints the kernel's path.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
. "$here/cache.sh"

source=$(ls /usr/src/linux-source-6.1.tar.xz 2>/dev/null) ||
	skip "the kernel's source is missing: install the package linux-source-6.1"
for tool in flex bison bc m4 make gcc xz; do
	need $tool $tool
done
version=$(dpkg-query -W -f='${Version}' linux-source-6.1)
config=$(cksum <"$here/uml.config" | cut -d ' ' -f 1)
kernel=$kernels/uml-$version-$config
lock_cache
if ! [ -x "$kernel" ]; then
	echo "building User-mode Linux $version, some minutes: $kernels/uml.log" >&2
	[ -d "$kernels/linux-source-$version" ] || {
		rm -rf "$kernels/unpack"
		mkdir "$kernels/unpack"
		tar -C "$kernels/unpack" -xf "$source"
		mv "$kernels"/unpack/linux-source-6.1 "$kernels/linux-source-$version"
	}
	cd "$kernels/linux-source-$version"
	rm -rf "$kernels/uml-build"
	mkdir "$kernels/uml-build"
	{
		nice -n 10 make -s ARCH=um O="$kernels/uml-build" \
			KCONFIG_ALLCONFIG="$here/uml.config" allnoconfig &&
			nice -n 10 make -s ARCH=um O="$kernels/uml-build" -j 2 linux
	} >"$kernels/uml.log" 2>&1 9>&- </dev/null || {
		tail -n 20 "$kernels/uml.log" >&2
		exit 1
	}
	strip -o "$kernel.new" "$kernels/uml-build/linux"
	mv "$kernel.new" "$kernel"
	# A gigabyte each, and only needed again when the configuration changes.
	rm -rf "$kernels/uml-build" "$kernels/linux-source-$version"
fi
echo "$kernel"
