#!/usr/bin/env bash
# Known vulnerabilities that the program reaches, on the systems it is built for:
# .ci/vulnerabilities.sh. The database is Go's own, or, where that can't be
# reached, made from its entries as they are published as a module. Where neither
# can be reached it says so, and nothing is checked.
set -euo pipefail
cd "$(dirname "$0")/.."
scratch=$(mktemp -d)
trap 'chmod -R u+w "$scratch"; rm -rf "$scratch"' EXIT
GOBIN="$scratch" go install golang.org/x/vuln/cmd/govulncheck@v1.9.0

# What is found in the standard library is told and fails nothing: it is mended by
# a newer Go, not by a change here. Status 3 is that something was found.
check() {
  for system in linux windows darwin; do
    local status=0
    GOOS=$system "$scratch/govulncheck" "$@" ./cmd/tallywink >"$scratch/found" 2>&1 || status=$?
    if [ "$status" -eq 3 ] && ! grep -q '^  Module: ' "$scratch/found"; then
      grep -A2 '^Vulnerability' "$scratch/found"
      echo "$system: build with a newer Go"
    elif [ "$status" -ne 0 ]; then
      return "$status"
    else
      echo "$system: none"
    fi
  done
}

check && exit
if grep -q 'fetching vulnerabilities' "$scratch/found"; then
  echo "the database can't be reached; its entries are asked for as a module"
  if ! { entries=$(cd "$scratch" && go mod download -json golang.org/x/vulndb@latest | sed -nE 's/.*"Dir": "(.*)".*/\1/p') &&
    GOFLAGS=-mod=mod go run golang.org/x/vulndb/cmd/indexdb@latest -vulns "$entries/data/osv" -out "$scratch/database"; } >"$scratch/trouble" 2>&1; then
    cat "$scratch/trouble"
    echo 'NOT CHECKED: neither can be reached'
    exit
  fi
  check -db "file://$scratch/database" && exit
fi
cat "$scratch/found"
exit 1
