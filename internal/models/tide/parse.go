package tide

import (
	"encoding/json"
	"fmt"

	"forecastd/internal/models/units"
)

// ParseConstituents reads the harmonic constants of a water level station as
// the NOAA CO-OPS metadata service gives them (harcon.json): amplitudes in
// feet or metres, told by "units", phases by "phase_GMT". Amplitudes come
// back in metres.
//
// Errors name the entry: no constants at all, a unit that is neither feet
// nor metres, a constituent that is not known or is listed twice, a missing
// amplitude or phase.
//
// Reference: NOAATidePredictions.
func ParseConstituents(b []byte) ([]Constituent, error) {
	var doc struct {
		Units                string `json:"units"`
		HarmonicConstituents []struct {
			Name      string   `json:"name"`
			Amplitude *float64 `json:"amplitude"`
			Phase     *float64 `json:"phase_GMT"`
		} `json:"HarmonicConstituents"`
	}
	if err := json.Unmarshal(b, &doc); err != nil {
		return nil, fmt.Errorf("read harmonic constants: %w", err)
	}
	if len(doc.HarmonicConstituents) == 0 {
		return nil, fmt.Errorf("read harmonic constants: the station has none; use its reference station")
	}
	var unit units.Length
	switch doc.Units {
	case "feet", "english":
		unit = units.Foot
	case "meters", "metres", "metric":
		unit = units.Metre
	default:
		return nil, fmt.Errorf("read harmonic constants: units %q are neither feet nor metres", doc.Units)
	}
	seen := map[string]bool{}
	var out []Constituent
	for i, c := range doc.HarmonicConstituents {
		h, ok := harmonicNamed(c.Name)
		switch {
		case !ok:
			return nil, fmt.Errorf("read harmonic constants: entry %d: the constituent %q is not known", i+1, c.Name)
		case seen[h.name]:
			return nil, fmt.Errorf("read harmonic constants: entry %d: %s is listed twice", i+1, h.name)
		case c.Amplitude == nil || c.Phase == nil:
			return nil, fmt.Errorf("read harmonic constants: entry %d: %s lacks amplitude or phase_GMT", i+1, h.name)
		}
		seen[h.name] = true
		out = append(out, Constituent{h.name, *c.Amplitude * float64(unit), *c.Phase})
	}
	if err := check(out); err != nil {
		return nil, fmt.Errorf("read harmonic constants: %w", err)
	}
	return out, nil
}
