#!/bin/sh
# SPDX-License-Identifier: MIT
# A whole batch by busctl alone: systemd's program, which knows nothing of us. Runs on
# a session bus where a station at the simulated bench answers (peer_batch.py starts
# both). Ends with the record's verdict; 0 only when that is "within".
set -u

call() { # OBJECT METHOD [SIGNATURE ARGUMENT...]
	object=$1 method=$2
	shift 2
	busctl --user call org.ambo.Station "/org/ambo/$object" "org.ambo.$(
		case $object in batch) echo Batch1 ;; bench) echo Bench1 ;; *) echo Records1 ;; esac
	)" "$method" "$@"
}

look() {
	seen=$(busctl --user --json=short call org.ambo.Station /org/ambo/batch \
		org.freedesktop.DBus.Properties GetAll s org.ambo.Batch1) || exit 1
}

text() { # KEY: of what was seen, a text or a number
	printf '%s\n' "$seen" | sed -n "s/.*\"$1\":{\"type\":\"[a-z]\",\"data\":\"\{0,1\}\([^\"}]*\).*/\1/p"
}

below() { awk "BEGIN { exit !($1 < $2) }"; }

act() { call bench Act sd "$1" "$2" >/dev/null; }

press() {
	call batch Press x 0 >/dev/null
	sleep 2 # at the bench 4 s: hands that change bottles faster are asked about it
}

id=$(call batch Begin 'a{sv}' 2 System s tidepool-clear TotalGrams d 330 | sed 's/^xs \([0-9]*\).*/\1/')
echo "batch $id"

pouring='' cup='' lifted='' emptied='' before='' turns=0
while turns=$((turns + 1)) && [ $turns -lt 2500 ]; do
	look
	step=$(text Step) message=$(text Message) left=$(text RemainingGrams) component=$(text Component)
	if [ "$step $message" != "$before" ]; then
		before="$step $message"
		echo "$before: $(text Sentence)"
	fi
	if [ -n "$pouring" ]; then
		# Slow at 25 g, stop just short: what is in the air still comes.
		if [ "$component" != "$pouring" ] || [ -z "$left" ] || below "$left" 0.7 ||
			[ "$(text Cue)" = tip-back ]; then
			act stop 0.2
			pouring=''
			sleep 0.7
		elif [ "$pace" = full ] && below "$left" 25; then
			act taper 2
			pace=slow
		fi
		continue
	fi
	case $step/$message in
	done/*) break ;;
	discarded/*) exit 1 ;;
	*/place-cup)
		[ -n "$cup" ] || act cup 38
		cup=yes
		;;
	charge/add | charge/not-yet | top-up/top-up | top-up/add)
		if [ -n "$left" ] && below 0.3 "$left"; then
			pace=full
			below 25 "$left" || pace=slow
			act "pour-$component" "$([ $pace = full ] && echo 12 || echo 1.5)"
			pouring=$component
		fi
		;;
	*/ratio-within)
		[ -n "$lifted" ] || act lift 0
		lifted=yes
		;;
	stir/stir | stir/stir-unconfirmed) [ "$(text PressMeans)" != stirred ] || press ;;
	pour/*)
		[ -n "$emptied" ] || act empty 0.5
		emptied=yes
		[ "$(text PressMeans)" = nothing ] || press
		;;
	ready/* | charge/charge-done | held/* | */too-much)
		[ "$(text PressMeans)" = nothing ] || press
		;;
	esac
	sleep 0.02
done

verdict=$(busctl --user --json=short call org.ambo.Station /org/ambo/records org.ambo.Records1 Get x "$id" |
	sed -n 's/.*"Step":{"type":"s","data":"done"},"Verdict":{"type":"s","data":"\([a-z-]*\)".*/\1/p')
echo "record of batch $id: ${verdict:-not done}"
[ "$verdict" = within ]
