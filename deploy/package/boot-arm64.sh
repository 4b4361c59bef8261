#!/usr/bin/env bash
# Boots a fresh Debian for arm64 inside a virtual Raspberry
# Pi 3 (QEMU, with the kernel that deploy/board/run.sh keeps), under the real
# systemd of that system, and plays the guide and tries the service there as boot.sh
# does: prints what held and how long it took. It takes minutes, so CI leaves it out.
#
#   deploy/package/boot-arm64.sh [PACKAGE.deb]
#
# Needs root, debootstrap, qemu-user-static and qemu-system-arm. While the fresh
# system is made, this machine's kernel runs programs for arm64 by QEMU; that is
# taken back. It ends with 77 where something cannot be had.
set -euo pipefail
cd "$(dirname "$0")/../.."

. deploy/package/fresh.sh
board=${BOARD_CACHE:-${XDG_CACHE_HOME:-$HOME/.cache}/leavend-board}
[ "$(id -u)" = 0 ] || missing "only root can enter a folder as a system"
for tool in qemu-aarch64-static qemu-system-aarch64 cpio; do command -v "$tool" >/dev/null || missing "$tool is not here"; done
[ -e "$board/kernel/done" ] || missing "there is no kernel; deploy/board/run.sh fetches one"
kernel=$(echo "$board"/kernel/boot/vmlinuz-*)
tree=$(echo "$board"/kernel/usr/lib/linux-image-*/broadcom/bcm2837-rpi-3-b.dtb)

work=$(mktemp -d) root=$work/fs format=/proc/sys/fs/binfmt_misc
cleanup() {
	[ ! -e "$format/leavend-arm64" ] || echo -1 >"$format/leavend-arm64"
	rm -rf "$work"
}
trap cleanup EXIT

# The kernel knows a program for arm64 by its first bytes (ELF header: 64 bits,
# little-endian, machine 183); F opens the emulator now, so that it need not be
# inside the new system.
if ! grep -qs enabled "$format/qemu-aarch64"; then
	[ -e "$format/register" ] || mount -t binfmt_misc binfmt_misc "$format" || missing "this kernel runs no foreign programs"
	printf '%s' ':leavend-arm64:M::\x7fELF\x02\x01\x01\x00\x00\x00\x00\x00\x00\x00\x00\x00\x02\x00\xb7\x00:\xff\xff\xff\xff\xff\xff\xff\x00\xff\xff\xff\xff\xff\xff\xff\xff\xfe\xff\xff\xff:'"$(command -v qemu-aarch64-static):F" >"$format/register"
fi

fresh_system arm64 "$root" systemd,systemd-sysv,udev
cp "$(the_package arm64 "$@")" "$root/leavend.deb"
PATIENCE=10 put_trial "$root" /dev/ttyS1
rm -rf "$root"/usr/share/{doc,man,locale}/* "$root"/var/lib/apt/lists/*

# The whole system goes into memory, so that the kernel needs no driver for it.
ln -sf /lib/systemd/systemd "$root/init"
(cd "$root" && find . | cpio -o -H newc --quiet) | gzip -1 >"$work/initrd.gz"
echo "a system of $(du -sm "$root" | cut -f1) MB boots on a virtual Raspberry Pi 3"
timeout "${BOARD_TIMEOUT:-1800}" qemu-system-aarch64 -M raspi3b -kernel "$kernel" -dtb "$tree" -initrd "$work/initrd.gz" \
	-append "console=ttyS1,115200 panic=5 quiet systemd.show_status=no systemd.mask=serial-getty@ttyS1.service" -display none -no-reboot \
	-pidfile "$work/pid" -serial null -serial stdio </dev/null 2>&1 | sed -u 's/\r$//' | tee "$work/log" | {
	# The board has no power switch that QEMU knows: its last word ends it.
	while IFS= read -r l; do
		printf '%s\n' "$l"
		case $l in *"ended with "*) kill "$(cat "$work/pid")" 2>/dev/null || true ;; esac
	done
} || true
grep -aq 'ended with 0$' "$work/log" || { echo "it did not come to its end"; exit 1; }
