package wave

import (
	"fmt"
	"math"
	"time"

	"forecastd/internal/models/units"
)

// OnCurrent is a sea after a current has worked on it.
type OnCurrent struct {
	// Height is the significant height, HeightRatio what it has grown by.
	Height      units.Length
	HeightRatio float64
	// Wavelength is the local length, crest to crest.
	Wavelength units.Length
	// Steepness is Height over Wavelength, SteepnessRatio what it has grown
	// by.
	Steepness, SteepnessRatio float64
	// Breaking tells that the sea is as steep as waves can be and breaks.
	Breaking bool
	// Blocked tells that the current is too strong for the waves to run
	// against at all: they break where they are stopped.
	Blocked bool
}

// miche is the steepest that waves get in deep water, height over length.
const miche = 0.142

// The currents and heights that Shift answers for.
const (
	maxCurrent = 8.0  // m/s
	maxHeight  = 30.0 // m
)

// Shift tells what a current does to waves of significant height h and
// period T (as a fixed observer times it) that come from a bearing, in water
// of a depth (0 is deep). The waves have run in from still water of the same
// depth. With U the current's component along the waves (negative: against
// them) and s the frequency that the water feels,
//
//	s = w - k U,  s² = g k tanh(k d)             (Doppler, dispersion)
//	E (Cg + U) / s = constant                    (wave action)
//	H/H0 = sqrt[ (s/w) Cg0 / (Cg + U) ]
//
// so that an opposing current makes waves shorter, higher and steeper, up to
// where they are blocked (Cg + U = 0; deep water: U = -gT/8pi), and a current
// that runs with them lays them down. A current across the waves does
// nothing; the bending of waves at an angle is left out.
//
// Waves break at the steepness of Miche with the local wavenumber,
// H = 0.142 L tanh(k d), taken here for the significant height. A sea that
// breaks before it has met the whole current is worst where it starts to
// break, and that is the place the answer describes: more opposing current
// never makes it lower. A given sea that is steeper than that from the start
// is left as it is, and said to break.
//
// Linear theory overstates the growth near blocking and in broad, spread seas
// (the cap is there for that): a guide to risk, not a forecast. Currents over
// 8 m/s, heights outside 0 to 30 m, periods outside 1 to 40 s and negative
// depths are errors.
//
// Reference: BrethertonGarrett1968; LonguetHigginsStewart1961; Miche1944.
func Shift(h units.Length, period time.Duration, from units.From, current units.Speed, toward units.Toward, depth units.Length) (OnCurrent, error) {
	if !(current >= 0 && current <= maxCurrent) {
		return OnCurrent{}, fmt.Errorf("a current of %.1f m/s is outside 0 to %g m/s", float64(current), maxCurrent)
	}
	along := float64(units.FlowVector(current, toward).Along(from.Toward()))
	return shift(h, period, along, depth)
}

// AtInlet tells what the stream in an inlet does to an onshore sea at its
// mouth: ebb is the speed of the stream out to sea (negative on the flood),
// met head on, over the depth in the mouth (0 is deep). Shoaling is left out:
// over 3 m or more it changes the height by less than a tenth for the periods
// of a wind sea. Errors as Shift.
//
// Reference: BrethertonGarrett1968; CEM2002 section II-6-2.
func AtInlet(h units.Length, period time.Duration, ebb units.Speed, depth units.Length) (OnCurrent, error) {
	if !(math.Abs(float64(ebb)) <= maxCurrent) {
		return OnCurrent{}, fmt.Errorf("a current of %.1f m/s is outside 0 to %g m/s", float64(ebb), maxCurrent)
	}
	return shift(h, period, -float64(ebb), depth)
}

// shift works in the direction of the waves: u is positive with them.
func shift(h units.Length, period time.Duration, u float64, depth units.Length) (OnCurrent, error) {
	w, d, ok := accept(period, depth)
	if !ok {
		return OnCurrent{}, fmt.Errorf("waves of %v in %.1f m of water are outside 1 to 40 s in 0 m or more", period, float64(depth))
	}
	if !(h >= 0 && h <= maxHeight) {
		return OnCurrent{}, fmt.Errorf("a wave height of %.1f m is outside 0 to %g m", float64(h), maxHeight)
	}
	// A calm grows as a ripple does.
	h0 := max(float64(h), leastHeight)
	run := newRun(w, d)
	at, blocked := run.meet(u)
	breaking := blocked || run.excess(h0, at) > 0
	if breaking && u < 0 {
		at = run.onset(h0)
	}
	ratio := run.ratio(at)
	return OnCurrent{
		Height:         h * units.Length(ratio),
		HeightRatio:    ratio,
		Wavelength:     units.Length(2 * math.Pi / at),
		Steepness:      float64(h) * ratio * at / (2 * math.Pi),
		SteepnessRatio: ratio * at / run.k0,
		Breaking:       breaking && h > 0,
		Blocked:        blocked,
	}, nil
}

// leastHeight stands for calm where a ratio is asked for, in metres.
const leastHeight = 1e-3

// run is one train of waves on its way from still water into a current. The
// wavenumber k tells how far it has come: each k has its own current
// U = (w - s)/k, and opposing currents go with k above k0.
type run struct{ w, d, k0, cg0 float64 }

func newRun(w, d float64) run {
	k0 := wavenumber(w, d)
	return run{w: w, d: d, k0: k0, cg0: groupSpeed(k0, d)}
}

// meet finds k where the current is u, by Newton's method on
// s(k) + k u - w, which is concave: from below, no step passes the root, and
// where the slope Cg + u reaches zero first there is none.
func (r run) meet(u float64) (k float64, blocked bool) {
	k = r.k0
	for range 100 {
		s, cg := intrinsic(k, r.d)
		if cg+u <= 0 {
			return k, true
		}
		step := (r.w - s - k*u) / (cg + u)
		k += step
		if math.Abs(step) <= 1e-10*k {
			return k, false
		}
	}
	return k, true
}

// ratio returns H/H0 at k, short of blocking.
func (r run) ratio(k float64) float64 {
	s, cg := intrinsic(k, r.d)
	return math.Sqrt(s / r.w * r.cg0 / (cg + (r.w-s)/k))
}

// excess tells, by its sign, whether waves that were h0 high break at k: the
// square of their height less that of the limit, times (Cg + U), which is
// smooth through blocking and grows with k.
func (r run) excess(h0, k float64) float64 {
	s, cg := intrinsic(k, r.d)
	limit := miche * 2 * math.Pi / k
	if r.d > 0 {
		limit *= math.Tanh(k * r.d)
	}
	return h0*h0*s/r.w*r.cg0 - limit*limit*(cg+(r.w-s)/k)
}

// onset finds k where waves that were h0 high start to break on the way into
// an opposing current, by false position; still water if they break there.
func (r run) onset(h0 float64) float64 {
	lo := r.k0
	fLo := r.excess(h0, lo)
	if fLo >= 0 {
		return lo
	}
	hi, fHi := lo, fLo
	for fHi < 0 {
		lo, fLo = hi, fHi
		hi *= 1.3
		fHi = r.excess(h0, hi)
	}
	side := 0
	for range 60 {
		mid := (lo*fHi - hi*fLo) / (fHi - fLo)
		f := r.excess(h0, mid)
		if math.Abs(hi-lo) <= 1e-12*hi || f == 0 {
			return mid
		}
		// Illinois: halve the value at the end that stays for a second time.
		if f < 0 {
			if lo, fLo = mid, f; side < 0 {
				fHi /= 2
			}
			side = -1
		} else {
			if hi, fHi = mid, f; side > 0 {
				fLo /= 2
			}
			side = 1
		}
	}
	return lo
}
