package main

import (
	"errors"
	"strconv"
	"strings"
	"time"

	"tallywink.example/channelplan/plant/cutover"
	"tallywink.example/cmd/tallywink/input"
)

// This file lays a cutover's visits on nights, for --window.

// nights lays a plan on the nights that the flags give; nil if they give none.
func (c *cuttingOver) nights(plan *cutover.Plan) (*cutover.Calendar, error) {
	if c.window == "" {
		if c.changeAt != "" || c.ics != "" {
			return nil, misuse("add --window, such as --window 00:00-06:00",
				"--change-at and --ics need the hours in which crews may work")
		}
		return nil, nil
	}
	if plan.After.Effective.IsZero() {
		return nil, misuse("add '# effective: 2026-12-09' to it", "%s does not say on which day it takes effect",
			plan.After.File)
	}
	from, to, ok := strings.Cut(c.window, "-")
	begin, err := timeOfDay("window", c.window, from)
	if err != nil {
		return nil, err
	}
	end, err := timeOfDay("window", c.window, to)
	if err != nil {
		return nil, err
	}
	if !ok || begin == end {
		return nil, misuse("write it like 00:00-06:00", "--window can't be %q", c.window)
	}
	n := cutover.Nights{Begin: begin, Length: end - begin, Margin: c.margin}
	if n.Length < 0 {
		n.Length += 24 * time.Hour
	}
	at := begin + n.Length/2
	if c.changeAt != "" {
		if at, err = timeOfDay("change-at", c.changeAt, c.changeAt); err != nil {
			return nil, err
		}
	}
	if n.From, err = input.DayOf(c.On, c.Lineup); err != nil {
		return nil, err
	}
	n.Change = plan.After.Effective.Add(at % (24 * time.Hour))
	calendar, err := plan.Calendar(n)
	if errors.Is(err, cutover.ErrWindow) {
		return nil, misuse("give a longer --window or a shorter --visit", "no visit of %v fits in the window %s",
			plan.Visit, c.window)
	}
	return calendar, err
}

// timeOfDay reads a time of day, as the time since midnight.
func timeOfDay(flag, whole, text string) (time.Duration, error) {
	hour, minute, ok := strings.Cut(strings.TrimSpace(text), ":")
	h, errH := strconv.Atoi(hour)
	m, errM := strconv.Atoi(minute)
	if !ok || errH != nil || errM != nil || h < 0 || h > 24 || m < 0 || m > 59 || h == 24 && m > 0 {
		return 0, misuse("write hours and minutes of a day of 24 hours, such as 03:00", "--%s can't be %q", flag, whole)
	}
	return time.Duration(h%24)*time.Hour + time.Duration(m)*time.Minute, nil
}
