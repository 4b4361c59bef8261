# What the virtual machines of this folder share: QEMU, Debian's arm64 kernel in
# a cache, and the end of a machine. It sets cache, kernel and board (the device
# tree of a Raspberry Pi 3), or ends the script with 77 where they cannot be had.
# shellcheck shell=bash disable=SC2034,SC2154

cache=${BOARD_CACHE:-${XDG_CACHE_HOME:-$HOME/.cache}/leavend-board}
mkdir -p "$cache"/apt/{lists/partial,cache/archives/partial}
exec 8>"$cache/lock"
flock 8 # Two scripts may want them at once.

missing() { echo "skipped: $1 cannot be had here"; exit 77; }
as_root() { if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi; }
fetch() { DEBIAN_FRONTEND=noninteractive as_root apt-get -o DPkg::Lock::Timeout=300 install -y -qq --no-install-recommends "$1" >/dev/null 2>&1; }
# A list of packages that is old, or was never fetched, is fetched first.
install() { fetch "$1" || { as_root apt-get update -qq && fetch "$1"; } || missing "$1"; }
command -v qemu-system-aarch64 >/dev/null || install qemu-system-arm
command -v cpio >/dev/null || install cpio
command -v xz >/dev/null || install xz-utils

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
flock -u 8
kernel=$(echo "$cache"/kernel/boot/vmlinuz-*)
board=$(echo "$cache"/kernel/usr/lib/linux-image-*/broadcom/bcm2837-rpi-3-b.dtb)

# until_end passes lines on, and ends QEMU behind the one that holds a word: a
# board may have no power switch that QEMU knows. $root/pid holds its number.
until_end() {
	local l
	while IFS= read -r l; do
		printf '%s\n' "$l"
		case $l in *"$1"*) kill "$(cat "$root/pid")" 2>/dev/null || true ;; esac
	done
}

# write_table puts a table in place of what stands behind a file's mark.
write_table() {
	{
		sed '/^<!-- table -->$/q' "$1"
		printf '\n%s\n' "$2"
	} >"$root/table"
	cp "$root/table" "$1"
}
