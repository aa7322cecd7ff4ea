package capture

import (
	"context"

	"tallywink.example/blink/capture/drift"
	"tallywink.example/blink/reading"
)

// Light is what was found in the brightness of a trace.
type Light struct {
	// Pieces are the intervals of light and dark by two levels found in a window of time,
	// which is best if ambient light is tame. Moving are those by a model of ambient light
	// that moves, see package drift. A new piece begins after each gap in the samples.
	// [Light.Read] reads both as far as needed.
	Pieces, Moving []reading.Piece
	// Unsteady reports whether the brightness moved between levels too different to be one
	// lamp's. If so, ambient light moved more than the lamp did, and Pieces must not be
	// trusted. Lost reports the same of Moving, and Tame that ambient light hardly moved.
	Unsteady, Lost, Tame bool
	// Saturated reports whether the sensor was often at its upper limit, and TwoValued
	// whether brightness is one of two values: no ambient light can have moved then.
	Saturated, TwoValued bool
	// Restless reports whether, where the lamp did not change at the end, brightness jumped or
	// did not rest.
	Restless bool
}

// judge notes what the two splitters say of the light.
func (l *Light) judge(levels *splitter, moving *drift.Splitter) {
	l.Unsteady, l.Lost, l.Tame = levels.unsteady(), moving.Unsteady(), moving.Tame()
	l.Saturated, l.TwoValued, l.Restless = moving.Saturated(), moving.TwoValued(), moving.Restless()
}

// Read reads the light, both by levels in a window and by the model of ambient light
// that moves. A curve of ambient light can look like a slow rhythm between two levels.
// So if the model does not find ambient light tame, the levels do not count; and if the
// two give different sure answers, neither is believed. If told is not nil, it is
// called with how many parts have been weighed. unsteady reports that the result must
// not be believed. The error is the context's.
func (l *Light) Read(ctx context.Context, reader *reading.TimedReader,
	told func(done, of int)) (result reading.TimedResult, unsteady bool, err error) {
	result, unsteady, err = l.read(ctx, reader, told)
	if err != nil {
		return result, unsteady, err
	}
	if l.Saturated && reader.AlwaysLit(result.Best().Signal) {
		unsteady = true // a sensor at its limit looks like a lamp that is always lit
	}
	// One step of ambient light looks like a lamp that goes on or off and stays so; and where
	// ambient light jumped, was covered or does not rest, a lamp may still blink behind it.
	if stands, seenToBlink := reader.Stands(result); stands && (!seenToBlink || l.Restless) {
		unsteady = true
	}
	return result, unsteady, nil
}

func (l *Light) read(ctx context.Context, reader *reading.TimedReader,
	told func(done, of int)) (result reading.TimedResult, unsteady bool, err error) {
	result, err = reader.ReadPieces(ctx, l.Pieces, told)
	if err != nil {
		return result, l.Unsteady, err
	}
	if l.TwoValued && len(l.Pieces) > 0 {
		return result, l.Unsteady, nil
	}
	if l.Lost && len(l.Pieces) > 0 {
		return result, l.Unsteady || !l.Tame, nil // what the model found does not count
	}
	moving, err := reader.ReadPieces(ctx, l.Moving, told)
	if err != nil {
		return result, l.Unsteady, err
	}
	sure := len(l.Pieces) > 0 && !l.Unsteady && !result.Doubtful()
	follows := len(l.Moving) > 0 && !l.Lost && !moving.Doubtful() &&
		(l.Tame || moving.Best().Probability >= sureOfMoving)
	switch {
	case sure && follows && l.Tame:
		return result, result.Best().Signal != moving.Best().Signal, nil
	case follows:
		return moving, false, nil
	case len(l.Pieces) == 0 && len(l.Moving) > 0:
		return moving, l.Lost || !moving.Doubtful(), nil
	}
	return result, l.Unsteady || !l.Tame, nil
}

// sureOfMoving is the probability below which an answer is not believed where ambient
// light moved: of those told with less, one in seven was wrong in the recordings of
// TestProbabilitiesAreTrue, because edges of the light are mistaken more often there than
// the reader's model of lengths assumes.
const sureOfMoving = 0.99
