# shellcheck shell=sh
# SPDX-License-Identifier: MIT
# Sourced by what is the first process in User-mode Linux.
export PATH=/usr/bin:/bin:/usr/sbin:/sbin
mount -t proc proc /proc
mount -t sysfs sys /sys
mount -t tmpfs run /run
mount -t configfs config /sys/kernel/config
mount -t devtmpfs dev /dev

# A simulated chip of so many lines: $chip is its device, $device its folder in /sys.
make_chip() {
	item=/sys/kernel/config/gpio-sim/bench
	mkdir "$item" "$item/bank0"
	echo "$1" >"$item/bank0/num_lines"
	echo bench >"$item/bank0/label"
	echo 1 >"$item/live"
	chip=/dev/$(cat "$item/bank0/chip_name")
	device=/sys/devices/platform/$(cat "$item/dev_name")/$(cat "$item/bank0/chip_name")
}

# check NAME COMMAND...: says how it went.
check() {
	name=$1
	shift
	if "$@"; then
		echo "good: $name"
	else
		echo "bad: $name"
	fi
}

finish() {
	echo "uptime $(cut -d ' ' -f 1 /proc/uptime) s"
	echo "the guest has finished"
	busybox poweroff -f
}
