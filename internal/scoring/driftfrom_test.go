package scoring_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
)

// By hand: a current of 2 kn due north over a bottom that falls to the east
// carries the boat 4 nmi north in two hours, and leaves the depth as it is.
func TestDriftFromAStartOfOnesOwn(t *testing.T) {
	day := time.Date(2027, 1, 19, 12, 0, 0, 0, time.UTC)
	c := models.Call{
		Port:   models.Port{ShoreNormal: units.Toward(90)},
		Ground: models.Ground{Depth: 150 * units.Foot, Shallow: models.Known(100 * units.Foot), Deep: models.Known(250 * units.Foot), Slope: models.Known(0.02)},
		Boat:   models.Boat{Kind: models.CenterConsole, Length: 39 * units.Foot},
	}
	for n := range 3 {
		h := models.Conditions{Hour: models.Hour{
			At: day.Add(time.Duration(n) * time.Hour), Wind: models.Known(units.Speed(0)),
			Current: models.Known(2 * units.Knot), CurrentToward: models.Known(units.Toward(0)),
		}}
		h.DriftSpeed, h.DriftToward = h.Current, h.CurrentToward
		c.Hours = append(c.Hours, models.HourCall{At: h.At, Conditions: h})
	}
	d, ok := scoring.DriftFrom(c, 500*units.Metre, -200*units.Metre, day, 2*time.Hour).Get()
	require.True(t, ok)
	last := d.Track[len(d.Track)-1]
	require.InDelta(t, 500, last.East.Metres(), 1)
	require.InDelta(t, 4*1852-200, last.North.Metres(), 5)
	require.InDelta(t, 150+0.02*500/0.3048, d.StartDepth.Feet(), 0.1)
	require.False(t, d.AcrossBand.Known(), "it runs along the band")
	require.False(t, scoring.DriftFrom(c, 0, 0, day.Add(5*time.Hour), time.Hour).Known(), "no hour of the call is so late")

	// Due east at 2 kn (1.0289 m/s) over 1 in 50: from 150 ft to 250 ft in
	// 30.48 m / 0.02 / 1.0289 m/s = 1481 s.
	for i := range c.Hours {
		c.Hours[i].Conditions.CurrentToward = models.Known(units.Toward(90))
		c.Hours[i].Conditions.DriftToward = models.Known(units.Toward(90))
	}
	d, ok = scoring.DriftFrom(c, 0, 0, day, time.Hour).Get()
	require.True(t, ok)
	require.InDelta(t, 1481, d.AcrossBand.Or(0).Seconds(), 2)
}
