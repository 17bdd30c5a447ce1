package web_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
)

// On the page of the days ahead an official product stands before what to do,
// a failed feed is unknown and never none, and a day past their reach says so.
func TestTheDaysAheadSayTheOfficialProductsFirst(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*models.DayOutlook)
		says   string
		first  bool
	}{
		"in force": {func(*models.DayOutlook) {}, "SMALL CRAFT ADVISORY", true},
		"unknown":  {func(d *models.DayOutlook) { d.Warnings = models.Unknown[[]models.Warning]() }, "Official warnings UNKNOWN", true},
		"past their reach": {func(d *models.DayOutlook) { d.Warnings, d.PastWarnings = models.Known[[]models.Warning](nil), true },
			"Past the reach of official warnings", false},
		"none": {func(d *models.DayOutlook) { d.Warnings, d.PastWarnings = models.Known[[]models.Warning](nil), false }, "No official warning in force", false},
	} {
		t.Run(name, func(t *testing.T) {
			d := newDesk(t)
			c.change(&d.board.Days[0].Short)
			code, body := get(t, newServer(t, d), "/days")
			require.Equal(t, http.StatusOK, code)
			at, say := strings.Index(body, c.says), strings.Index(body, `<p class="say">`)
			require.Positive(t, at, body)
			require.Equal(t, c.first, at < say)
			require.Equal(t, c.first, strings.Contains(body, `class="official"`))
			require.NotContains(t, body, guests)
		})
	}
}
