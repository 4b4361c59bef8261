#!/usr/bin/env bash
# Builds the Debian packages for arm64, armhf and amd64 into dist/, each with
# its bill of materials, and SHA256SUMS over all of them.
#
#   deploy/package/build.sh                 all three
#   deploy/package/build.sh amd64           only that one
#   deploy/package/build.sh --twice amd64   builds it twice, the second time in
#                                           another folder and with an empty
#                                           build cache, and compares the bytes
#
# It needs Go and gzip. The same commit and the same Go give the same bytes:
# no path, no clock and no host gets into a package. A release is a commit
# with a tag such as v1.2.3; any other commit's version says when it was made.
# VERSION overrules both. deploy/publisher.env names who publishes.
set -euo pipefail
umask 022
cd "$(dirname "$0")/../.."

nfpm=github.com/goreleaser/nfpm/v2/cmd/nfpm@v2.45.2
twice=
[ "${1:-}" = --twice ] && { twice=yes && shift; }
[ $# -gt 0 ] || set -- arm64 armhf amd64
out=${DIST:-$PWD/dist}
stage=$(mktemp -d)
trap 'chmod -R u+w "$stage" && rm -rf "$stage"' EXIT

export SOURCE_DATE_EPOCH=${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct)}
# shellcheck source=deploy/publisher.env
. deploy/publisher.env
export MAINTAINER HOMEPAGE
commit=$(git rev-parse --short=12 HEAD)
version=${VERSION:-}
[ -n "$version" ] || version=$(git describe --tags --exact-match --match 'v[0-9]*' 2>/dev/null | sed 's/^v//') ||
	version=0.1.0~$(date -u -d "@$SOURCE_DATE_EPOCH" +%Y%m%d%H%M%S).${commit:0:7}
export VERSION=$version STAGE=$stage

# go_arch prints how Go names an architecture of Debian's. One armhf serves
# 32-bit boards of every age: code for version 7 crashes on the oldest.
go_arch() { case $1 in armhf) echo arm ;; *) echo "$1" ;; esac; }

# program ARCH FILE builds the program.
program() {
	GOARCH=$(go_arch "$1") deploy/package/program.sh "$2" -X "leavend/cmd/leavend/internal/version.Version=$version" -X "leavend/cmd/leavend/internal/version.Commit=$commit"
}

# common makes what is the same on every board: pages for man, completions,
# the configuration, and changelogs. They come out of the program itself.
common() {
	local own=$stage/own
	program "$(go env GOHOSTARCH | sed 's/^arm$/armhf/')" "$own"
	for page in leavend.1 leavend.toml.5; do "$own" manual "${page%.*}" | gzip -9n >"$stage/$page.gz"; done
	for shell in bash zsh fish; do "$own" completion "$shell" >"$stage/leavend.$shell"; done
	"$own" config >"$stage/leavend.toml"
	gzip -9nc CHANGELOG.md >"$stage/changelog.gz"
	deploy/package/papers.sh "$stage/papers"
	{
		printf 'leavend (%s-1) unstable; urgency=medium\n\n  * What changed is in /usr/share/doc/leavend/changelog.gz.\n\n' "$version"
		printf ' -- %s  %s\n' "$MAINTAINER" "$(LC_ALL=C date -u -R -d "@$SOURCE_DATE_EPOCH")"
	} | gzip -9n >"$stage/changelog.Debian.gz"
}

# package ARCH DIR builds one package into a folder.
package() {
	local arch=$1 dir=$2 name=leavend_$version-1_$1
	program "$arch" "$stage/leavend"
	go run ./deploy/package/bill -version "$version" -sbom "$dir/$name.cdx.json" -licences "$stage/third-party" "$stage/leavend"
	gzip -9nc "$stage/third-party" >"$stage/third-party.gz"
	gzip -9nc "$dir/$name.cdx.json" >"$stage/sbom.cdx.json.gz"
	ARCH=$([ "$arch" = armhf ] && echo arm6 || echo "$arch") \
		go run "$nfpm" package --config deploy/package/nfpm.yaml --packager deb --target "$dir/$name.deb" >/dev/null
	echo "$name.deb: $(stat -c %s "$dir/$name.deb") bytes, program $(stat -c %s "$stage/leavend") bytes"
}

mkdir -p "$out"
rm -f "$out"/leavend_* "$out/SHA256SUMS"
common
for arch in "$@"; do package "$arch" "$out"; done
(cd "$out" && sha256sum leavend_* >SHA256SUMS)

[ -n "$twice" ] || exit 0
# Once more in a copy of the tree elsewhere, with nothing cached.
export GOCACHE=$stage/cache DIST=$stage/again
mkdir "$stage/tree" && git ls-files -z | xargs -0 cp --parents -t "$stage/tree"
cp -r "$(git rev-parse --path-format=absolute --git-common-dir)" "$stage/tree/.git"
git -C "$stage/tree" update-ref --no-deref HEAD "$(git rev-parse HEAD)"
bash "$stage/tree/deploy/package/build.sh" "$@" >/dev/null
cd "$stage/again" && sha256sum -c "$out/SHA256SUMS"
echo "both builds have the same bytes"
