#!/bin/sh
# SPDX-License-Identifier: MIT
# Ambo on a simulated bench, without touching anything but its own build folder:
# installs what it needs, builds, and runs one guided batch in this terminal.
set -u
top=$(cd "$(dirname "$0")/.." && pwd) || exit 1

usage() {
	cat <<'END'
usage: sh config/try.sh [--unattended] [--seed N] [--total G] [--speed X] [--no-install]

Runs one batch of the demo's clear resin on the simulated bench, on a bus and in a
folder of its own that are gone afterwards. Where there is a screen the touch display
opens beside the terminal, whose keys are the hands.

  --unattended  a simulated person pours; prints each step and the record at the
                end, and exits 0 only if the batch is within tolerance
  --seed N      which person and which noise (unattended; default 7)
  --total G     grams of mixed resin (default 330)
  --speed X     of the bench's time (default 1, unattended 8)
  --no-install  do not look for packages

Exit status: 0 done, 1 failed (or not within tolerance), 2 wrong options.
END
}

is_number() {
	case $1 in
	'' | *[!0-9.]* | *.*.* | .) return 1 ;;
	esac
}

unattended='' seed=7 total=330 speed='' install=yes inside=''
while [ $# -gt 0 ]; do
	case $1 in
	--unattended) unattended=yes ;;
	--no-install) install='' ;;
	--seed | --total | --speed)
		if [ $# -lt 2 ] || ! is_number "$2"; then
			echo "try.sh: $1: expected a number after it" >&2
			exit 2
		fi
		eval "${1#--}=\$2"
		shift
		;;
	--inside) inside=$2 && shift ;; # the second half, on the private bus
	-h | --help)
		usage
		exit 0
		;;
	*)
		echo "try.sh: $1: no such option" >&2
		usage >&2
		exit 2
		;;
	esac
	shift
done
[ -n "$speed" ] || speed=$([ -n "$unattended" ] && echo 8 || echo 1)
bin=$top/build-try/bin

# Runs "$@" so that a TERM or HUP sent to us reaches it at once.
run() {
	exec 3<&0
	"$@" <&3 &
	child=$!
	wait $child
}

if [ -n "$inside" ]; then
	echo $$ >"$inside/pid"
	"$bin/ambod" --config "$inside" 2>"$inside/ambod.log" &
	daemon=$! child='' display=''
	trap 'kill $child $display $daemon 2>/dev/null; wait' EXIT
	trap 'exit 1' HUP TERM
	if ! "$bin/ambo" --wait 15 watch --count 1 >/dev/null 2>&1; then
		echo "The station did not start:" >&2
		cat "$inside/ambod.log" >&2
		exit 1
	fi
	if [ -n "$unattended" ]; then
		run "$bin/ambo" rehearse tidepool-clear --text --total "$total" --seed "$seed"
	else
		# The window beside the terminal, which holds the hands of the simulated bench.
		if [ -n "${DISPLAY-}${WAYLAND_DISPLAY-}" ]; then
			"$bin/ambo-display" --bus session --languages "$top/build-try/display/po" \
				2>"$inside/display.log" &
			display=$!
		fi
		run "$bin/ambo" mix tidepool-clear --total "$total"
	fi
	status=$?
	[ $status -eq 0 ] || tail -n 5 "$inside/ambod.log" >&2
	exit $status
fi

if [ -n "$install" ]; then
	# shellcheck source=config/install.sh
	. "$top/config/install.sh"
	echo "== Packages"
	install_packages build || exit 1
fi
work=$(mktemp -d "${TMPDIR:-/tmp}/ambo-try.XXXXXX") || exit 1
trap 'rm -rf "$work"' EXIT
trap 'exit 1' HUP TERM INT

echo "== Building into build-try/"
if ! { cmake -S "$top" -B "$top/build-try" -G Ninja -DCMAKE_BUILD_TYPE=RelWithDebInfo \
	-DAMBO_TESTS=OFF && cmake --build "$top/build-try"; } >"$work/build.log" 2>&1; then
	tail -n 30 "$work/build.log" >&2
	echo "The build failed; its end stands above." >&2
	exit 1
fi

cp -R "$top/config/demo" "$work/config"
sed -i -e "s/speed = [0-9.]*/speed = $(awk "BEGIN { printf \"%.6f\", $speed }")/" \
	-e "s/seed = [0-9]*/seed = ${seed%%.*}/" "$work/config/ambo.conf"
echo "== One batch on the simulated bench (time runs at $speed times)"
set -- --inside "$work/config" --total "$total" --seed "$seed"
[ -z "$unattended" ] || set -- "$@" --unattended
# Ctrl-C is for ambo alone, which says what becomes of the batch. The bus ends with
# the shell inside it, so that is where a TERM has to go.
trap '' INT
trap 'kill "$(cat "$work/config/pid")"; wait; exit 1' HUP TERM
run dbus-run-session -- sh "$top/config/try.sh" "$@"
status=$?
echo "== The demo's station, its bus and its records are gone again (status $status)."
exit $status
