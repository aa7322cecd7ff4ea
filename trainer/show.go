package trainer

import (
	"time"

	"tallywink.example/blink"
	"tallywink.example/trainer/lesson"
)

// Showing plays a lamp until the person leaves.
type Showing struct {
	player blink.Player
	title  string
	over   bool
}

// NewShowing begins to play intervals, repeated; title says what they are. The error
// wraps [blink.ErrFlashes] if they flash too fast to be shown.
func NewShowing(title string, intervals []blink.Interval, now time.Time) (*Showing, error) {
	if err := blink.CheckShown(intervals); err != nil {
		return nil, err
	}
	s := &Showing{title: title}
	s.player.Play(blink.Play{Light: intervals}, now)
	return s, nil
}

// Key takes a key: Escape ends the play, others do nothing.
func (s *Showing) Key(key rune, _ time.Time) {
	s.over = s.over || key == KeyEscape || key == KeyBreak
}

// View returns what to show.
func (s *Showing) View(now time.Time, width, height int) View {
	lit, again := s.player.Show(now, false)
	v := View{Wake: soonest(now.Add(idle), again)}
	var rows []string
	rows = append(rows, wrapped(s.title, width)...)
	rows = append(rows, wrapped("This flashes. Look away if flashing light can harm you; Esc or Ctrl-C ends it.",
		width)...)
	const least = 2 // rows of the lamp
	if len(rows) > height-least {
		rows = rows[:max(height-least, 0)]
	}
	for y, text := range rows {
		v.Rows = append(v.Rows, Row{y, 0, text, Plain})
	}
	const most = 8
	v.Lamp = &Lamp{X: width / 2, Y: len(rows), Height: min(height-len(rows), most), Look: lesson.Look{}, Lit: lit}
	return v
}

// Drawn does nothing: the lateness is not recorded here.
func (s *Showing) Drawn(time.Time) {}

// Work returns nil: nothing takes long here.
func (s *Showing) Work(time.Time) func() func() { return nil }

// Over reports whether the person has left.
func (s *Showing) Over() bool { return s.over }
