#!/usr/bin/env bash
# Boots Debian's arm64 kernel in QEMU and lets Linux itself talk to the emulated
# chips: leavend's drivers through /dev/i2c, and the kernel's own drivers of the
# same chips. It prints the table of chips and readers; with --write it also puts
# it into BUS.md. It takes about a minute.
#
# It needs what run.sh needs, and ends with 77 when QEMU or the kernel cannot be
# had here. BUS_MACHINE=raspi3b plays on a virtual Raspberry Pi 3.
set -euo pipefail
cd "$(dirname "$0")/../.."
. deploy/board/kernel.sh

root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT
mkdir -p "$root/fs"/{dev,proc,sys,modules}
CGO_ENABLED=0 go run ./deploy/board/bus pack "$(echo "$cache"/kernel/lib/modules/*)" "$root/fs/modules"
CGO_ENABLED=0 GOOS=linux GOARCH=arm64 go build -trimpath -ldflags '-s -w' -o "$root/fs/init" ./deploy/board/bus
(cd "$root/fs" && find . | cpio -o -H newc --quiet) | gzip -1 >"$root/initrd.gz"

machine=(-M virt -cpu cortex-a53 -smp 2 -m 512 -nic none -serial stdio)
console=ttyAMA0
if [ "${BUS_MACHINE:-virt}" = raspi3b ]; then
	machine=(-M raspi3b -dtb "$board" -serial null -serial stdio)
	console=ttyS1,115200
fi
log=$root/log
timeout "${BUS_TIMEOUT:-1800}" qemu-system-aarch64 "${machine[@]}" -kernel "$kernel" -initrd "$root/initrd.gz" \
	-append "console=$console rdinit=/init panic=5 quiet" -display none -no-reboot -pidfile "$root/pid" </dev/null 2>&1 |
	sed -u 's/\r$//' | tee "$log" | until_end "BUS: end" || true

grep -aq 'BUS: end' "$log" || { echo "the machine did not come to its end"; exit 1; }
table=$(printf '| chip | who reads it | expected | read | as expected |\n|---|---|---|---|---|\n'; LC_ALL=C sed -n 's/^.*ROW: //p' "$log")
printf '\n%s\n' "$table"
if [ "${1:-}" = --write ]; then
	write_table deploy/board/BUS.md "$table"
fi
grep -aq 'BUS: end 0' "$log"
