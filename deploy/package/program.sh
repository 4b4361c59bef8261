#!/usr/bin/env bash
# Builds the program as the packages have it, for GOARCH, or else for this
# machine:
#
#   deploy/package/program.sh FILE [FLAG FOR THE LINKER]...
#
# What others wrote that serves pages, messages and metrics is not inlined,
# which makes the program a megabyte smaller; nothing of it is in a hurry. The
# history's database, and all of our own, is.
set -euo pipefail
cd "$(dirname "$0")/../.."

file=$1
shift
small=()
for packages in github.com/... golang.org/... google.golang.org/... go.yaml.in/... \
	net net/http crypto/tls crypto/x509 database/sql encoding/json html/template text/template; do
	small+=("-gcflags=$packages=-l")
done
CGO_ENABLED=0 GOOS=linux GOARM=6 GOFLAGS='' go build -trimpath -buildvcs=false "${small[@]}" -ldflags "-s -w -buildid= $*" -o "$file" ./cmd/leavend
