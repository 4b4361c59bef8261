#!/usr/bin/env bash
# Copies the guides, with every paper and drawing that they link to, into a
# folder, each at its place in the tree, so that no link of theirs leads nowhere.
#
#   deploy/package/papers.sh FOLDER
set -euo pipefail
cd "$(dirname "$0")/../.."
out=$1

todo=(deploy/guide/*.md README.md deploy/prometheus/README.md deploy/grafana/README.md cmd/leavend/internal/metrics/METRICS.md)
declare -A seen
while [ ${#todo[@]} -gt 0 ]; do
	paper=${todo[0]}
	todo=("${todo[@]:1}")
	[ -z "${seen[$paper]:-}" ] || continue
	seen[$paper]=yes
	install -Dm644 "$paper" "$out/$paper"
	[ "${paper##*.}" = md ] || continue
	while read -r link; do
		[ -n "$link" ] || continue
		found=$(realpath -m --relative-to=. "$(dirname "$paper")/$link")
		[ -f "$found" ] || { echo "$paper links to $link, which does not exist" >&2; exit 1; }
		todo+=("$found")
	done < <(grep -oE '\]\([^)#:]+' "$paper" | cut -c3- || true)
done
find "$out" -exec touch -h -d "@${SOURCE_DATE_EPOCH:-0}" {} +
