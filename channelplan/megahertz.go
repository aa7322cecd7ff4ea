package channelplan

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"tallywink.example/channelplan/fault"
)

// ErrFrequency is the error that [ParseMHz] wraps.
var ErrFrequency = errors.New("not a frequency in MHz")

// MaxHz is the highest frequency that any coax plant carries, and so the highest that
// [ParseMHz] accepts: 3 GHz, well above the 1794 MHz of today's widest.
const MaxHz = 3_000_000_000

// ParseMHz reads a decimal number of megahertz, such as 745.25, exactly, as hertz. The
// error wraps [ErrFrequency] and says what to write instead, also for numbers that look
// like kilohertz or hertz.
func ParseMHz(text string) (int64, error) {
	s := strings.TrimSpace(text)
	whole, frac, _ := strings.Cut(s, ".")
	digits := whole + frac
	if digits == "" || strings.Trim(digits, "0123456789") != "" || len(digits) > 30 {
		return 0, notMHz("write it like 745.25", ": %q", text)
	}
	if len(frac) > 6 && strings.Trim(frac[6:], "0") != "" {
		return 0, notMHz("six decimals are enough", ": %q is finer than a hertz", text)
	}
	mhz, err := strconv.ParseInt("0"+whole, 10, 64)
	if err != nil {
		return 0, notMHz("", ": %q is out of range", text)
	}
	if mhz > MaxHz/1_000_000 {
		return 0, notMHz(unitHint(mhz), ": %q is above 3 GHz", text)
	}
	hz, err := strconv.ParseInt((frac + "000000")[:6], 10, 64)
	if err != nil {
		return 0, notMHz("", ": %q", text)
	}
	switch hz += mhz * 1_000_000; {
	case hz == 0:
		return 0, notMHz("", ": %q; nothing is carried there", text)
	case hz > MaxHz:
		return 0, notMHz("", ": %q is above 3 GHz", text)
	}
	return hz, nil
}

func notMHz(hint, format string, args ...any) error {
	return &fault.Error{Text: fmt.Sprintf("%v"+format, append([]any{ErrFrequency}, args...)...), Hint: hint,
		Err: ErrFrequency}
}

// unitHint says which unit a number that is too large for megahertz was probably in.
func unitHint(n int64) string {
	for _, u := range []struct {
		perMHz int64
		name   string
	}{{1_000, "kHz"}, {1_000_000, "Hz"}} {
		hz := n * (1_000_000 / u.perMHz)
		if n <= MaxHz && hz >= 5_000_000 && hz <= MaxHz {
			return fmt.Sprintf("if it is in %s, write %s", u.name, FormatMHz(hz))
		}
	}
	return ""
}

// FormatMHz writes hertz as megahertz, exactly and without trailing zeros: 745250000 is
// 745.25. [ParseMHz] reads it back if it is not negative.
func FormatMHz(hz int64) string {
	sign := ""
	if hz < 0 {
		sign, hz = "-", -hz
	}
	s := fmt.Sprintf("%d.%06d", hz/1_000_000, hz%1_000_000)
	return sign + strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}
