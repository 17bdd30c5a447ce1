package scoring_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/scoring"
)

// What is taken as an override lifts something, and what lifts nothing is
// refused: under each product the word of the check is that of the call.
func TestOverridesThatAreTakenHold(t *testing.T) {
	for _, x := range []struct {
		event, vtec string
		refused     string // empty: it lifts the product
	}{
		{"Small Craft Advisory", "SC.Y", ""},
		{"Hazardous Seas Warning", "SE.W", ""},
		{"Brisk Wind Advisory", "BW.Y", ""},
		{"Gale Warning", "GL.W", "under it nobody goes"},
		{"Storm Warning", "SR.W", "under it nobody goes"},
		{"Hurricane Force Wind Warning", "HF.W", "under it nobody goes"},
		{"Tropical Storm Watch", "TR.A", "under it nobody goes"},
		{"Special Marine Warning", "MA.W", "under it nobody goes"},
		{"Gale Watch", "GL.A", "a watch is answered"},
		{"Hazardous Seas Watch", "SE.A", "a watch is answered"},
		{"Rip Current Statement", "RP.S", "closes nothing"},
	} {
		o := fairDay(t)
		require.NotEqual(t, models.TacticStayIn, judge(o).Tactic)
		product(&o, x.event, "/O.NEW.KMFL."+x.vtec+".0012.000000T0000Z-000000T0000Z/", "00:30", 23*time.Hour)
		o.Overrides = []models.Override{{What: x.event, Why: "ours to try"}}
		err := scoring.CheckOverride(x.event, nil)
		if x.refused == "" {
			require.NoError(t, err, x.event)
			require.NotEqual(t, models.TacticStayIn, judge(o).Tactic, x.event)
			continue
		}
		require.ErrorContains(t, err, x.refused, x.event)
		alone := o
		alone.Overrides = nil
		require.Equal(t, judge(alone).Tactic, judge(o).Tactic, x.event)
	}
	for _, own := range []string{scoring.OverrideAdvisory, scoring.OverrideOwn, scoring.OverrideNever, scoring.OverrideRide, scoring.OverrideInlet, scoring.OverrideVisibility, "dense fog advisory", "my own limit"} {
		require.NoError(t, scoring.CheckOverride(own, nil), own)
	}
	for _, none := range []string{"sca", "gale", "storm", "everything", "thunder", "own limit, and the gale warning", "the weather"} {
		require.Error(t, scoring.CheckOverride(none, nil), none)
	}
	// A product that is listed is known by its name, whatever it is called.
	odd := models.Warning{Event: "Small Vessel Exercise Notice"}
	require.Error(t, scoring.CheckOverride(odd.Event, nil))
	require.NoError(t, scoring.CheckOverride(odd.Event, []models.Warning{odd}))
}
