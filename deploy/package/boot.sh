#!/usr/bin/env bash
# Boots a fresh Debian with the package under its own systemd, in a container
# of systemd-nspawn, and tries the service there: start, crash, hang, upgrade,
# a broken configuration, removal. Needs root, systemd-nspawn, and what try.sh
# needs, whose fresh system it takes. It ends with 77 where it cannot boot.
#
#   deploy/package/boot.sh [PACKAGE.deb]
set -euo pipefail
cd "$(dirname "$0")/../.."

missing() { echo "skipped: $1"; exit 77; }
arch=$(dpkg --print-architecture)
deb=${1:-$(ls dist/leavend_*_"$arch".deb)}
base=${TRY_CACHE:-${XDG_CACHE_HOME:-$HOME/.cache}/leavend-try}/bookworm-$arch.tar
[ "$(id -u)" = 0 ] || missing "only root can boot a container"
[ -e "$base" ] || missing "there is no fresh system; deploy/package/try.sh makes one"
command -v systemd-nspawn >/dev/null || missing "systemd-nspawn is not here (Debian package systemd-container)"

root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT
tar -C "$root" -xf "$base"
chmod 755 "$root"
cp "$deb" "$root/leavend.deb"
printf '#!/bin/sh\nexit 101\n' >"$root/usr/sbin/policy-rc.d"
chmod 755 "$root/usr/sbin/policy-rc.d"
DEBIAN_FRONTEND=noninteractive LC_ALL=C.UTF-8 chroot "$root" apt-get -qq -y --no-install-recommends install /leavend.deb >"$root/apt.log" 2>&1 || { cat "$root/apt.log"; exit 1; }
rm "$root/usr/sbin/policy-rc.d"

install -m 755 deploy/package/booted.sh "$root/booted.sh"
cat >"$root/etc/systemd/system/trial.service" <<'UNIT'
[Unit]
After=multi-user.target
[Service]
Type=oneshot
ExecStart=/bin/bash -c '/booted.sh >/trial.log 2>&1; echo "ended with $?" >>/trial.log; systemctl --no-block poweroff'
UNIT
mkdir -p "$root/etc/systemd/system/graphical.target.wants"
ln -s ../trial.service "$root/etc/systemd/system/graphical.target.wants/trial.service"

# nspawn wants a /run of its own kind; this one is gone with the process.
timeout 600 unshare --mount bash -c '
	mount -t tmpfs tmpfs /run
	exec systemd-nspawn --quiet --register=no --keep-unit --private-network --directory="$1" --boot' - "$root" </dev/null >"$root/console" 2>&1 || true
[ -s "$root/trial.log" ] || { tail -5 "$root/console"; missing "the container does not boot here"; }
cat "$root/trial.log"
grep -q '^ended with 0$' "$root/trial.log" || { echo "it did not come to its end"; exit 1; }
