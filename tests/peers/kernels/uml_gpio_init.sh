#!/bin/sh
# SPDX-License-Identifier: MIT
# First process in User-mode Linux: AMBO_BIN and AMBO_HERE are the folders of programs and
# scripts, AMBO_N the conversions of each input, AMBO_SECONDS how long pulses are measured.
. "$AMBO_HERE/uml_setup.sh"
echo "Linux $(uname -r)"
make_chip 8
check 'words through gpio-sim' "$AMBO_BIN/sim_reader" "$chip" "$device" "${AMBO_N:-500}"
check 'words, the chip by its label' "$AMBO_BIN/sim_reader" bench "$device" 20
check 'panel on gpio-sim' "$AMBO_BIN/sim_panel" "$chip" "$device"
for load in '' busy; do
	[ -n "$AMBO_SECONDS" ] || break
	if [ -n "$load" ]; then
		# More busy processes than the machine has processors: it has one.
		for i in 1 2 3; do
			(while :; do :; done) &
		done
	fi
	echo "processor ${load:-idle}:"
	"$AMBO_BIN/sim_pulses" "$chip" "$device" "$AMBO_SECONDS"
	"$AMBO_BIN/sim_pulses" "$chip" "$device" "$AMBO_SECONDS" realtime
done
finish
