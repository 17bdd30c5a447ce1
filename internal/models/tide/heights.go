package tide

import (
	"fmt"
	"sort"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Station is a place whose tide has harmonic constants of its own (a
// reference station). Amplitudes are in metres.
type Station struct {
	ID, Name     string
	At           models.Position
	Constituents []Constituent
	// Mean is mean sea level above the datum.
	Mean units.Length
	// Datum names the zero of the heights: "MLLW".
	Datum string
	// From is handed on with every event.
	From models.Provenance
}

// HeightAt returns the predicted height above the datum,
//
//	h(t) = H0 + sum f_i H_i cos(a_i t + (V0+u)_i - G_i)
//
// with t from the start of the year. Unknown outside 1900 to 2100 and for a
// station without constants or with one that is not known.
//
// Reference: Schureman1958.
func (s Station) HeightAt(t time.Time) models.Opt[units.Length] {
	if year(t) != nil || check(s.Constituents) != nil {
		return models.Unknown[units.Length]()
	}
	h, _ := newSum(float64(s.Mean), s.Constituents).at(t)
	return models.Known(units.Length(h))
}

// Extremes returns the high and low waters from start up to end, in order of
// time. Errors: no or unknown constants, an empty window, one longer than 400
// days or outside 1900 to 2100.
//
// Reference: Schureman1958.
func (s Station) Extremes(start, end time.Time) ([]models.TideEvent, error) {
	if err := ready(s.Name, s.Constituents, start, end); err != nil {
		return nil, err
	}
	sum := newSum(float64(s.Mean), s.Constituents)
	var out []models.TideEvent
	zeros(start, end, func(t time.Time) float64 { _, d := sum.at(t); return d },
		func(at time.Time, rises bool) {
			h, _ := sum.at(at)
			e := models.TideEvent{At: at, Kind: models.HighWater, Height: units.Length(h), Datum: s.Datum, From: s.From}
			if rises { // the slope turns up: low water
				e.Kind = models.LowWater
			}
			out = append(out, e)
		})
	return out, nil
}

// Offsets make the high and low waters of a subordinate station from those of
// its reference station.
type Offsets struct {
	High, Low time.Duration
	// Heights are the reference station's times a ratio, 1 for alike, and
	// with a length added.
	HighRatio, LowRatio float64
	HighAdded, LowAdded units.Length
}

// Subordinate is a station whose tide is told by offsets.
type Subordinate struct {
	ID, Name  string
	At        models.Position
	Reference Station
	Offsets   Offsets
	From      models.Provenance
}

// Extremes returns the high and low waters from start up to end, in order of
// time. Errors as Station.Extremes, and for offsets of more than a day.
//
// Reference: NOAATidePredictions (table 2 offsets).
func (s Subordinate) Extremes(start, end time.Time) ([]models.TideEvent, error) {
	o := s.Offsets
	most := max(o.High.Abs(), o.Low.Abs())
	if most > 24*time.Hour {
		return nil, fmt.Errorf("tide at %s: a time offset of %v is longer than a day", s.Name, most)
	}
	if err := span(start, end); err != nil {
		return nil, fmt.Errorf("tide at %s: %w", s.Name, err)
	}
	ref, err := s.Reference.Extremes(start.Add(-most), end.Add(most))
	if err != nil {
		return nil, fmt.Errorf("tide at %s: %w", s.Name, err)
	}
	var out []models.TideEvent
	for _, e := range ref {
		shift, ratio, added := o.High, o.HighRatio, o.HighAdded
		if e.Kind == models.LowWater {
			shift, ratio, added = o.Low, o.LowRatio, o.LowAdded
		}
		e.At, e.From = e.At.Add(shift), s.From
		e.Height = e.Height*units.Length(ratio) + added
		if !e.At.Before(start) && e.At.Before(end) {
			out = append(out, e)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].At.Before(out[j].At) })
	return out, nil
}

func ready(name string, cs []Constituent, start, end time.Time) error {
	if err := check(cs); err != nil {
		return fmt.Errorf("tide at %s: %w", name, err)
	}
	if err := span(start, end); err != nil {
		return fmt.Errorf("tide at %s: %w", name, err)
	}
	return nil
}
