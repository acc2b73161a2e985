# shellcheck shell=sh
# SPDX-License-Identifier: MIT
# Sourced by try.sh and tests/run.sh, with $top set: install_packages KIND...
# makes sure that the packages of those kinds in config/packages are there.
# Returns 1, having said exactly what to do, when it cannot.

packages_of() {
	for kind; do
		sed -n "s/^${kind} \{1,\}//p" "${top:?}/config/packages"
	done
}

packages_missing() {
	for package in $(packages_of "$@"); do
		# The whole word: dpkg also says "not-installed" of a name it has heard of.
		dpkg-query -W -f='${db:Status-Status}\n' "$package" 2>/dev/null |
			grep -qx installed || printf '%s ' "$package"
	done
}

# Update the lists only when the install alone did not do: the second run is quick.
install_with() {
	set -- "$@" env DEBIAN_FRONTEND=noninteractive apt-get
	# shellcheck disable=SC2086 # a list of names
	"$@" install -y -q --no-install-recommends $missing >"$apt_log" 2>&1 ||
		{
			"$@" update -q >"$apt_log" 2>&1 &&
				"$@" install -y -q --no-install-recommends $missing >"$apt_log" 2>&1
		}
}

install_packages() {
	if ! command -v dpkg-query >/dev/null 2>&1; then
		echo "This is no Debian: install what config/packages lists by your own means; going on." >&2
		return 0
	fi
	missing=$(packages_missing "$@")
	[ -n "$missing" ] || return 0
	apt_log=$(mktemp)
	echo "Installing: $missing"
	if [ "$(id -u)" -eq 0 ]; then
		install_with && installed=yes || installed=no
	elif command -v sudo >/dev/null 2>&1; then
		install_with sudo && installed=yes || installed=no
	else
		installed=no
	fi
	if [ "$installed" = no ]; then
		tail -n 5 "$apt_log" >&2
		echo "Packages are missing and could not be installed. As root, run:" >&2
		echo "  apt-get update && apt-get install -y --no-install-recommends $missing" >&2
	fi
	rm -f "$apt_log"
	[ "$installed" = yes ]
}
