#!/usr/bin/env bash
# Makes an apt repository of packages in a folder, which any static web server
# can serve. APT_KEY names the OpenPGP key that signs it, by fingerprint; the
# folder then holds its public half as leavend.gpg. It needs reprepro and gnupg.
#
#   APT_KEY=FINGERPRINT deploy/package/repository.sh FOLDER PACKAGE.deb...
set -euo pipefail

folder=$1
shift
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
mkdir "$work/conf"
cat >"$work/conf/distributions" <<CONF
Origin: leavend
Label: leavend
Codename: stable
Architectures: amd64 arm64 armhf
Components: main
Description: watches sourdough starters and keeps them warm
SignWith: $APT_KEY
CONF
reprepro --silent -b "$work" includedeb stable "$@"
rm -rf "$folder"
mkdir -p "$folder"
cp -r "$work/dists" "$work/pool" "$folder/"
gpg --batch --quiet --export "$APT_KEY" >"$folder/leavend.gpg"
