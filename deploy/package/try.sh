#!/usr/bin/env bash
# Installs the package from an apt repository on loopback, upgrades it from a
# version before, removes, installs again and purges it, in a fresh Debian
# below a folder, and looks at what each step left. Needs root, debootstrap,
# iproute2, curl, python3, reprepro, gnupg, and a package in dist/
# (deploy/package/build.sh makes it).
#
#   deploy/package/try.sh [PACKAGE.deb]
#
# The fresh system is kept (TRY_CACHE, default below the user's cache folder)
# and unpacked again each time. No service is started in it: nothing there is
# process 1. The daemon is run by hand instead, as its own user. It ends with 77
# where a fresh system cannot be had.
set -euo pipefail
cd "$(dirname "$0")/../.."

. deploy/package/fresh.sh
[ "$(id -u)" = 0 ] || missing "only root can enter a folder as a system"

root=$(mktemp -d)
work=$(mktemp -d)
server=
trap '[ -z "$server" ] || kill "$server"; umount -q "$root/proc" || true; gpgconf --homedir "$work/gnupg" --kill all; rm -rf "$root" "$work"' EXIT
fresh_system "$(dpkg --print-architecture)" "$root"
mount -t proc proc "$root/proc"
package=$(realpath "$(the_package "$(dpkg --print-architecture)" "$@")")
version=$(dpkg-deb -f "$package" Version)

in_it() { inside "$root" "$@"; }
as_leavend() { in_it setpriv --reuid leavend --regid leavend --init-groups "$@"; }
apt() { apt_in "$root" "$@"; }

passed=0
# holds WHAT COMMAND... ends the trial where the command fails.
holds() {
	local what=$1
	shift
	if "$@" >"$root/said" 2>&1; then
		echo "ok    $what"
		passed=$((passed + 1))
	else
		echo "FAIL  $what"
		cat "$root/said"
		exit 1
	fi
}
no() { ! "$@"; }
mode() { [ "$(in_it stat -c '%a %U:%G' "$1")" = "$2" ] || in_it stat -c '%a %U:%G' "$1" | grep .; }
wanted=/etc/systemd/system/multi-user.target.wants/leavend.service

# before makes a package of an earlier version with another configuration.
before() {
	dpkg-deb -R "$package" "$work/before"
	sed -i 's/^Version: .*/Version: 0~before-1/' "$work/before/DEBIAN/control"
	echo '# an earlier version said less here' >>"$work/before/usr/share/leavend/leavend.toml"
	(cd "$work/before" && find usr -type f -print0 | sort -z | xargs -0 md5sum >DEBIAN/md5sums)
	dpkg-deb --root-owner-group -Zgzip -z1 -b "$work/before" "$work/before.deb" >/dev/null
}
before
mkdir -m 700 "$work/gnupg"
export GNUPGHOME=$work/gnupg
gpg --batch --quiet --passphrase '' --quick-generate-key 'trial <trial@leavend.invalid>' ed25519 sign never
APT_KEY=$(gpg --list-keys --with-colons | awk -F: '$1 == "fpr" { print $10; exit }')
export APT_KEY
deploy/package/repository.sh "$work/apt" "$work/before.deb"
python3 -u -m http.server --bind 127.0.0.1 --directory "$work" 0 >"$work/server" 2>&1 &
server=$!
for _ in $(seq 600); do grep -q 'port [0-9]' "$work/server" && break; sleep 0.1; done
port=$(sed -n 's/.* port \([0-9]*\) .*/\1/p' "$work/server" | head -1)
# The commands of step 3, word by word as the guide has them, with the address
# that the release notes would name. sudo and curl are the ones of this machine,
# for a bare Debian has neither; apt does not ask.
add_repository() {
	grep -E '^ {7}(sudo curl|echo "deb|sudo apt update)' deploy/guide/start.md | sed "s|^ *||; s|ADDRESS|http://127.0.0.1:$port|g" >"$root/step3"
	[ "$(wc -l <"$root/step3")" = 3 ] || { echo "the guide's step 3 has other commands now"; cat "$root/step3"; return 1; }
	printf '#!/bin/sh\n[ "$1" = curl ] && { shift; exec cat "/fetched/${3##*/}" >"$2"; }\nexec "$@"\n' >"$root/usr/local/bin/sudo"
	chmod 755 "$root/usr/local/bin/sudo"
	mkdir -p "$root/fetched" && curl -fsSo "$root/fetched/leavend.gpg" "$(sed -n 's/.* \(http[^ ]*leavend.gpg\)$/\1/p' "$root/step3")"
	printf 'APT::Get::Assume-Yes "1";\nAPT::Install-Recommends "0";\n' >"$root/etc/apt/apt.conf.d/trial"
	printf '#!/bin/sh\nexit 101\n' >"$root/usr/sbin/policy-rc.d" && chmod 755 "$root/usr/sbin/policy-rc.d"
	in_it bash -e /step3
	rm -r "$root/usr/sbin/policy-rc.d" "$root/etc/apt/apt.conf.d/trial" "$root/usr/local/bin/sudo" "$root/fetched" "$root/step3"
}

echo "== install from a repository"
holds "step 3 of the guide adds the signed repository, and installs" add_repository
holds "it is the version before" bash -c "chroot '$root' dpkg-query -W leavend | grep -w 0~before-1"
holds "dpkg finds every file as it was packed" in_it dpkg --verify leavend
holds "the user is in the devices' groups" bash -c "chroot '$root' id -nG leavend | grep -w gpio | grep -w i2c"
holds "no other user reads the configuration" mode /etc/leavend/leavend.toml "660 root:leavend"
holds "its folder belongs to its group" mode /etc/leavend "2770 root:leavend"
holds "the service starts with the board" test -L "$root$wanted"
holds "the unit is sound in this system" in_it systemd-analyze verify --man=no leavend.service
holds "the program runs as its user" as_leavend leavend version
holds "its own configuration is sound" bash -c "chroot '$root' leavend check --json | grep -q 'leavend.toml is sound'"
holds "man pages and completions are there" in_it ls /usr/share/man/man1/leavend.1.gz /usr/share/man/man5/leavend.toml.5.gz \
	/usr/share/bash-completion/completions/leavend /usr/share/zsh/vendor-completions/_leavend /usr/share/fish/vendor_completions.d/leavend.fish

# run_daemon WORDS runs it in a network of its own until it shows its page and has
# said WORDS, and for three seconds more; it must end with 0 when systemd would end it.
run_daemon() {
	unshare --net bash -c '
		ip link set lo up
		chroot "$1" setpriv --reuid leavend --regid leavend --init-groups env STATE_DIRECTORY=/var/lib/leavend leavend run 2>"$1/daemon.log" &
		for _ in $(seq 600); do
			curl -sf http://127.0.0.1:8420/ >"$1/page" && grep -q -- "$2" "$1/daemon.log" && break
			sleep 0.1
		done
		sleep 3
		kill -TERM $! && wait $!' - "$root" "$1" || { cat "$root/daemon.log"; return 1; }
	grep -i '<title>leavend' "$root/page" && grep -- "$1" "$root/daemon.log" || { cat "$root/page" "$root/daemon.log"; return 1; }
}
# systemd makes this folder when the service starts.
install -d -m 750 -o "$(in_it id -u leavend)" -g "$(in_it id -g leavend)" "$root/var/lib/leavend"

echo "== first start"
holds "with the configuration as it came, the page is there to set things up" run_daemon "nothing is set up yet"

echo "== a jar is set up by hand, and the daemon runs"
printf 'time,distance_mm,temperature_c,note\n2026-01-01T00:00:00Z,120,21,\n2026-01-01T00:00:10Z,120,21,\n' >"$root/etc/leavend/eye.csv"
chmod 644 "$root/etc/leavend/eye.csv"
cat >>"$root/etc/leavend/leavend.toml" <<'CONF'
[[sensor]]
name = "playback"
chip = "recording"
file = "eye.csv"
loop = true
[[vessel]]
name = "Bramble"
distance = "playback"
temperature = "playback"
CONF
holds "it starts, runs and ends with 0" run_daemon "vessels=1"
holds "it keeps its history" in_it test -s /var/lib/leavend/leavend.db
sum=$(in_it sha256sum /etc/leavend/leavend.toml)

echo "== upgrade"
deploy/package/repository.sh "$work/apt" "$package"
apt update
apt upgrade
holds "the new version is there" bash -c "chroot '$root' dpkg-query -W leavend | grep -wF '$version'"
holds "the configuration is as it was" test "$sum" = "$(in_it sha256sum /etc/leavend/leavend.toml)"
holds "and keeps its rights" mode /etc/leavend/leavend.toml "660 root:leavend"
holds "the history is there and opens" bash -c "chroot '$root' setpriv --reuid leavend --regid leavend --init-groups leavend export --json >/dev/null"
holds "the daemon runs again" run_daemon "vessels=1"

echo "== a service switched off stays off"
in_it systemctl disable -q leavend
apt install --reinstall leavend
holds "an installation does not switch it on again" no test -e "$root$wanted"
in_it systemctl enable -q leavend

echo "== remove"
apt remove leavend
holds "the program is gone" no test -e "$root/usr/bin/leavend"
holds "the configuration stays" test "$sum" = "$(in_it sha256sum /etc/leavend/leavend.toml)"
holds "the history stays" in_it test -s /var/lib/leavend/leavend.db

echo "== install again"
apt install leavend
holds "the configuration is the one that stayed" test "$sum" = "$(in_it sha256sum /etc/leavend/leavend.toml)"
holds "the daemon runs" run_daemon "vessels=1"

echo "== purge, without an answer to the question"
apt purge leavend
holds "the configuration is gone" no test -e "$root/etc/leavend"
holds "the history stays" in_it test -s /var/lib/leavend/leavend.db
holds "the service is gone" no test -e "$root$wanted"

echo "== purge, with the answer yes"
apt install leavend
echo 'leavend leavend/forget-history boolean true' | in_it debconf-set-selections
apt purge leavend
holds "the history is gone" no test -e "$root/var/lib/leavend"
holds "dpkg knows nothing of it" no in_it dpkg-query -W leavend

printf '\n%d passed, 0 failed\n' "$passed"
