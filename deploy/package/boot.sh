#!/usr/bin/env bash
# Boots a fresh Debian under its own systemd, in a container of systemd-nspawn,
# plays the guide there from the package to the first message, and tries the
# service: start, crash, hang, upgrade, a broken configuration, removal. Needs root, systemd-nspawn and debootstrap. It
# ends with 77 where it cannot boot.
#
#   deploy/package/boot.sh [PACKAGE.deb]
set -euo pipefail
cd "$(dirname "$0")/../.."

. deploy/package/fresh.sh
arch=$(dpkg --print-architecture)
[ "$(id -u)" = 0 ] || missing "only root can boot a container"
command -v systemd-nspawn >/dev/null || missing "systemd-nspawn is not here (Debian package systemd-container)"

root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT
fresh_system "$arch" "$root"
cp "$(the_package "$arch" "$@")" "$root/leavend.deb"
put_trial "$root"

# nspawn wants a /run of its own kind; this one is gone with the process.
timeout 1800 unshare --mount bash -c '
	mount -t tmpfs tmpfs /run
	exec systemd-nspawn --quiet --register=no --keep-unit --private-network --directory="$1" --boot' - "$root" </dev/null >"$root/console" 2>&1 || true
[ -s "$root/trial.log" ] || { tail -5 "$root/console"; missing "the container does not boot here"; }
cat "$root/trial.log"
grep -q '^ended with 0$' "$root/trial.log" || { echo "it did not come to its end"; exit 1; }
