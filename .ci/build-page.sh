#!/usr/bin/env bash
# Builds the page's program, so that 'go build -tags page ./cmd/tallywink' has the page
# inside: for WebAssembly, packed, the same bytes wherever the checkout stands.
set -euo pipefail
cd "$(dirname "$0")/.."
into=cmd/page/site/built
mkdir -p "$into"
CGO_ENABLED=0 GOOS=js GOARCH=wasm GOFLAGS= go build -trimpath -buildvcs=false -ldflags='-s -w -buildid=' -o "$into/page.wasm" ./cmd/page
gzip -9nf "$into/page.wasm"
cp "$(go env GOROOT)/lib/wasm/wasm_exec.js" "$into/wasm_exec.js"
ls -l "$into"
