package main

import (
	"os/user"
	"slices"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
)

// noting holds the flags that say where to note a reading at an amplifier.
type noting struct {
	book, by string
	noBook   bool
}

func (n *noting) declare(flags *pflag.FlagSet, what string) {
	flags.StringVar(&n.book, "book", "", what)
	flags.StringVar(&n.by, "by", "", "with --amp, the `NAME` of who read it (default: your own on this machine)")
	flags.BoolVar(&n.noBook, "no-book", false, "with --amp, note nothing")
}

// check refuses flags that contradict each other.
func (n *noting) check(amp string) error {
	switch {
	case n.noBook && n.book != "":
		return misuse("leave one of them out", "you gave both --book and --no-book")
	case amp == "" && (n.by != "" || n.noBook):
		return misuse("add --amp ID, or leave it out", "--by and --no-book are for a reading at an amplifier")
	}
	return nil
}

// note appends an answer to the book of readings, and reports where. Readings at the
// demo's amplifiers are noted only in a book that is named.
func (n *noting) note(out *console.Console, a *answer.Answer, amps string) error {
	if a.Amplifier == nil || n.noBook || n.book == "" && slices.Contains(demo.Inventories(), amps) {
		return nil
	}
	b, err := input.OpenBook(n.book, input.FieldBook)
	if err != nil {
		return err
	}
	if err := b.Append(a.Reading(n.who(a), time.Now())); err != nil {
		return err
	}
	doubtful := ""
	if a.Doubtful || a.Unconfirmed {
		doubtful = ", as doubtful"
	}
	out.Remark("noted in %s%s", console.Shown(b.Path), doubtful)
	return nil
}

// who returns who read the lamp: the name that was given, else the trainee whose habits
// were weighed, else the user.
func (n *noting) who(a *answer.Answer) string {
	if n.by != "" {
		return n.by
	}
	if a.Observer != nil {
		return a.Observer.Name
	}
	return loginName()
}

// loginName returns the user of this machine, without the domain; "" if unknown.
func loginName() string {
	u, err := user.Current()
	if err != nil {
		return ""
	}
	return u.Username[strings.LastIndexByte(u.Username, '\\')+1:]
}

// tellAndNote prints an answer and notes it. If it can't be noted, that is reported after
// the answer, so that the technician has the answer anyway.
func (n *noting) tellAndNote(out *console.Console, a *answer.Answer, of input.Asked, amps string,
	asJSON bool) (int, error) {
	status, err := tell(out, a, of, asJSON)
	if err == nil {
		err = out.Flush()
	}
	if err != nil {
		return status, err
	}
	return status, n.note(out, a, amps)
}
