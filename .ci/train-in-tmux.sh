#!/usr/bin/env bash
# The trainer in a real terminal: begin, answer wrong, answer right, leave; the
# summary and the book agree with what happened. Then it is killed in the
# middle of a session, and the book still has every answer.
set -euo pipefail

work=$(mktemp -d)
server=tallywink-ci-$$
t() { tmux -L "$server" "$@"; }
trap 't kill-server 2>/dev/null || true; rm -rf "$work"' EXIT
go build -o "$work/tallywink" ./cmd/tallywink

# until TEXT appears on the screen, or half a minute.
wait_for() {
  for _ in $(seq 300); do
    if t capture-pane -p | grep -qF -- "$1"; then return; fi
    sleep 0.1
  done
  echo "this did not appear: $1"
  t capture-pane -p
  exit 1
}
field() { # of line $1 of the book, the value of $2
  sed -n "$1p" "$work/book.jsonl" | grep -oE "\"$2\":(\"[^\"]*\"|[a-z0-9]+)" | head -1 | cut -d: -f2- | tr -d '"'
}
lines() { wc -l <"$work/book.jsonl"; }

t new-session -d -x 80 -y 24
t send-keys "PS1='ready> '; clear; $work/tallywink train --trainee Ada --book $work/book.jsonl --seed 3; echo status \$?" Enter
wait_for 'Enter practises what is due'
t send-keys 1
wait_for 'Which digit?'
t send-keys u Enter
wait_for 'NOT RIGHT'
first=$(field 1 shown)
# The same question again, in a book of its own, answered right.
t send-keys Escape
wait_for 'status 0'
wait_for '1 answered, 0 right'
[ "$(field 1 read)" = unsure ] && [ "$(field 1 right)" = false ]
rm "$work/book.jsonl"
t send-keys "clear; $work/tallywink train --trainee Ada --book $work/book.jsonl --seed 3; echo status \$?" Enter
wait_for 'Enter practises what is due'
t send-keys 1
wait_for 'Which digit?'
t send-keys "$first" Enter
wait_for 'Right.'
t send-keys Enter
wait_for 'Which digit?'
wait_for '1 of 1 right'
t send-keys u Enter
wait_for 'NOT RIGHT'
t send-keys Escape
wait_for '2 answered, 1 right'
[ "$(lines)" = 2 ]
[ "$(field 1 shown)" = "$first" ] && [ "$(field 1 right)" = true ] && [ "$(field 2 right)" = false ]

# Killed in mid-session: what was answered is there, and the next start reads
# on.
t send-keys "clear; $work/tallywink train --trainee Ada --book $work/book.jsonl" Enter
wait_for 'Enter practises what is due'
t send-keys 1
wait_for 'Which digit?'
t send-keys u Enter
wait_for 'NOT RIGHT'
pkill -KILL -f "$work/tallywink train"
sleep 0.5
[ "$(lines)" = 3 ]
t send-keys "" C-u "stty sane; clear; $work/tallywink progress --book $work/book.jsonl" Enter
wait_for 'Ada: 3 answers, 33% right'
echo 'the trainer in tmux: as it should be'
