#!/bin/sh
# SPDX-License-Identifier: MIT
# uml_run.sh KERNEL SECONDS INIT [NAME=VALUE|KERNEL-OPTION]...: boots User-mode Linux on
# this machine's own files, read-only, with INIT as its first process.
kernel=$1 seconds=$2 init=$3
shift 3
# Its memory is a file in TMPDIR: one that is in memory too.
memory=$(mktemp -d /dev/shm/ambo-uml.XXXXXX 2>/dev/null || mktemp -d)
trap 'rm -rf "$memory"' EXIT
env -i PATH="$PATH" HOME="$memory" TMPDIR="$memory" timeout "$seconds" "$kernel" mem=128M \
	root=hostfs rootfstype=hostfs rootflags=/ ro "init=$init" con=null con0=fd:0,fd:1 quiet \
	"$@" </dev/null
