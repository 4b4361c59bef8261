#!/usr/bin/env bash
# Starts a virtual Raspberry Pi 3 under QEMU with Debian's arm64 kernel, and
# plays scenes on it with the real leavend and a mat on a GPIO line. Prints the
# table of what the line did; with --write it also puts it into BOARD.md.
#
# It needs Debian, Go and the network. What it downloads is kept in a cache
# (BOARD_CACHE, default below the user's cache folder). This machine's own
# packages and architectures are left as they are, but for QEMU itself.
# BOARD_SCENES=cutoff,clocksteps plays only those, and BOARD_SCENES=brief the
# ones that CI plays, in about two minutes. It ends with 77 when QEMU or the
# kernel cannot be had here.
set -euo pipefail
cd "$(dirname "$0")/../.."

cache=${BOARD_CACHE:-${XDG_CACHE_HOME:-$HOME/.cache}/leavend-board}
mkdir -p "$cache"/apt/{lists/partial,cache/archives/partial}

missing() { echo "skipped: $1 cannot be had here"; exit 77; }
as_root() { if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi; }
if ! command -v qemu-system-aarch64 >/dev/null; then
	as_root apt-get update -qq || missing "the list of Debian's packages"
	DEBIAN_FRONTEND=noninteractive as_root apt-get install -y -qq --no-install-recommends qemu-system-arm >/dev/null || missing qemu-system-arm
fi
command -v cpio >/dev/null || DEBIAN_FRONTEND=noninteractive as_root apt-get install -y -qq cpio >/dev/null || missing cpio

# The kernel, by apt with lists of its own: the machine's architectures stay.
if [ ! -e "$cache/kernel/done" ]; then
	cat >"$cache/apt.conf" <<CONF
APT::Architecture "arm64";
APT::Architectures { "arm64"; };
APT::Sandbox::User "$(id -un)";
Dir::State::Lists "$cache/apt/lists";
Dir::Cache "$cache/apt/cache";
CONF
	export APT_CONFIG=$cache/apt.conf
	apt-get update -qq || missing "the list of Debian's arm64 packages"
	image=$(apt-cache depends linux-image-arm64 | sed -n 's/^ *Depends: *\(linux-image-[0-9].*\)$/\1/p' | head -1)
	(cd "$cache" && rm -f linux-image-*.deb && apt-get download -qq "$image") || missing "Debian's arm64 kernel"
	unset APT_CONFIG
	rm -rf "$cache/kernel" && mkdir "$cache/kernel"
	dpkg-deb -x "$cache"/linux-image-*.deb "$cache/kernel"
	touch "$cache/kernel/done"
fi
kernel=$(echo "$cache"/kernel/boot/vmlinuz-*)
board=$(echo "$cache"/kernel/usr/lib/linux-image-*/broadcom/bcm2837-rpi-3-b.dtb)

# A root file system of two programs.
root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT
mkdir -p "$root/fs"/{dev,proc,sys,run,tmp,var/lib/leavend,etc}
GOARCH=arm64 deploy/package/program.sh "$root/fs/leavend"
CGO_ENABLED=0 GOOS=linux GOARCH=arm64 go build -trimpath -ldflags '-s -w' -o "$root/fs/init" ./deploy/board/init
(cd "$root/fs" && find . | cpio -o -H newc --quiet) | gzip -1 >"$root/initrd.gz"

# The first serial port belongs to Bluetooth on this board; the second talks.
log=$root/log
timeout "${BOARD_TIMEOUT:-1800}" qemu-system-aarch64 -M raspi3b -kernel "$kernel" -dtb "$board" -initrd "$root/initrd.gz" \
	-append "console=ttyS1,115200 rdinit=/init panic=5 quiet ${BOARD_SCENES:+scenes=$BOARD_SCENES}" -display none -no-reboot \
	-pidfile "$root/pid" -serial null -serial stdio </dev/null 2>&1 | sed -u 's/\r$//' | tee "$log" | {
	# The board has no power switch that QEMU knows: its last word ends it.
	while IFS= read -r l; do
		printf '%s\n' "$l"
		case $l in *"BOARD: end"*) kill "$(cat "$root/pid")" 2>/dev/null || true ;; esac
	done
} || true

grep -aq 'BOARD: end' "$log" || { echo "the board did not come to its end"; exit 1; }
table=$(printf '| what happens | expected | what the line did | as expected |\n|---|---|---|---|\n'; LC_ALL=C sed -n 's/^.*ROW: //p' "$log")
printf '\n%s\n' "$table"
if [ "${1:-}" = --write ]; then
	{
		sed '/^<!-- table -->$/q' deploy/board/BOARD.md
		printf '\n%s\n' "$table"
	} >"$root/BOARD.md"
	cp "$root/BOARD.md" deploy/board/BOARD.md
fi
grep -aq 'BOARD: end 0' "$log"
