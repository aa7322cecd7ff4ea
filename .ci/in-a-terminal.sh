#!/usr/bin/env bash
# The program in a real terminal.
#
# The trainer: begin, answer wrong, answer right, leave; the summary and the book
# agree with what happened. Then it is killed in the middle of a session, and the
# book still has every answer.
#
# Every screen: made smaller and larger, put aside with Ctrl-Z and brought back,
# and left by a key or a signal; the terminal is always as it was found.
set -euo pipefail

work=$(mktemp -d)
server=tallywink-ci-$$
t() { tmux -L "$server" "$@"; }
trap 't kill-server 2>/dev/null || true; pkill -KILL -f "^$work/tallywink" || true; rm -rf "$work"' EXIT
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
wait_for 'Or choose:'
t send-keys 1
wait_for 'Which digit?'
t send-keys u Enter
wait_for 'NOT SURE'
first=$(field 1 shown)
# The same question again, in a book of its own, answered right.
t send-keys Escape
wait_for 'Or choose:'
t send-keys Escape
wait_for 'status 0'
wait_for '1 answered, 0 right'
[ "$(field 1 read)" = unsure ] && [ "$(field 1 right)" = false ]
rm "$work/book.jsonl"
t send-keys "clear; $work/tallywink train --trainee Ada --book $work/book.jsonl --seed 3; echo status \$?" Enter
wait_for 'Or choose:'
t send-keys 1
wait_for 'Which digit?'
t send-keys "$first" Enter
wait_for 'Right.'
t send-keys Enter
wait_for 'Which digit?'
wait_for '1 of 1 right'
t send-keys u Enter
wait_for 'NOT SURE'
t send-keys Escape
wait_for 'Or choose:'
t send-keys Escape
wait_for '2 answered, 1 right'
[ "$(lines)" = 2 ]
[ "$(field 1 shown)" = "$first" ] && [ "$(field 1 right)" = true ] && [ "$(field 2 right)" = false ]

# Killed in mid-session: what was answered is there, and the next start reads
# on.
t send-keys "clear; $work/tallywink train --trainee Ada --book $work/book.jsonl" Enter
wait_for 'Or choose:'
t send-keys 1
wait_for 'Which digit?'
t send-keys u Enter
wait_for 'NOT SURE'
pkill -KILL -f "$work/tallywink train"
sleep 0.5
[ "$(lines)" = 3 ]
t send-keys "" C-u "stty sane; clear; $work/tallywink progress --book $work/book.jsonl" Enter
wait_for 'Ada: 3 answers, 33% right'
echo 'the trainer: as it should be'

# found COMMAND: the terminal is what it was: its modes, the cursor, no screen
# of the program's own left.
found() {
  wait_for 'ready>'
  for _ in $(seq 50); do
    [ "$(t display -p '#{cursor_flag} #{alternate_on}')" = '1 0' ] && break
    sleep 0.1
  done
  [ "$(t display -p '#{cursor_flag} #{alternate_on} #{keypad_flag} #{mouse_any_flag}')" = '1 0 0 0' ] || {
    echo "$1: the terminal is not as it was found"
    t display -p 'cursor #{cursor_flag}, alternate #{alternate_on}, keypad #{keypad_flag}, mouse #{mouse_any_flag}'
    exit 1
  }
  t send-keys "" C-u "clear; stty -g >$work/modes.now; cmp $work/modes $work/modes.now && echo the same modes" Enter
  wait_for 'the same modes'
}
# A terminal that nothing was killed in, and a shell of the same kind everywhere,
# with job control.
fresh() { # a terminal, on a server of its own
  server+=x
  t new-session -d -x 80 -y 24 'bash --norc'
}
t kill-server
fresh
t send-keys "PS1='ready> '; clear; stty -g >$work/modes; echo the modes are noted" Enter
wait_for 'the modes are noted'
for way in key TERM HUP INT; do
  while IFS='|' read -r command seen status; do
    t send-keys "" C-u "clear; $work/tallywink $command; echo status \$?" Enter
    wait_for "$seen"
    t resize-window -x 30 -y 8
    sleep 0.3
    t resize-window -x 80 -y 24
    sleep 0.3
    t send-keys C-z
    wait_for Stopped
    found "$command, put aside"
    t send-keys "clear; fg; echo status \$?" Enter
    sleep 1
    wait_for "$seen"
    case $way,$command in
    key,encode*) # what is typed meanwhile neither stands in the lamp nor reaches the shell
      t send-keys 'echo typed' Enter Escape
      wait_for "status $status"
      if t capture-pane -p | grep -q typed; then
        echo "$command: what was typed is seen"
        exit 1
      fi
      ;;
    key,*) t send-keys C-c ;;
    *) pkill "-$way" -f "^$work/tallywink" ;;
    esac
    wait_for "status $status"
    found "$command, ended by $way"
  done <<SCREENS
encode 116 digital --show|Ctrl-C ends it|0
watch|WATCH THE LAMP|2
train --book $work/screens.jsonl|Or choose:|0
SCREENS
done
echo 'every screen: the terminal is left as it was found'

# Somebody pastes far more into a screen than it takes: it is left all the same.
for keys in $'._\n' $'\x03' $'\x03\x1a' $'\x1a'; do
  { printf '%s' "$keys"; head -c 3000 /dev/zero | tr '\0' .; } >"$work/paste"
  t send-keys "" C-u "clear; $work/tallywink watch; echo status \$?" Enter
  wait_for 'WATCH THE LAMP'
  t load-buffer "$work/paste"
  t paste-buffer
  wait_for 'status'
  t send-keys C-c "" C-u
  found 'pasted into'
done
t send-keys "" C-u 'kill -9 %1; clear' Enter
echo 'a paste: it is left all the same'

# The terminal goes away while a screen is put aside: the program ends.
t send-keys "" C-u "clear; $work/tallywink watch" Enter
wait_for 'WATCH THE LAMP'
t send-keys C-z
wait_for Stopped
t kill-server
for _ in $(seq 100); do
  pgrep -f "^$work/tallywink" >/dev/null || break
  sleep 0.1
done
if pgrep -f "^$work/tallywink" >/dev/null; then
  echo 'the terminal is gone, and the program is not'
  pkill -KILL -f "^$work/tallywink"
  exit 1
fi
echo 'a terminal that goes away: it ends'
fresh
t send-keys "PS1='ready> '; stty -g >$work/modes; clear; echo the modes are noted" Enter
wait_for 'the modes are noted'

# A terminal that can place nothing: lines of text are answered, a screen is not
# begun.
t send-keys "clear; TERM=dumb $work/tallywink watch; echo status \$?" Enter
wait_for 'watch: this needs a terminal'
wait_for 'status 2'
t send-keys "clear; TERM=dumb $work/tallywink decode _.. . _. _..; echo status \$?" Enter
wait_for '116 digital'
wait_for 'status 0'
found 'a dumb terminal'
echo 'a dumb terminal: as it should be'
