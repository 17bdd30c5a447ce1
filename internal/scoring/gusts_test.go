package scoring_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/words"
)

// A gust that nobody has forecast is told as unknown, not as the mean wind;
// a period is told in whole seconds, as the trade says it.
func TestUnknownGustsAreToldAsUnknown(t *testing.T) {
	told := func(change func(h *models.Hour), language words.Language) string {
		o := stock(t, models.Date{Year: 2027, Month: 1, Day: 19}, []block{{0, 10, 160, 13, 2, 7.39, 30, 10, 0}})
		hoursOf(&o, 0, 24, change)
		c := judge(o)
		teller := words.NewTeller(words.Reader{Language: language}, o.Port.Zone, o.Date)
		var lines []string
		for _, p := range c.Reasons {
			lines = append(lines, teller.Say(p))
		}
		return strings.Join(lines, "\n")
	}
	unknown := func(h *models.Hour) { h.Gust = models.Unknown[units.Speed]() }
	from := func(hour int) func(*models.Hour) {
		return func(h *models.Hour) {
			if h.At.In(newYork(t)).Hour() >= hour {
				unknown(h)
			}
		}
	}
	require.Contains(t, told(func(*models.Hour) {}, words.English), "wind SSE 10 kn, gusts to 13 kn: kites")
	require.Contains(t, told(unknown, words.English), "wind SSE 10 kn, gusts unknown: kites")
	require.Contains(t, told(unknown, words.Spanish), "rachas desconocidas")
	require.Contains(t, told(from(12), words.English), "gusts to 13 kn, unknown in some hours")
	for _, l := range words.Languages() {
		text := told(func(*models.Hour) {}, l)
		require.True(t, slices.ContainsFunc([]string{"at 7 s", "cada 7 s"}, func(s string) bool { return strings.Contains(text, s) }), text)
		require.NotContains(t, text, "7.39")
	}
}
