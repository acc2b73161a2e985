#!/bin/sh
# SPDX-License-Identifier: MIT
# First process in User-mode Linux with the device tree uml_iio.dts.
. "$AMBO_HERE/uml_setup.sh"
echo "Linux $(uname -r)"
devices=/sys/bus/iio/devices
for file in "$devices"/iio:device0/name "$devices"/iio:device0/in_*; do
	echo "$(basename "$file"): $(cat "$file" 2>&1)"
done
data=$(find /sys/devices -name sim_gpio1 | head -n 1)
echo "data low:"
echo pull-down >"$data/pull"
"$AMBO_BIN/iio_reader" 9 device hx711
echo "data high:"
echo pull-up >"$data/pull"
"$AMBO_BIN/iio_reader" 1 device hx711
echo "gain 64:"
echo pull-down >"$data/pull"
"$AMBO_BIN/iio_reader" 1 device hx711 scale 0.000004655
cat "$devices"/iio:device0/in_voltage_scale
echo "no such device:"
"$AMBO_BIN/iio_reader" 1 device hx712
echo "no such channel:"
"$AMBO_BIN/iio_reader" 1 device hx711 channel voltage5
finish
