# shellcheck shell=bash
# Sourced by try.sh, boot.sh and boot-arm64.sh: a fresh Debian below a folder,
# and the package in it.

suite=bookworm
cache=${TRY_CACHE:-${XDG_CACHE_HOME:-$HOME/.cache}/leavend-try}

missing() { echo "skipped: $1"; exit 77; }

# the_package ARCH [FILE] prints the package to try.
the_package() { echo "${2:-$(ls dist/leavend_*_"$1".deb)}"; }

# fresh_system ARCH DIR [PACKAGES] unpacks a fresh Debian with systemd, or with
# the packages named, into a folder. It is fetched once, and kept.
fresh_system() {
	local base=$cache/$suite-$1.tar new
	if [ ! -e "$base" ]; then
		command -v debootstrap >/dev/null || missing "debootstrap is not here"
		mkdir -p "$cache"
		new=$(mktemp -d "$cache/new.XXXXXX")
		debootstrap --arch="$1" --variant=minbase --include="${3:-systemd}" "$suite" "$new" >"$cache/log" 2>&1 ||
			{ tail -5 "$cache/log"; rm -rf "$new"; missing "debootstrap cannot fetch a fresh Debian for $1 here"; }
		rm -rf "$new"/var/cache/apt/archives/*.deb
		tar -C "$new" -cf "$base.part" . && mv "$base.part" "$base"
		rm -rf "$new"
	fi
	mkdir -p "$2"
	tar -C "$2" -xf "$base"
	chmod 755 "$2" # everybody may enter a root folder
}

# inside DIR COMMAND... runs a command with the folder as its root.
inside() {
	local dir=$1
	shift
	DEBIAN_FRONTEND=noninteractive LC_ALL=C.UTF-8 chroot "$dir" "$@"
}

# apt_in DIR ARGUMENTS... is apt-get in there; no service is started.
apt_in() {
	local dir=$1
	shift
	printf '#!/bin/sh\nexit 101\n' >"$dir/usr/sbin/policy-rc.d"
	chmod 755 "$dir/usr/sbin/policy-rc.d"
	inside "$dir" apt-get -qq -y --no-install-recommends "$@" >"$dir/apt.log" 2>&1 || { cat "$dir/apt.log"; exit 1; }
	rm "$dir/usr/sbin/policy-rc.d"
}

# put_trial DIR lays booted.sh and the guides into a system, to run when it has booted
# and to end it: its lines go to /trial.log, and to the console where that is asked for.
put_trial() {
	install -m 755 deploy/package/booted.sh "$1/booted.sh"
	install -D -m 644 -t "$1/guide" deploy/guide/start.md deploy/guide/messages.md
	# The trial has no network, and apt takes no recommendation from elsewhere.
	printf 'APT::Install-Recommends "0";\n' >"$1/etc/apt/apt.conf.d/trial"
	cat >"$1/etc/systemd/system/trial.service" <<-UNIT
		[Unit]
		After=multi-user.target
		[Service]
		Type=oneshot
		TimeoutStartSec=infinity
		Environment=PATIENCE=${PATIENCE:-1}
		ExecStart=/bin/bash -c '{ /booted.sh; echo "ended with \$\$?"; } 2>&1 | tee /trial.log ${2:-}; systemctl --no-block poweroff'
	UNIT
	mkdir -p "$1/etc/systemd/system/graphical.target.wants"
	ln -s ../trial.service "$1/etc/systemd/system/graphical.target.wants/trial.service"
}
