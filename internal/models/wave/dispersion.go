package wave

import (
	"math"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

const gravity = 9.81 // m/s²

// The periods that the package answers for: shorter waves are ripples, longer
// ones tides and surges.
const (
	MinPeriod = time.Second
	MaxPeriod = 40 * time.Second
)

// Wavelength returns the length of a wave of a period in water of a depth (0
// is deep), by linear theory:
//
//	w² = g k tanh(k d),  L = 2 pi / k
//
// Solved by Hunt's Padé form and Newton steps, to better than 1e-6. Unknown
// for periods outside 1 to 40 s and negative depths.
//
// Reference: Hunt1979.
func Wavelength(period time.Duration, depth units.Length) models.Opt[units.Length] {
	w, d, ok := accept(period, depth)
	if !ok {
		return models.Unknown[units.Length]()
	}
	return models.Known(units.Length(2 * math.Pi / wavenumber(w, d)))
}

// PhaseSpeed returns how fast the crests run, C = w/k. Unknown as Wavelength.
//
// Reference: Hunt1979.
func PhaseSpeed(period time.Duration, depth units.Length) models.Opt[units.Speed] {
	w, d, ok := accept(period, depth)
	if !ok {
		return models.Unknown[units.Speed]()
	}
	return models.Known(units.Speed(w / wavenumber(w, d)))
}

// GroupSpeed returns how fast the energy runs:
//
//	Cg = C/2 (1 + 2kd / sinh 2kd)
//
// Unknown as Wavelength.
//
// Reference: CEM2002 eq. II-1-49.
func GroupSpeed(period time.Duration, depth units.Length) models.Opt[units.Speed] {
	w, d, ok := accept(period, depth)
	if !ok {
		return models.Unknown[units.Speed]()
	}
	return models.Known(units.Speed(groupSpeed(wavenumber(w, d), d)))
}

// Shoaling returns the height of a wave in water of a depth over its height
// in deep water, refraction left out:
//
//	Ks = sqrt(C0 / (2 Cg))
//
// Unknown as Wavelength.
//
// Reference: CEM2002 eq. II-1-75.
func Shoaling(period time.Duration, depth units.Length) models.Opt[float64] {
	w, d, ok := accept(period, depth)
	if !ok {
		return models.Unknown[float64]()
	}
	return models.Known(math.Sqrt(gravity / w / (2 * groupSpeed(wavenumber(w, d), d))))
}

func accept(period time.Duration, depth units.Length) (w, d float64, ok bool) {
	if period < MinPeriod || period > MaxPeriod || !(depth >= 0) {
		return 0, 0, false
	}
	return 2 * math.Pi / period.Seconds(), float64(depth), true
}

// wavenumber solves w² = g k tanh kd; d = 0 is deep.
func wavenumber(w, d float64) float64 {
	deep := w * w / gravity
	y := deep * d
	if d == 0 || y > 20 { // tanh(20) is 1 to the last bit
		return deep
	}
	poly := 1 + y*(0.6666666667+y*(0.3555555556+y*(0.1608465608+y*(0.0632098765+y*(0.0217540484+y*0.0065407983)))))
	kd := math.Sqrt(y*y + y/poly)
	for range 2 {
		t := math.Tanh(kd)
		kd -= (kd*t - y) / (t + kd*(1-t*t))
	}
	return kd / d
}

// intrinsic returns the frequency that a wave of wavenumber k has in still
// water, and its group speed.
func intrinsic(k, d float64) (s, cg float64) {
	if d == 0 || k*d > 20 {
		s = math.Sqrt(gravity * k)
		return s, s / k / 2
	}
	kd := k * d
	t := math.Tanh(kd)
	s = math.Sqrt(gravity * k * t)
	return s, s / k / 2 * (1 + kd*(1-t*t)/t) // 2/sinh 2x = (1-tanh²)/tanh
}

func groupSpeed(k, d float64) float64 {
	_, cg := intrinsic(k, d)
	return cg
}
