#!/bin/sh
# SPDX-License-Identifier: MIT
# qemu_run.sh STOCK-KERNEL IMAGE SECONDS [NAME=VALUE]...: boots it. One instruction takes
# one nanosecond of the guest's time, and waiting takes none of ours: the guest's clock
# does not care how busy this machine is.
stock=$1 image=$2 seconds=$3
shift 3
exec timeout "$seconds" qemu-system-x86_64 -accel tcg -icount shift=0,sleep=off -m 256 \
	-nographic -no-reboot -net none -vga none -kernel "$stock/vmlinuz" -initrd "$image" \
	-append "console=ttyS0 panic=-1 quiet mitigations=off nokaslr clocksource=tsc tsc=reliable $*" \
	</dev/null
