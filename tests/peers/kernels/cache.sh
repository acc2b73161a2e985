# shellcheck shell=sh
# SPDX-License-Identifier: MIT
# Sourced. Where the kernels of the tests are kept: outside the tree, so that a build
# folder may be thrown away. $kernels is the folder, $here this one.
kernels=${AMBO_KERNELS:-${XDG_CACHE_HOME:-${HOME:-/root}/.cache}/ambo-kernels}
mkdir -p "$kernels" || exit 1
kernels=$(cd "$kernels" && pwd)

# skip WHY: what ctest and tests/run.sh look for.
skip() {
	echo "skip: $*"
	exit 77
}

# need COMMAND PACKAGE
need() {
	command -v "$1" >/dev/null 2>&1 || skip "$1 is missing: install the package $2"
}

# One at a time: two tests that both find the cache empty must not both build.
lock_cache() {
	exec 9>"$kernels/lock"
	flock 9
}
