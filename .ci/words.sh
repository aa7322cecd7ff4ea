#!/usr/bin/env bash
# Finds words in the program's texts that nobody says at a pole: see DEVELOPERS.md, Words.
set -euo pipefail
cd "$(dirname "$0")/.."
texts=$(go run .ci/messages.go)
found=$(printf '%s\n' "$texts" | grep -nE "tells whether|\bafresh\b|(it|this|that|%[a-z]) is no (text|digit|mark|frame|valid|number|error)\b|stands (twice|in one place|at the end)|can't be read on|comes to stand|so twice|rule objects|spoil the range|corrects the weather|is asked\b|, and there is %|in order again|by hand or temperature alone|the likeliest|[[:alpha:]] [a-z]+\.[A-Z][a-z]+" || true)
if [ -n "$found" ]; then
  printf 'these words are not ours (DEVELOPERS.md, Words):\n%s\n' "$found"
  exit 1
fi
echo 'the words are ours'
