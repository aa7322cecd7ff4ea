#!/usr/bin/env bash
# Builds the program, the page inside, for every system it is meant for, or for those
# that are named, into a folder: static, without C, and the same bytes wherever the checkout stands.
# android/arm64 is for termux.
set -euo pipefail
[ $# -ge 1 ] || { echo 'usage: .ci/build-all.sh FOLDER [OS/ARCH...]' >&2; exit 2; }
mkdir -p "$1"
out=$(cd "$1" && pwd)
shift
[ $# -ge 1 ] || set -- linux/amd64 linux/arm64 darwin/amd64 darwin/arm64 windows/amd64 windows/arm64 android/arm64
cd "$(dirname "$0")/.."
.ci/build-page.sh >&2
for target; do
  os=${target%/*} arch=${target#*/} suffix=
  [ "$os" = windows ] && suffix=.exe
  CGO_ENABLED=0 GOOS=$os GOARCH=$arch GOFLAGS= \
    go build -tags page -trimpath -buildvcs=true -ldflags='-s -w -buildid=' -o "$out/tallywink-$os-$arch$suffix" ./cmd/tallywink
done
cd "$out" && sha256sum tallywink-* | tee SHA256SUMS
