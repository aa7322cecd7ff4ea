package progress

import (
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/book"
)

var monday = time.Date(2026, 11, 23, 8, 0, 0, 0, time.UTC)

// The rule's own numbers (Wozniak 1990, chapter 3.2, from memory): intervals of 1 and 6
// days, then multiplied by the easiness. A grade of 5 raises it by 0.10, 4 leaves it, 3
// lowers it by 0.14; a grade below 3 starts over. It is never below 1.3.
func TestScheduleIsSM2(t *testing.T) {
	var s Schedule
	s = s.After(4)
	assert.Equal(t, Schedule{2.5, 1, 1}, s)
	s = s.After(4)
	assert.Equal(t, Schedule{2.5, 2, 6}, s)
	s = s.After(4)
	assert.Equal(t, Schedule{2.5, 3, 15}, s)
	s = s.After(4)
	assert.Equal(t, Schedule{2.5, 4, 38}, s, "37.5 days are rounded up")
	for grade, change := range map[int]float64{5: 0.10, 4: 0, 3: -0.14} {
		assert.InDelta(t, 2.5+change, Schedule{2.5, 2, 6}.After(grade).Easiness, 1e-9, "grade %d", grade)
	}
	assert.Equal(t, Schedule{2.5, 0, 1}, Schedule{2.5, 3, 15}.After(2))
	hard := Schedule{}
	for range 20 {
		hard = hard.After(3)
	}
	assert.InDelta(t, 1.3, hard.Easiness, 1e-9)
}

// Ebbinghaus 1885, section 29, the column that he calculated next to what he measured
// (from memory): how much of what was learned is kept, in percent, after 19 and 63
// minutes, 525 minutes, and 1, 2, 6 and 31 days.
func TestRetentionIsEbbinghaus(t *testing.T) {
	for minutes, percent := range map[float64]float64{19: 57.0, 63: 46.7, 525: 34.5, 1440: 30.4, 2880: 28.1,
		8640: 24.9, 44_640: 21.2} {
		assert.InDelta(t, percent, 100*Retention(minutes), 0.6, "after %g minutes", minutes)
	}
	assert.Equal(t, 1.0, Retention(0.5))
}

// learner is a simulated trainee. All of it is assumption. Each mark has a firmness, in
// minutes, that scales Ebbinghaus' curve. A practiced mark becomes firmer by its own
// factor, between 1.7 for those that are easily confused and 3.2 for the easy ones, and
// more so the more of it was forgotten (the spacing effect). A wrong answer, corrected,
// helps half as much. What is not remembered is guessed, with one in ten right.
type learner struct {
	growth map[string]float64
	firm   map[string]float64
	at     map[string]time.Time
	random *rand.Rand
}

func newLearner(marks []string, random *rand.Rand) *learner {
	l := &learner{map[string]float64{}, map[string]float64{}, map[string]time.Time{}, random}
	for _, m := range marks {
		l.growth[m] = 1.7 + 1.5*random.Float64()
	}
	return l
}

func (l *learner) chance(mark string, now time.Time) float64 {
	kept := 0.0
	if l.firm[mark] > 0 {
		kept = Retention(now.Sub(l.at[mark]).Minutes() / l.firm[mark])
	}
	return 0.1 + 0.9*kept
}

func (l *learner) answer(mark string, now time.Time) bool {
	chance := l.chance(mark, now)
	right := l.random.Float64() < chance
	growth := 1 + (l.growth[mark]-1)*(1.2-chance)
	if !right {
		growth = 1 + (growth-1)/2
	}
	if l.firm[mark] == 0 {
		l.firm[mark] = 2
	}
	l.firm[mark] *= growth
	l.at[mark] = now
	return right
}

// knowsAll reports whether the learner would read each mark right with a chance of at
// least 95 %.
func (l *learner) knowsAll(marks []string, now time.Time) bool {
	for _, m := range marks {
		if l.chance(m, now) < 0.95 {
			return false
		}
	}
	return true
}

// questions counts the questions until a learner knows all marks when a day begins. If
// they are chosen, a day is over when nothing is due any more; if they are drawn at
// random, after a fixed number of questions. Five are answered in a minute.
func questions(marks []string, seed uint64, aDay int, chosen bool) int {
	random := rand.New(rand.NewPCG(seed, 5))
	l := newLearner(marks, random)
	c := NewChooser(nil, blink.Tally, random)
	n := 0
	for day := range 400 {
		now := monday.AddDate(0, 0, day)
		if l.knowsAll(marks, now) {
			break
		}
		for range aDay {
			mark := marks[random.IntN(len(marks))]
			if chosen {
				if len(c.DueOf(marks, now)) == 0 {
					break
				}
				mark = c.Next(marks, now)
			}
			right := l.answer(mark, now)
			c.Record(mark, "", right, now)
			n++
			now = now.Add(12 * time.Second)
		}
	}
	return n
}

func tenDigits() (marks []string) {
	for d := range 10 {
		marks = append(marks, fmt.Sprintf("digit %d", d))
	}
	return marks
}

// Choosing pays: the simulated learner knows all ten digits after at least 30 % fewer
// questions than one who is asked thirty a day in random order, and 25 % fewer than
// with twenty: what was not read right is asked until it is. Ten a day in random order,
// each digit about once, is nearly the best spacing possible in this model: choosing
// saves a quarter of that.
func TestChoosingNeedsFewerQuestions(t *testing.T) {
	const learners = 200
	mean := func(aDay int, chosen bool) float64 {
		sum := 0
		for seed := range uint64(learners) {
			sum += questions(tenDigits(), seed, aDay, chosen)
		}
		return float64(sum) / learners
	}
	for aDay, least := range map[int]float64{10: 0.2, 20: 0.25, 30: 0.3} {
		chosen, drawn := mean(aDay, true), mean(aDay, false)
		saved := 1 - chosen/drawn
		t.Logf("%d a day at most, questions until all ten digits are known: %.0f chosen, %.0f in random order, %.0f %% fewer",
			aDay, chosen, drawn, 100*saved)
		assert.GreaterOrEqual(t, saved, least)
	}
}

func TestChooserAsksWhatIsWeak(t *testing.T) {
	c := NewChooser(nil, blink.Tally, rand.New(rand.NewPCG(1, 1)))
	marks := []string{"digit 3", "digit 7", "digit 8"}
	now := monday
	asked := map[string]int{}
	for range 60 {
		m := c.Next(marks, now)
		assert.NotEqual(t, c.last, m, "nothing comes twice in a row")
		asked[m]++
		c.Record(m, "digit 8", m != "digit 7", now)
		now = now.Add(10 * time.Second)
	}
	assert.Greater(t, asked["digit 7"], asked["digit 3"], "what is misread comes more often")
	assert.Greater(t, asked["digit 8"], asked["digit 3"], "and what it is taken for")
	tomorrow := now.AddDate(0, 0, 1)
	assert.Less(t, c.Chance("digit 7", tomorrow), c.Chance("digit 3", tomorrow))
	assert.False(t, c.IsDue("digit 3", now))
	assert.True(t, c.IsDue("digit 3", now.AddDate(0, 0, 7)))
	assert.True(t, c.IsDue("digit 9", now), "never asked")
	assert.Zero(t, c.Chance("digit 9", now))
	assert.Equal(t, "digit 7", c.DueOf(marks, now.AddDate(0, 0, 30))[0])
	one := NewChooser(nil, blink.Tally, rand.New(rand.NewPCG(1, 1)))
	for range 3 {
		require.Equal(t, "digit 1", one.Next([]string{"digit 1"}, now), "where there is but one")
		one.Record("digit 1", "", true, now)
	}
}

// Over days, a mark that is read right comes back at growing intervals, never later
// than the schedule says: after 1 day, then 6, then 17 (6 times 2.7 rounded up). A mark
// that is misread comes back the next day.
func TestMarksComeBack(t *testing.T) {
	c := NewChooser(nil, blink.Tally, rand.New(rand.NewPCG(1, 1)))
	day, start := monday, monday
	var s Schedule
	last := 0
	for range 40 {
		c.Record("digit 7", "", true, day)
		if dayOf(day) >= dayOf(start)+s.IntervalDays {
			s, start = s.After(5), day
		}
		due, ok := c.Due("digit 7")
		require.True(t, ok)
		assert.LessOrEqual(t, dayOf(due), max(dayOf(start)+s.IntervalDays, dayOf(day)+1))
		last = int(due.Sub(day).Hours() / 24)
		day = due
	}
	assert.GreaterOrEqual(t, last, 6, "in the end it comes back after a week or more")
	c.Record("digit 7", "", false, day)
	due, _ := c.Due("digit 7")
	assert.Equal(t, day.AddDate(0, 0, 1), due)
}

// Practice before a repetition is due does not lengthen the intervals: nine right answers
// a day, day after day, are repetitions on the days 0, 1 and 7 alone, as SM-2 has it.
func TestPracticeInBetween(t *testing.T) {
	c := NewChooser(nil, blink.Tally, rand.New(rand.NewPCG(1, 1)))
	var repetitions []int
	for n := range 20 {
		for range 9 {
			c.Record("digit 7", "", true, monday.AddDate(0, 0, n))
		}
		k := *c.items["digit 7"]
		k.closeDay()
		if k.repeated == k.day {
			repetitions = append(repetitions, n)
			assert.Equal(t, []int{1, 6, 17}[len(repetitions)-1], k.schedule.IntervalDays)
		}
	}
	assert.Equal(t, []int{0, 1, 7}, repetitions)
}

// The groups of a frame count for their digits: right ones as practice, wrong ones as
// misreadings, which bring both digits back.
func TestFramesCountForDigits(t *testing.T) {
	c := NewChooser(nil, blink.Tally, rand.New(rand.NewPCG(1, 1)))
	c.Take(Attempt{Record: book.Record{Time: monday}, Exercise: "pilots", Item: "pilot digital 100",
		Shown: "171 digital", Read: "181 digital",
		Groups: []GroupRead{{"_..", "_.."}, {"_..", "_..."}, {".", "."}}})
	assert.Positive(t, c.Chance("digit 1", monday.Add(time.Minute)))
	assert.True(t, c.items["digit 8"].confused)
	assert.Less(t, c.Chance("digit 7", monday.Add(time.Minute)), c.Chance("digit 1", monday.Add(time.Minute)))
	assert.Equal(t, 2, c.items["digit 7"].seen)
}

func TestUnit(t *testing.T) {
	var attempts []Attempt
	add := func(n, right int) {
		for i := range n {
			attempts = append(attempts, Attempt{Exercise: "digits", Right: i < right})
		}
	}
	assert.Equal(t, 300*time.Millisecond, SpeedOf(blink.Tally).Unit(attempts, "digits"))
	add(10, 10)
	assert.Equal(t, 280*time.Millisecond, SpeedOf(blink.Tally).Unit(attempts, "digits"))
	add(10, 8)
	assert.Equal(t, 280*time.Millisecond, SpeedOf(blink.Tally).Unit(attempts, "digits"), "eight of ten: as it is")
	add(10, 3)
	assert.Equal(t, 300*time.Millisecond, SpeedOf(blink.Tally).Unit(attempts, "digits"))
	for range 30 {
		add(10, 9)
	}
	assert.Equal(t, 180*time.Millisecond, SpeedOf(blink.Tally).Unit(attempts, "digits"), "no faster than may be shown")
	assert.Equal(t, 300*time.Millisecond, SpeedOf(blink.Tally).Unit(attempts, "pilots"), "each exercise by itself")
}

func TestReadAttempts(t *testing.T) {
	b := book.Book{Path: filepath.Join(t.TempDir(), "book.jsonl")}
	for i, name := range []string{"Ada", "ben", " ADA "} {
		require.NoError(t,
			b.Append(Attempt{Record: book.Record{Type: AttemptType, Time: monday.Add(time.Duration(i) * time.Hour)},
				Trainee: name, Item: "digit 7", Shown: "7", Read: "8"}))
	}
	require.NoError(t, b.Append(map[string]any{"type": "reading", "amp": "OSR-03", "right": "yes"}))
	require.NoError(t, b.Append(map[string]any{"type": "attempt", "trainee": 7}))
	a, err := read(t, b, monday)
	require.NoError(t, err)
	assert.Len(t, a.All, 3)
	assert.Equal(t, []book.Place{{Book: b.Path, Line: 5}}, a.Damaged)
	assert.Equal(t, []string{"Ada", "ben"}, a.Trainees())
	assert.Len(t, a.Of("ada"), 2)
	c := NewChooser(a.All, blink.Tally, rand.New(rand.NewPCG(1, 1)))
	assert.True(t, c.items["digit 8"].confused, "eight was answered for seven")
	assert.False(t, math.IsNaN(c.Chance("digit 7", monday.AddDate(0, 0, 3))))
}

// How a trainee stands, from attempts whose sums are worked out by hand.
func TestStand(t *testing.T) {
	at := func(day, minute int) book.Record {
		return book.Record{Type: AttemptType, Time: monday.AddDate(0, 0, day).Add(time.Duration(minute) * time.Minute)}
	}
	attempts := []Attempt{
		{Record: at(0, 0), Item: "digit 7", Shown: "7", Read: "8", TookMS: 900, Groups: []GroupRead{{"_..", "_..."}}},
		{Record: at(0, 1), Item: "digit 7", Shown: "7", Read: "7", Right: true, TookMS: 4000,
			Groups: []GroupRead{{"_..", "_.."}}},
		{Record: at(0, 2), Item: "digit 3", Shown: "3", Read: "3", Right: true, TookMS: 2000,
			Groups: []GroupRead{{"...", "..."}}},
		{Record: at(0, 3), Item: "digit 3", Shown: "3", Read: "3", Right: true, TookMS: 3000,
			Groups: []GroupRead{{"...", "..."}}},
		{Record: at(2, 0), Item: "pilot digital+100", Shown: "117 digital", Read: "118 digital", TookMS: 9000,
			Groups: []GroupRead{{"_..", "_.."}, {".", "."}, {"_..", "_..."}}},
		{Record: at(2, 1), Exercise: "sending", Item: "sending cw", Shown: "... . . .", Read: "...",
			Groups: []GroupRead{{"...", "."}}},
		{Record: at(2, 2), Item: "state holding", Shown: "holding", Read: "unsure"},
	}
	s := Stand("Ada", attempts, blink.Tally, monday.AddDate(0, 0, 2))
	assert.Equal(t, []int{7, 3}, []int{s.Attempts, s.Right})
	assert.Equal(t, monday.AddDate(0, 0, 2).Add(2*time.Minute), s.Last)
	assert.Equal(t, []ItemStanding{{"digit 3", 2, 2}, {"digit 7", 2, 1}, {"pilot digital+100", 1, 0},
		{"sending cw", 1, 0}, {"state holding", 1, 0}}, s.Items)
	assert.Equal(t, []Confusion{{"7", "8", 2}}, s.Confusions,
		"a digit of a frame is a digit; what was sent was not read, what was not sure not misread")
	require.Len(t, s.Days, 2)
	assert.Equal(t, Day{time.Date(2026, 11, 23, 0, 0, 0, 0, time.UTC), 4, 3, 3 * time.Second}, s.Days[0])
	assert.Equal(t, Day{time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC), 3, 0, 0}, s.Days[1])
	assert.Contains(t, Stand("Ada", attempts, blink.Tally, monday.AddDate(0, 0, 3)).Due, "digit 7",
		"misread in a frame the day before")

	// Marks shown when reading: 3 + 3 + 3 + 3, and 3 + 1 + 3 of the pilot.
	assert.Equal(t, reading.Habits{Marks: 19, Doubled: 2}, HabitsOf(attempts))
	assert.Equal(t, reading.Habits{Marks: 4, Mistaken: 1, Missed: 1}, HabitsOf([]Attempt{
		{Groups: []GroupRead{{"..", "._"}, {"..", "."}}}, {Still: true, Groups: []GroupRead{{"..", "."}}}}))
}

// Qualification runs as recorded in a book: the same seed twice is two runs.
func TestRunsOf(t *testing.T) {
	var attempts []Attempt
	for i := range 45 {
		attempts = append(attempts, Attempt{Record: book.Record{Time: monday.Add(time.Duration(i) * time.Minute)},
			Item: "field pilot cw", Shown: fmt.Sprintf("%d cw", i%20), Right: i != 3 &&
				i != 25, Read: "1 cw", Run: "seed 7"})
	}
	attempts[25].Read = Unsure
	runs := RunsOf(append(attempts, Attempt{Item: "digit 7"}))
	require.Len(t, runs, 3)
	assert.Equal(t, []any{19, 20, 1, false}, []any{runs[0].Right, runs[0].Of, runs[0].Misread, runs[0].Passed()})
	assert.Equal(t, []any{19, 20, 0, true}, []any{runs[1].Right, runs[1].Of, runs[1].Misread, runs[1].Passed()})
	assert.Equal(t, []any{5, false}, []any{runs[2].Of, runs[2].Passed()}, "not finished")

	// Ten right, left, and the same ten again: two runs that are not finished. They are
	// distinguished by their identity or, in older records, by their questions. A whole
	// run after one that was left is passed.
	run := func(id string, first, n int) (all []Attempt) {
		for i := range n {
			a := Attempt{Record: book.Record{Time: monday.Add(time.Duration(first+i) * time.Minute)},
				Item: "field pilot cw", Shown: fmt.Sprintf("%d cw", i), Right: true, Run: "seed 7", RunID: id}
			if id != "" {
				a.Reading = i + 1
			}
			all = append(all, a)
		}
		return all
	}
	for _, ids := range [][2]string{{"a", "b"}, {"", ""}} {
		runs = RunsOf(append(run(ids[0], 0, 10), run(ids[1], 10, 10)...))
		require.Len(t, runs, 2, ids)
		assert.False(t, runs[0].Passed() || runs[1].Passed())
		runs = RunsOf(append(run(ids[0], 0, 3), run(ids[1], 3, 20)...))
		require.Len(t, runs, 2, ids)
		assert.Equal(t, []int{3, 20}, []int{runs[0].Of, runs[1].Of})
		assert.True(t, runs[1].Passed())
	}
	// Two runs at once in one book are two runs. A reading answered twice is not a pass,
	// and neither is an answer before the light.
	mixed := run("a", 0, 20)
	for i, a := range run("b", 0, 20) {
		mixed = slices.Insert(mixed, 2*i+1, a)
	}
	runs = RunsOf(mixed)
	require.Len(t, runs, 2)
	assert.True(t, runs[0].Passed() && runs[1].Passed())
	twice := run("a", 0, 20)
	twice[5].Reading = 1
	assert.False(t, RunsOf(twice)[0].Passed())
	early := run("a", 0, 20)
	early[5].EnoughMS, early[5].TookMS = 8000, 400
	assert.Equal(t, []any{1, false}, []any{RunsOf(early)[0].Early, RunsOf(early)[0].Passed()})
}

// A record that appears twice counts once, both within one book and across several.
func TestRecordsCountOnce(t *testing.T) {
	line := `{"type":"attempt","time":"2026-11-23T08:00:00Z","trainee":"Ada","mark":"digit 7","shown":"7","read":"7","right":true,"took_ms":1000}`
	var a Attempts
	require.NoError(t, a.Add(strings.NewReader(line+"\n"+line+"\n"), "a.jsonl", monday))
	require.NoError(t, a.Add(strings.NewReader(" "+line+" \n"+strings.Replace(line, "08:00", "08:01", 1)+"\n"),
		"b.jsonl", monday))
	assert.Len(t, a.All, 2)
	assert.Equal(t, 2, a.Again)
}

// The blend: without attempts the assumed rates; with a thousand marks half of each;
// with very many marks the measured rates.
func TestTuned(t *testing.T) {
	assert.Equal(t, reading.Assumed, reading.Habits{}.Tuned(reading.Assumed))
	half := reading.Habits{Marks: 1000, Doubled: 100}.Tuned(reading.Assumed)
	assert.InDelta(t, (0.004+0.1)/2, half.Doubled, 1e-9)
	assert.InDelta(t, 0.004/2, half.Missed, 1e-9)
	many := reading.Habits{Marks: 1_000_000, Mistaken: 20_000}.Tuned(reading.Assumed)
	assert.InDelta(t, 0.02, many.Mistaken, 1e-4)

	// If a person often counts a mark twice, that person is believed less when one more
	// mark would make another pilot.
	frame, err := blink.Tally.Encode(channelplan.Pilot{Channel: 116, Kind: channelplan.Digital})
	require.NoError(t, err)
	frame[1] += "." // one mark too many in the tens
	looks := []blink.Frame{frame}
	pilot := channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}
	chance := func(m reading.Model) float64 {
		for _, c := range reading.NewReader(blink.Tally, m, nil).Read(looks, reading.StartSeen).Candidates {
			if c.Pilot == pilot {
				return c.Probability
			}
		}
		return 0
	}
	assert.Greater(t, chance(reading.Habits{Marks: 5000, Doubled: 250}.Tuned(reading.Assumed)), chance(reading.Assumed))
}

// Attempts dated years ahead or long ago, by a clock that was wrong for a while,
// neither keep a mark from coming back nor split up the days.
func TestAttemptsOfAWrongClock(t *testing.T) {
	b := book.Book{Path: filepath.Join(t.TempDir(), "book.jsonl")}
	for i, at := range []time.Time{monday, monday.AddDate(4, 0, 0), time.Unix(5, 0), monday.Add(time.Minute)} {
		require.NoError(t, b.Append(Attempt{Record: book.Record{Type: AttemptType, Time: at}, Trainee: "Ada",
			Item: fmt.Sprintf("digit %d", i), Shown: "7", Read: "7", Right: true}))
	}
	later := monday.AddDate(0, 0, 30)
	a, err := read(t, b, later)
	require.NoError(t, err)
	require.Len(t, a.Clocks, 1)
	assert.Equal(t, []int{2, 2}, []int{a.Clocks[0].First, a.Clocks[0].Count})
	s := Stand("Ada", a.All, blink.Tally, later)
	assert.Len(t, s.Days, 1)
	assert.Len(t, s.Due, 4)
}

// read reads a book's file.
func read(t *testing.T, b book.Book, now time.Time) (Attempts, error) {
	t.Helper()
	in, err := b.Open()
	require.NoError(t, err)
	defer in.Close()
	return Read(in, b.Path, now)
}

// A trainee who reads 7 and 8 wrong, again and again, knows neither: both are due and
// not known. A trainee who is always unsure knows nothing.
func TestWrongAnswersAreNoPractice(t *testing.T) {
	c := NewChooser(nil, blink.Tally, rand.New(rand.NewPCG(1, 1)))
	at := monday
	for i := range 71 {
		mark, other := "digit 7", "digit 8"
		if i%2 == 1 {
			mark, other = other, mark
		}
		c.Record(mark, other, false, at)
		at = at.Add(time.Minute)
		c.Record("digit 3", "", true, at)
		at = at.Add(time.Minute)
		c.Record("digit 5", "", false, at)
		at = at.Add(time.Minute)
	}
	for _, mark := range []string{"digit 7", "digit 8", "digit 5"} {
		assert.Zero(t, c.Chance(mark, at), mark)
		assert.True(t, c.IsDue(mark, at), mark)
	}
	assert.Greater(t, c.Chance("digit 3", at), 0.8)
	// A slip among right answers is only a slip.
	for range 5 {
		c.Record("digit 3", "", true, at)
	}
	c.Record("digit 3", "digit 4", false, at)
	assert.Greater(t, c.Chance("digit 3", at), 0.4)
	for range 3 {
		c.Record("digit 3", "digit 4", false, at)
	}
	assert.Less(t, c.Chance("digit 3", at), 0.2)
	assert.True(t, c.IsDue("digit 3", at))
}

// A class, from attempts whose sums are worked out by hand: who is ready, who qualified,
// what is hard.
func TestClass(t *testing.T) {
	at := func(n int) book.Record {
		return book.Record{Type: AttemptType, Time: monday.Add(time.Duration(n) * time.Minute)}
	}
	var ada, bo, cy []Attempt
	for i := range RunLength {
		ada = append(ada, Attempt{Record: at(i), Exercise: Field, Item: "field pilot cw", Shown: "1 cw", Read: "1 cw",
			Right: true})
		bo = append(bo, Attempt{Record: at(i), Exercise: Field, Item: "field pilot cw", Shown: "1 cw", Read: "1 cw",
			Right: true, Run: "seed 7", RunID: "a", Reading: i + 1})
	}
	for i := range 4 {
		cy = append(cy, Attempt{Record: at(i), Exercise: "digits", Item: "digit 7", Shown: "7", Read: "8",
			Right: i == 3, Groups: []GroupRead{{"_..", map[bool]string{true: "_..", false: "_..."}[i == 3]}}})
	}
	now := monday.AddDate(0, 0, 1)
	c := ClassOf([]Standing{Stand("Ada", ada, blink.Tally, now), Stand("Bo", bo, blink.Tally, now),
		Stand("Cy", cy, blink.Tally, now)})
	assert.True(t, c.Trainees[0].Ready)
	assert.Zero(t, c.Trainees[0].Qualified())
	assert.False(t, c.Trainees[1].Ready, "a run is no training")
	assert.Equal(t, at(19).Time, c.Trainees[1].Qualified())
	assert.Equal(t, []ItemStanding{{"digit 7", 4, 1}, {"field pilot cw", 40, 40}}, c.Items)
	assert.Equal(t, []Confusion{{"7", "8", 3}}, c.Confusions)

	// One of twenty may be not sure, none misread.
	ada[3].Right, ada[3].Read = false, Unsure
	assert.True(t, IsReady(ada))
	ada[3].Read = "2 cw"
	assert.False(t, IsReady(ada))
	assert.False(t, IsReady(ada[:19]))

	// A right answer before enough light was shown is a guess, and does not count.
	ada[3].Read = Unsure
	ada[7].TookMS, ada[7].EnoughMS = 900, 8000
	assert.False(t, IsReady(ada), "nineteen are left")
	ada[7].TookMS = 8000
	assert.True(t, IsReady(ada))
}
