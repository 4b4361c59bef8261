#!/usr/bin/env bash
# Makes a release in dist/: packages for Debian, archives, a container image,
# bills of materials, sums, signatures, notes, and an apt repository.
#
#   deploy/release.sh v1.2.3              the commit under the tag v1.2.3
#   deploy/release.sh --rehearse v1.2.3   any commit, with keys made for the
#                                         occasion and deploy/publisher.env as it is
#
# Keys come by the environment and are never in the tree:
#   APT_KEY        the OpenPGP key, by fingerprint, that signs the repository
#   MINISIGN_KEY   the file of the minisign key that signs SHA256SUMS
#
# It needs Go, git, gzip, dpkg, reprepro, gnupg, minisign and buildah.
# LEAVEND_IMAGE=no leaves the container image out.
set -euo pipefail
umask 022
cd "$(dirname "$0")/.."

refuse() { echo "release: $1" >&2; exit 2; }

rehearse=
[ "${1:-}" = --rehearse ] && { rehearse=yes; shift; }
tag=${1:-}
[[ $tag =~ ^v[0-9]+\.[0-9]+\.[0-9]+$ ]] || refuse "the version is a tag such as v1.2.3, not '$tag'"
version=${tag#v}
dist=${DIST:-$PWD/dist}

for tool in go git gzip dpkg-deb reprepro gpg minisign; do
	command -v "$tool" >/dev/null || refuse "$tool is not installed"
done

set -a
# shellcheck source=deploy/publisher.env
. deploy/publisher.env
set +a

# notes prints what CHANGELOG.md says of the version, or of what is unreleased.
notes() {
	local heading=$version
	[ -n "$rehearse" ] && heading=Unreleased
	awk -v want="## $heading" 'index($0, want) == 1 { on = 1; next } /^## / { on = 0 } on' CHANGELOG.md
}

# ready refuses a release that would go out half-made.
ready() {
	[ -z "$(git status --porcelain)" ] || refuse "the tree has changes that are not committed"
	[ "$(git describe --tags --exact-match 2>/dev/null)" = "$tag" ] || refuse "HEAD is not the commit of the tag $tag"
	! grep -q '\.invalid' deploy/publisher.env || refuse "deploy/publisher.env still holds .invalid; fill in who publishes"
	[ "$(go list -m)" = "$MODULE" ] || refuse "go.mod names the module $(go list -m), deploy/publisher.env names $MODULE"
	[ -n "$(notes)" ] || refuse "CHANGELOG.md has no heading '## $version'"
	[ -n "${APT_KEY:-}" ] || refuse "APT_KEY names no key for the apt repository"
	[ -f "${MINISIGN_KEY:-}" ] || refuse "MINISIGN_KEY names no file with a minisign key"
}

# borrow_keys makes keys that last as long as the rehearsal.
borrow_keys() {
	GNUPGHOME=$(mktemp -d)
	export GNUPGHOME
	trap 'gpgconf --kill all; rm -rf "$GNUPGHOME"' EXIT
	gpg --batch --quiet --passphrase '' --quick-generate-key 'rehearsal <rehearsal@leavend.invalid>' ed25519 sign never
	APT_KEY=$(gpg --list-keys --with-colons | awk -F: '$1 == "fpr" { print $10; exit }')
	MINISIGN_KEY=$GNUPGHOME/minisign.key
	minisign -G -W -f -s "$MINISIGN_KEY" -p "$GNUPGHOME/minisign.pub" >/dev/null
}

# archive PACKAGE packs what a package holds for boards without apt.
archive() {
	local package=$1 arch name tree
	arch=$(dpkg-deb -f "$package" Architecture)
	name=leavend_${version}_linux_$arch
	tree=$(mktemp -d)
	dpkg-deb -x "$package" "$tree/$name"
	cp LICENSE CHANGELOG.md "$tree/$name/"
	tar -C "$tree" --sort=name --mtime="@$SOURCE_DATE_EPOCH" --owner=0 --group=0 --numeric-owner -cf - "$name" |
		gzip -9n >"$dist/$name.tar.gz"
	rm -rf "$tree"
}

if [ -n "$rehearse" ]; then borrow_keys; else ready; fi
SOURCE_DATE_EPOCH=$(git log -1 --format=%ct)
export SOURCE_DATE_EPOCH
rm -rf "$dist"
mkdir -p "$dist"

VERSION=$version DIST=$dist deploy/package/build.sh
for package in "$dist"/*.deb; do archive "$package"; done
APT_KEY=$APT_KEY deploy/package/repository.sh "$dist/apt" "$dist"/*.deb
[ "${LEAVEND_IMAGE:-yes}" = no ] || deploy/container/build.sh "$version" "$dist"
notes >"$dist/NOTES.md"
cd "$dist"
sha256sum leavend_* >SHA256SUMS
minisign -S -s "$MINISIGN_KEY" -t "leavend $version" -m SHA256SUMS >/dev/null </dev/null
echo "release $version is in $dist"
