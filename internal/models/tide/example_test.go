package tide_test

import (
	"fmt"
	"time"

	"forecastd/internal/models/tide"
	"forecastd/internal/models/units"
)

// A lone M2 is a cosine of 12 h 25 min: its speed of 28.9841042 degrees an
// hour is that of Schureman1958. Amplitude and phase are invented.
func ExampleStation_Extremes() {
	s := tide.Station{Name: "invented", Mean: 0.5 * units.Metre, Constituents: []tide.Constituent{{Name: "M2", Amplitude: 0.5, Phase: 0}}}
	start := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	events, err := s.Extremes(start, start.Add(48*time.Hour))
	if err != nil {
		fmt.Println(err)
		return
	}
	between := events[2].At.Sub(events[0].At)
	fmt.Printf("%d events, %s and again after %s\n", len(events), events[0].Kind, between.Round(time.Minute))
	// Output: 8 events, high and again after 12h25m0s
}
