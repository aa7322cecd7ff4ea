package reading

// Habits are how a person misreads marks, as measured where the answer is known.
type Habits struct {
	Marks                     int // that were shown
	Missed, Doubled, Mistaken int // of these marks
}

// Tuned returns a model with the person's own rates: a blend of the assumed rates,
// which weigh as much as a thousand marks, and the measured ones. With few marks the
// result is close to the assumed rates, with many close to the person's own. The model
// keeps its better and worse observers: a day in the rain is not a day at the desk.
func (h Habits) Tuned(m Model) Model {
	const assumed = 1000 // marks
	blend := func(rate float64, count int) float64 {
		return (rate*assumed + float64(count)) / (assumed + float64(h.Marks))
	}
	m.Missed, m.Doubled, m.Mistaken = blend(m.Missed, h.Missed), blend(m.Doubled, h.Doubled),
		blend(m.Mistaken, h.Mistaken)
	return m
}
