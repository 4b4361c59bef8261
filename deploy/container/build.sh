#!/usr/bin/env bash
# Builds the container image for three architectures out of the packages in a
# folder, into one OCI archive there:
#
#   deploy/container/build.sh VERSION FOLDER
#
# It needs buildah and dpkg, and runs nothing of the image.
set -euo pipefail
cd "$(dirname "$0")"

version=$1
dist=$(cd "$OLDPWD" && cd "$2" && pwd)
stage=$(mktemp -d)
trap 'rm -rf "$stage"' EXIT
buildah() { command buildah --storage-driver vfs --root "$stage/store" --runroot "$stage/run" "$@"; }

cp Containerfile "$stage/"
mkdir "$stage/data"
# Debian's armhf package holds code for ARM version 6, which version 7 runs too.
for pair in amd64:amd64 arm64:arm64 armhf:arm; do
	root=$stage/root-${pair#*:}
	tree=$stage/tree-${pair%:*}
	dpkg-deb -x "$dist/leavend_$version-1_${pair%:*}.deb" "$tree"
	mkdir -p "$root/usr/bin" "$root/usr/share/doc/leavend" "$root/etc/ssl/certs" "$root/etc/leavend" "$root/var/lib"
	cp "$tree/usr/bin/leavend" "$root/usr/bin/"
	cp "$tree"/usr/share/doc/leavend/{copyright,third-party.gz,sbom.cdx.json.gz} "$root/usr/share/doc/leavend/"
	cp "$tree/usr/share/leavend/leavend.toml" "$root/etc/leavend/"
	cp /etc/ssl/certs/ca-certificates.crt "$root/etc/ssl/certs/"
	cp "$(go env GOROOT)/lib/time/zoneinfo.zip" "$root/usr/share/"
done
for arch in amd64 arm64 arm; do
	variant=
	[ $arch = arm ] && variant=/v6
	buildah build --quiet --isolation chroot --timestamp "${SOURCE_DATE_EPOCH:-0}" --platform "linux/$arch$variant" \
		--build-arg TARGETARCH=$arch --label "org.opencontainers.image.version=$version" \
		--manifest leavend --file "$stage/Containerfile" "$stage" >/dev/null
done
buildah manifest push --quiet --all leavend "oci-archive:$dist/leavend_${version}_oci.tar:$version"
echo "leavend_${version}_oci.tar: $(stat -c %s "$dist/leavend_${version}_oci.tar") bytes for three architectures"
