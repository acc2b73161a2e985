#!/bin/busybox sh
# SPDX-License-Identifier: MIT
# First process of Debian's stock kernel in qemu: a GPIO bridge with a converter and a
# panel, the whole ambod on it, and a person who presses and pours. What the guest has to
# show goes to the console, between marks; the host judges it.
/bin/busybox --install -s /bin
export PATH=/bin
mount -t proc proc /proc
mount -t sysfs sys /sys
mount -t devtmpfs dev /dev
mkdir -p /run /tmp
mount -t tmpfs run /run
ip link set lo up 2>/dev/null
echo "Linux $(uname -r), $(cat /sys/devices/system/clocksource/clocksource0/current_clocksource)"
for module in hid uhid hid-cp2112; do
	insmod /modules/$module.ko || echo "bad: insmod $module"
done
mkfifo /run/chip
cp2112_chip /run/chip /run/words /run/lines 10 &
i=0
while ! [ -e /dev/gpiochip0 ] && [ $i -lt 100 ]; do
	usleep 20000
	i=$((i + 1))
done
echo "chip: $(cat /sys/bus/gpio/devices/gpiochip0/label 2>/dev/null || ls /dev/gpiochip*)"

chip() { echo "$*" >/run/chip; }
press() {
	chip foot 1
	usleep 300000
	chip foot 0
	usleep 200000
}
get() { busctl --user get-property org.ambo.Station "/org/ambo/$1" "org.ambo.$2" "$3" 2>&1; }
batch() { get batch Batch1 "$1"; }
# wait_for SECONDS WHAT COMMAND...: until the command's output is WHAT.
wait_for() {
	n=$(($1 * 5)) what=$2
	shift 2
	while [ $n -gt 0 ]; do
		is=$("$@")
		[ "$is" = "$what" ] && { echo "good: $* is $what"; return; }
		usleep 200000
		n=$((n - 1))
	done
	echo "bad: $* is $is, not $what"
}

# What the calibration under way says of KEY.
calibration() { get scale Scale1 Calibration | sed -n "s/.* \"$1\" [sx] \"*\([a-z0-9-]*\).*/\1/p"; }
scale() { busctl --user call org.ambo.Station /org/ambo/scale org.ambo.Scale1 "$@" 2>/dev/null; }
# As a keeper would: without it a real scale mixes nothing. One load of 1000 g.
calibrate() {
	scale StartCalibration 'a{sv}' 0
	n=600 was=
	while [ $n -gt 0 ]; do
		n=$((n - 1))
		at=$(calibration Step)/$(calibration Loads)/$(calibration Message)
		[ "$at" = "$was" ] || echo "calibrating: $at"
		was=$at
		case $at in
		zero/*) scale CalibrationNext d 0 ;;
		rising/0/*)
			chip load 619500
			scale CalibrationNext d 1000
			;;
		rising/*) scale CalibrationNext d 0 ;; # go down
		falling/*)
			chip load 190000
			scale CalibrationNext d 0
			;;
		*-on) chip load 619500 ;;
		*-off) chip load 190000 ;;
		done/*)
			scale AcceptCalibration
			break
			;;
		refused/*) break ;;
		esac # anything else: not answered just now
		usleep 300000
	done
	get scale Scale1 Calibration
}

dbus-daemon --config-file=/etc/bus.conf --fork
export DBUS_SESSION_BUS_ADDRESS=unix:path=/run/bus XDG_RUNTIME_DIR=/run
mkdir -p /run/station
chip load 190000
ambod --config /etc/ambo 2>/run/ambod.log &
wait_for 60 's "hx711"' get scale Scale1 Driver
chip say the station is up
i=0
while [ $i -lt 60 ] && ! get scale Scale1 Quantities | grep -q GrossGrams; do
	usleep 500000
	i=$((i + 1))
done
get scale Scale1 Quantities
begin() {
	busctl --user call org.ambo.Station /org/ambo/batch org.ambo.Batch1 Begin 'a{sv}' 2 \
		System s tidepool-clear TotalGrams d 120 2>&1
}
case $(begin) in
*"not calibrated"*) echo "good: nothing is mixed before a calibration" ;;
*) echo "bad: mixed without a calibration" ;;
esac
calibrate
wait_for 20 1 calibration ActiveId
begin
wait_for 20 's "ready"' batch Step
usleep 300000 # the lamp follows the step
chip say the batch has begun
press
wait_for 20 's "cup"' batch Step
chip say the foot has pressed
usleep 6000000 # the empty pan is read
batch Sentence
chip load 196500 # a cup of some 15 g
wait_for 60 's "charge"' batch Step
chip say the cup is on the pan
batch Sentence
chip slope 800
usleep 3000000
batch Cue
batch Sentence
chip say pouring
usleep 2000000
chip slope 0
usleep 1000000
chip foot 1
usleep 1800000
chip foot 0
wait_for 20 's "held"' batch Step
chip say a long press holds
usleep 2500000
press
wait_for 20 's "charge"' batch Step
chip say a press goes on
chip dead high
wait_for 20 's "silent"' get scale Scale1 Condition
usleep 2500000
chip say the data line is dead
chip dead no
wait_for 20 's ""' get scale Scale1 Condition
chip restart
usleep 3000000
chip say the converter has restarted
busctl --user call org.ambo.Station /org/ambo/batch org.ambo.Batch1 Discard x 0
usleep 500000
kill -TERM "$(pidof ambod)"
i=0
while pidof ambod >/dev/null && [ $i -lt 100 ]; do
	usleep 100000
	i=$((i + 1))
done
chip say the station has ended
usleep 200000
for file in ambod.log words lines station/recording.csv; do
	echo "=== $file"
	cat "/run/$file"
done
echo "=== end"
if [ -n "$AMBO_BENCH" ]; then
	chip load 190000
	for load in idle busy; do
		if [ $load = busy ]; then
			for i in 1 2 3; do
				(while :; do :; done) &
			done
		fi
		echo "processor $load:"
		sim_pulses /dev/gpiochip0 - 2
		sim_pulses /dev/gpiochip0 - 2 realtime
	done
fi
echo "uptime $(cut -d ' ' -f 1 /proc/uptime) s"
echo "the guest has finished"
poweroff -f
