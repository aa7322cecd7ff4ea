package channelplan

// This file implements 47 CFR 76.612 (cable television frequency separation standards)
// and 76.616 (operation near certain aeronautical and marine emergency radio frequencies)
// as functions of a carrier's frequency.

// AeroBand is one of the aeronautical bands in which 47 CFR 76.612 requires a cable
// carrier of 10^-4 W or more in 25 kHz to keep away from the frequencies of aeronautical
// radio services.
type AeroBand struct {
	LowHz, HighHz int64
	FirstHz       int64 // the lowest protected frequency
	StepHz        int64 // distance from one protected frequency to the next
	Steps         int64 // number of steps from the lowest to the highest
	OffsetHz      int64 // how far a carrier must be from the nearest of them
	CombExempt    bool  // an HRC comb is exempt
}

// AeroToleranceHz is how far a carrier's offset may differ from the required one.
const AeroToleranceHz = 5_000

// CombToleranceHz is how far the fundamental of an exempt comb may be from [CombHz].
const CombToleranceHz = 1

// The bands. The navigation frequencies of the second and fourth bands (multiples of 50
// kHz, and the glide path channels 329.15 + 0.15k MHz) are those of 47 CFR 87.501 (from
// memory).
var aeroBands = [...]AeroBand{
	{108_000_000, 118_000_000, 108_000_000, 50_000, 200, 25_000, false},
	{118_000_000, 137_000_000, 118_000_000, 25_000, 760, 12_500, true},
	{225_000_000, 328_600_000, 225_000_000, 25_000, 4144, 12_500, true},
	{328_600_000, 335_400_000, 329_150_000, 150_000, 39, 25_000, false},
	{335_400_000, 400_000_000, 335_400_000, 25_000, 2584, 12_500, true},
}

// AeroVerdict is what 47 CFR 76.612 says about a carrier's frequency.
type AeroVerdict struct {
	Band      AeroBand // the zero AeroBand if the frequency is in none
	Applies   bool     // the frequency is in an aeronautical band
	Passes    bool     // it keeps the required offset, is on an exempt comb, or is in no band
	Exempt    bool     // it passes as a harmonic of the comb
	NearestHz int64    // the nearest protected frequency
	AwayHz    int64    // distance to NearestHz
}

// Aeronautical applies 47 CFR 76.612 to a carrier at hz.
//
// It follows the letter of the rule, which requires an offset *of* 12.5 or 25 kHz, so a
// carrier more than 30 kHz from a glide path channel does not pass either. The rule
// requires nothing of a carrier that is weaker than 10^-4 W (38.75 dBmV) in 25 kHz at
// every point of the plant; a caller that knows the level may apply that exemption.
func Aeronautical(hz int64) AeroVerdict {
	for _, b := range aeroBands {
		if hz < b.LowHz || hz >= b.HighHz {
			continue
		}
		v := AeroVerdict{Band: b, Applies: true}
		steps := min(max((hz-b.FirstHz+b.StepHz/2)/b.StepHz, 0), b.Steps)
		v.NearestHz = b.FirstHz + steps*b.StepHz
		v.AwayHz = abs(hz - v.NearestHz)
		if b.CombExempt && onComb(hz) {
			v.Passes, v.Exempt = true, true
			return v
		}
		v.Passes = abs(v.AwayHz-b.OffsetHz) <= AeroToleranceHz
		return v
	}
	return AeroVerdict{Passes: true}
}

// onComb reports whether hz is a harmonic of the 6.0003 MHz comb, +-1 Hz.
func onComb(hz int64) bool {
	n := (hz + CombHz/2) / CombHz
	return n > 0 && abs(hz-n*CombHz) <= n*CombToleranceHz
}

// GuardBand is a band around a distress frequency that 47 CFR 76.616 keeps clear of cable
// carriers.
type GuardBand struct {
	LowHz, HighHz int64
	Name          string // what the frequency is used for
}

var guardBands = [...]GuardBand{
	{121_400_000, 121_600_000, "aeronautical distress, 121.5 MHz"},
	{156_750_000, 156_850_000, "marine distress, 156.8 MHz"},
	{242_950_000, 243_050_000, "military aeronautical distress, 243 MHz"},
	{405_925_000, 406_176_000, "distress beacons, 406 MHz"},
}

// DistressGuard returns the guard band of 47 CFR 76.616 that contains hz, and whether
// there is one. Both ends belong to the band.
func DistressGuard(hz int64) (GuardBand, bool) {
	for _, g := range guardBands {
		if hz >= g.LowHz && hz <= g.HighHz {
			return g, true
		}
	}
	return GuardBand{}, false
}

func abs(x int64) int64 {
	if x < 0 {
		return -x
	}
	return x
}
