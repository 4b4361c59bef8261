#!/usr/bin/env bash
# Looks at what the container image holds, and runs its demo as its user in a
# root folder of its own and without a network. It needs root, buildah, jq and
# util-linux, and an image in dist/ (deploy/release.sh makes it).
#
#   deploy/container/try.sh [IMAGE.tar]
set -euo pipefail
cd "$(dirname "$0")/../.."

image=${1:-$(ls dist/leavend_*_oci.tar)}
stage=$(mktemp -d)
trap 'rm -rf "$stage"' EXIT

buildah() { command buildah --storage-driver vfs --root "$stage/store" --runroot "$stage/run" "$@"; }

passed=0
holds() {
	local what=$1
	shift
	if "$@" >"$stage/said" 2>&1; then
		echo "ok    $what"
		passed=$((passed + 1))
	else
		echo "FAIL  $what"
		cat "$stage/said"
		exit 1
	fi
}

# The architectures are in the archive's index; the image is this machine's.
mkdir "$stage/layout"
tar -C "$stage/layout" -xf "$image"
index=$(jq -r '.manifests[0].digest' "$stage/layout/index.json" | sed 's|:|/|')
jq -r '.manifests[].platform | .os + "/" + .architecture' "$stage/layout/blobs/$index" | sort >"$stage/platforms"
holds "it serves three architectures" diff - "$stage/platforms" <<<$'linux/amd64\nlinux/arm\nlinux/arm64'
for size in $(jq -r '.manifests[].digest' "$stage/layout/blobs/$index" | sed 's|:|/|' | while read -r m; do jq '[.layers[].size] | add' "$stage/layout/blobs/$m"; done); do
	holds "one is under 30 MB ($size bytes)" test "$size" -lt 30000000
done

container=$(buildah from "oci-archive:$image")
root=$(buildah mount "$container")
(cd "$root" && find . -type f | sort) >"$stage/files"
holds "it holds the program, its papers, certificates and time zones, and nothing else" diff - "$stage/files" <<'FILES'
./etc/leavend/leavend.toml
./etc/ssl/certs/ca-certificates.crt
./usr/bin/leavend
./usr/share/doc/leavend/copyright
./usr/share/doc/leavend/sbom.cdx.json.gz
./usr/share/doc/leavend/third-party.gz
./usr/share/zoneinfo.zip
FILES
holds "no file has the rights of another user" test -z "$(find "$root" -perm /6000)"
holds "the program needs no library" bash -c "file '$root/usr/bin/leavend' | grep 'statically linked'"
holds "it does not run as root" test "$(buildah inspect --format '{{.OCIv1.Config.User}}' "$container")" = 65532:65532
holds "its user may write to its data, and to nothing else" \
	test "$(cd "$root" && find . -uid 65532)" = ./var/lib/leavend

# A process of the image's user, in its root folder, without a network.
run_demo() {
	unshare --net bash -c '
		ip link set lo up
		exec env -i PATH="$PATH" TMPDIR=/var/lib/leavend ZONEINFO=/usr/share/zoneinfo.zip \
			chroot --userspec 65532:65532 "$1" /usr/bin/leavend demo --for 20s' - "$root" >"$stage/demo" 2>&1
	grep 'Nothing was saved' "$stage/demo" || { cat "$stage/demo"; return 1; }
}
holds "the demo runs and ends by itself" run_demo

# The daemon as the image starts it, and the health check of the guide.
run_healthy() {
	unshare --net bash -c '
		ip link set lo up
		inside() { exec env -i PATH="$PATH" STATE_DIRECTORY=/var/lib/leavend RUNTIME_DIRECTORY=/var/lib/leavend TMPDIR=/var/lib/leavend ZONEINFO=/usr/share/zoneinfo.zip \
			chroot --userspec 65532:65532 "$1" /usr/bin/leavend "${@:2}"; }
		(inside "$1" health) && exit 1
		inside "$1" run --config /etc/leavend/leavend.toml & # becomes the daemon itself, which kill then reaches
		for _ in $(seq 240); do (inside "$1" health) && break; sleep 0.5; done
		(inside "$1" health); code=$?
		kill %1; wait; exit $code' - "$root" >"$stage/health" 2>&1 || { cat "$stage/health"; return 1; }
}
holds "its health check tells a daemon that works from one that does not" run_healthy
printf '\n%d passed, 0 failed\n' "$passed"
