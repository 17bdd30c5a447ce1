package ride

import (
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// UsualFrom and UsualTo bound the peak periods, in seconds, of the seas that
// the table of limits was made in: common practice, no source. A fully grown
// wind sea of 4 to 8 ft has 5.5 to 7.8 s (Tp = 5.0 s sqrt(Hs/m): from memory,
// after Pierson and Moskowitz 1964).
const UsualFrom, UsualTo = 5.5, 8.0

const (
	// scaleStep and scaleEnd are the grid of a Scale, in seconds: longer
	// periods count as the last.
	scaleStep = 0.1
	scaleEnd  = 25.0
)

// Scale tells how many guests a sea makes unwell by its period, against a sea
// of the same height at a usual one: 1 there, more for a short sea, less for a
// long swell. It never falls as the period gets shorter, though waves too short
// to lift the boat do: they pound instead.
type Scale struct {
	factor []float64 // by period, from scaleStep on
}

// NewScale works the scale of a boat of a length that lies across the sea, as
// it does adrift: the ratio of Unwell's doses.
//
// Reference: ISO2631, annexes A and D; Own for the boat's motion (see Move).
func NewScale(boat units.Length) Scale {
	const n = int(scaleEnd / scaleStep)
	s := Scale{factor: make([]float64, n)}
	worst := 0.0
	for i := n - 1; i >= 0; i-- {
		if m, ok := Move(1, float64(i+1)*scaleStep, 90, boat, 0).Get(); ok {
			worst = max(worst, weighted(m))
		}
		s.factor[i] = worst
	}
	short, long := s.at(UsualFrom), s.at(UsualTo)
	if long <= 0 {
		return Scale{}
	}
	for i := range s.factor {
		switch f := s.factor[i]; {
		case f >= short:
			s.factor[i] = f / short
		case f <= long:
			s.factor[i] = f / long
		default:
			s.factor[i] = 1
		}
	}
	return s
}

func (s Scale) at(period float64) float64 {
	if len(s.factor) == 0 {
		return 1
	}
	x := period/scaleStep - 1
	i := int(x)
	switch {
	case x <= 0:
		return s.factor[0]
	case i+1 >= len(s.factor):
		return s.factor[len(s.factor)-1]
	}
	return s.factor[i] + (x-float64(i))*(s.factor[i+1]-s.factor[i])
}

// At answers the factor of a period in seconds; one that is unknown counts as
// the worst.
func (s Scale) At(period models.Opt[float64]) float64 {
	if t, ok := period.Get(); ok {
		return s.at(t)
	}
	return s.at(0)
}
