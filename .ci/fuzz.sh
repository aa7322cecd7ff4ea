#!/usr/bin/env bash
# Runs every fuzz target for a while, two at a time: .ci/fuzz.sh 20s. An input
# that makes one fail is left in its package's testdata/fuzz, to be committed
# with what mends it.
set -euo pipefail
[ $# -eq 1 ] || { echo 'usage: .ci/fuzz.sh TIME, such as 20s' >&2; exit 2; }
cd "$(dirname "$0")/.."

# A target that is in the middle of an input when its time is over fails with a
# deadline, and no failing input: that is no failure (Go issue 56238).
one() {
  local out
  if ! out=$(go test "./$2" -run '^$' -fuzz "^$3\$" -fuzztime "$1" -fuzzminimizetime 2s -parallel 1 2>&1) &&
    { grep -q 'Failing input' <<<"$out" || ! grep -q 'context deadline exceeded' <<<"$out"; }; then
    printf '%s %s failed:\n%s\n' "$2" "$3" "$out"
    return 255
  fi
  echo "$2 $3: $(grep -oE 'execs: [0-9]+' <<<"$out" | tail -1)"
}
export -f one

grep -rn --include='*_test.go' -oE '^func Fuzz[A-Za-z0-9]+' . | sed -E 's#^\./(.*)/[^/]+:[0-9]+:func (.*)#\1 \2#' | sort |
  xargs -P 2 -L 1 bash -c 'one "$@"' one "$1"
