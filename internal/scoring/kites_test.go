package scoring_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/kite"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
	"forecastd/internal/testdata"
	"forecastd/internal/words"
)

// finding reads one of the outlooks that reproduce what trying it found.
func finding(t testing.TB, name string) models.Outlook {
	b, err := os.ReadFile(filepath.Join(testdata.Cases(t), "findings", name+".json"))
	require.NoError(t, err)
	o, err := words.ReadOutlook(b)
	require.NoError(t, err)
	return o
}

// threeKites is a captain's set, known by his own ranges near the water and
// the size of two: an invented one.
func threeKites() []models.Kite {
	set := []models.Kite{
		{Name: "light", Area: models.Known(1.5), Aspect: models.Known(1.0), Mass: models.Known(6 * units.Ounce), Min: models.Known(6 * kn), Max: models.Known(15 * kn), Line: models.Known(222.0)},
		{Name: "all-round", Area: models.Known(1.3), Mass: models.Known(8 * units.Ounce), Min: models.Known(9 * kn), Max: models.Known(22 * kn), Line: models.Known(356.0)},
		{Name: "heavy", Min: models.Known(15 * kn), Max: models.Known(28 * kn)},
	}
	for i := range set {
		set[i] = kite.AsRead(set[i])
	}
	return set
}

// The kite chosen and the grade are of one measure: with three kites that
// overlap, no breeze between them is a poor one, and the card flies what the
// hour was graded with.
func TestKiteAndGradeAgree(t *testing.T) {
	for _, name := range []string{"rule2demo_5_8.0", "rule2demo_5_11.75"} {
		o := finding(t, name)
		o.Kites = threeKites()
		c := scoring.Judge(o, models.DefaultLimits(), scoring.With{})
		require.NotEqual(t, models.TacticStayIn, c.Tactic)
		o.Members = []models.Member{o.Middle} // the forecast alone
		for _, h := range scoring.Judge(o, models.DefaultLimits(), scoring.With{}).Hours {
			if h.Do == models.DoKite || h.Do == models.DoHeliumKite {
				require.Equal(t, models.GradeGood, h.Kite, "%s at %s: %s", name, h.At, h.Conditions.KiteName)
				require.NotEqual(t, "heavy", h.Conditions.KiteName, "%s at %s", name, h.At)
			}
		}
		card, ok := c.Spread.Get()
		require.True(t, ok)
		require.NotEqual(t, "heavy", card.Kite, name)
		require.Positive(t, card.KiteLine, name)
		require.Positive(t, card.Height, name)
	}
}

func TestNoBreezeBetweenTwoKitesIsPoor(t *testing.T) {
	t.Parallel()
	for name, set := range map[string][]models.Kite{"by size": nil, "by the captain's ranges": threeKites()} {
		rule(t, name, func(t *rapid.T) {
			o := anOutlook(t)
			o.Kites = set
			// Steady breezes up to where kites are at their best, gusty ones as
			// far as rule 2 goes.
			most, gusty := 17.0, 5.0
			if rapid.Bool().Draw(t, "gusty") {
				most, gusty = 12, 12
			}
			spread := units.Speed(between(t, 0, gusty, "spread")) * kn
			w1, w2 := between(t, 3, most, "w1"), between(t, 3, most, "w2")
			at := func(w float64) models.Call {
				return labels(with(o, func(h *models.Hour) {
					h.Wind = models.Known(units.Speed(w) * kn)
					h.Gust = models.Known(units.Speed(w)*kn + spread)
					// The rest as for a breeze, the same in both.
					h.Sea, h.Current = models.Known(2*ft), models.Known(0*kn)
				}))
			}
			pairs(t, at(min(w1, w2)), at(max(w1, w2)), func(a, b models.HourCall) {
				require.GreaterOrEqual(t, b.Kite, a.Kite)
			})
		})
	}
	rule(t, "never a balloon that is not aboard", func(t *rapid.T) {
		o := anOutlook(t)
		o.Boat.HeliumAboard = false
		if rapid.Bool().Draw(t, "own kites") {
			o.Kites = threeKites()
		}
		c := scoring.Judge(o, models.DefaultLimits(), scoring.With{})
		require.NotEqual(t, models.TacticHelium, c.Tactic)
		for _, h := range c.Hours {
			require.False(t, h.Conditions.KiteHelium)
			require.NotEqual(t, models.DoHeliumKite, h.Do)
		}
		if card, ok := c.Spread.Get(); ok {
			require.False(t, card.Helium)
		}
		for _, i := range c.Load {
			require.NotContains(t, i.What, "balloon")
		}
	})
	rule(t, "the card flies what the hours are graded with", func(t *rapid.T) {
		o := anOutlook(t)
		if rapid.Bool().Draw(t, "own kites") {
			o.Kites = threeKites()
		}
		for _, h := range labels(o).Hours {
			x := h.Conditions
			if h.Kite == models.GradeGood && x.KiteMarginLow.Known() && x.KiteMarginHigh.Known() {
				// A good hour is one whose lulls and gusts a kite stands for most of it.
				low, high := x.KiteMarginLow.Or(0), x.KiteMarginHigh.Or(0)
				require.Greater(t, low, -(x.KiteWind.Or(0) - x.KiteLull.Or(0)))
				require.Greater(t, high, -(x.KiteGust.Or(0) - x.KiteWind.Or(0)))
			}
		}
	})
}

func TestNoBalloonInAForecastWithoutHelium(t *testing.T) {
	c := scoring.Judge(finding(t, "contra_7_Bnohelium"), models.DefaultLimits(), scoring.With{})
	for _, h := range c.Hours {
		require.False(t, h.Conditions.KiteHelium)
	}
	if card, ok := c.Spread.Get(); ok {
		require.False(t, card.Helium)
	}
}

// 14 CFR 101 asks more of moored kites within five (statute) miles of an
// airport: from memory.
func TestAnAirfieldNearTheGroundIsTold(t *testing.T) {
	o := stock(t, models.Date{Year: 2027, Month: 1, Day: 19}, fairWind())
	o.Port.Airfields = []models.Airfield{
		{Name: "Near Field", At: models.Position{Lat: 25.8, Lon: -80.13}}, // 3.8 nmi west of the ground
		{Name: "Far Field", At: models.Position{Lat: 25.8, Lon: -80.20}},  // 7.6 nmi
	}
	var told []models.Phrase
	c := scoring.Judge(o, models.DefaultLimits(), scoring.With{})
	for _, p := range c.Cautions {
		if p.Key == "caution.airfield" {
			told = append(told, p)
		}
	}
	require.Len(t, told, 1)
	require.Equal(t, "Near Field", told[0].Args[0])
	card, _ := c.Spread.Get()
	require.Contains(t, keysOf(card.Notes), "spread.height")
}
