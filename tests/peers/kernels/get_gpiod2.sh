#!/bin/sh
# SPDX-License-Identifier: MIT
# Unpacks libgpiod 2.x from Debian 13 into the cache: nothing is installed, the machine's
# own apt state is not touched. Prints the folder for PKG_CONFIG_PATH.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
. "$here/cache.sh"
need apt-get apt
need dpkg-deb dpkg
lock_cache
prefix=$kernels/gpiod2
if ! [ -d "$prefix/pkgconfig" ]; then
	work=$(mktemp -d "$kernels/gpiod2.XXXXXX")
	trap 'rm -rf "$work"' EXIT
	mkdir -p "$work/lists/partial" "$work/archives/partial" "$work/debs" "$work/root"
	# The mirror is the one this machine already uses.
	mirror=$(sed -n 's/^URIs: *//p; s/^deb \(\[[^]]*\] \)\{0,1\}\([^ ]*\) .*/\2/p' \
		/etc/apt/sources.list /etc/apt/sources.list.d/debian.sources \
		/etc/apt/sources.list.d/*.sources 2>/dev/null | head -n 1)
	[ -n "$mirror" ] || skip "no Debian mirror is set up here"
	echo "deb [signed-by=/usr/share/keyrings/debian-archive-keyring.gpg] $mirror trixie main" \
		>"$work/sources.list"
	apt() {
		apt-get -qq -o "Dir::Etc::sourcelist=$work/sources.list" \
			-o Dir::Etc::sourceparts=/dev/null -o "Dir::State::lists=$work/lists" \
			-o "Dir::Cache=$work" -o APT::Sandbox::User=root "$@" >&2
	}
	{ apt update && (cd "$work/debs" && apt download libgpiod-dev libgpiod3); } ||
		skip "Debian 13's libgpiod cannot be downloaded"
	for package in "$work"/debs/*.deb; do
		dpkg-deb -x "$package" "$work/root"
	done
	rm -rf "$prefix"
	mv "$work/root" "$prefix"
	# The package is not where it thinks it is.
	mkdir "$prefix/pkgconfig"
	sed "s|=/usr|=$prefix/usr|" "$prefix"/usr/lib/*/pkgconfig/libgpiod.pc >"$prefix/pkgconfig/libgpiod.pc"
fi
echo "$prefix/pkgconfig"
