#!/usr/bin/env bash
# Starts a virtual Raspberry Pi 3 under QEMU with Debian's arm64 kernel, and
# plays scenes on it with the real leavend and a mat on a GPIO line. Prints the
# table of what the line did; with --write it also puts it into BOARD.md.
#
# It needs Debian, Go and the network. What it downloads is kept in a cache
# (BOARD_CACHE, default below the user's cache folder). This machine's own
# packages and architectures are left as they are, but for QEMU itself.
# BOARD_SCENES=cutoff,clocksteps plays only those, and BOARD_SCENES=brief the
# ones that CI plays, in about four minutes. It ends with 77 when QEMU or the
# kernel cannot be had here.
set -euo pipefail
cd "$(dirname "$0")/../.."

. deploy/board/kernel.sh

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
	-pidfile "$root/pid" -serial null -serial stdio </dev/null 2>&1 | sed -u 's/\r$//' | tee "$log" | until_end "BOARD: end" || true

grep -aq 'BOARD: end' "$log" || { echo "the board did not come to its end"; exit 1; }
grep -aq 'ROW: ' "$log" || { echo "the board played nothing"; exit 1; }
table=$(printf '| what happens | expected | what the line did | as expected |\n|---|---|---|---|\n'; LC_ALL=C sed -n 's/^.*ROW: //p' "$log")
printf '\n%s\n' "$table"
if [ "${1:-}" = --write ]; then
	write_table deploy/board/BOARD.md "$table"
fi
grep -aq 'BOARD: end 0' "$log"
