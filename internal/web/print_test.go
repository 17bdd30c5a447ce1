package web_test

import (
	"net/http/httptest"
	"net/url"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/web/webtest"
)

// TestTheSheetFitsThePaper prints the sheet for the wheelhouse: one sheet of
// paper for each trip, with the browser's own margins. The sizes are those of
// ISO 216 (A4, 210 by 297 mm) and of ANSI/ASME Y14.1 (A, 8.5 by 11 in). With
// CI=true it does so in every language and system of units; else in those
// with the longest words.
func TestTheSheetFitsThePaper(t *testing.T) {
	choices := []url.Values{{"language": {"es"}, "units": {"metric"}}}
	if os.Getenv("CI") == "true" {
		choices = append(choices, url.Values{"language": {"es"}, "units": {"nautical"}},
			url.Values{"language": {"en"}, "units": {"metric"}}, url.Values{"language": {"en"}, "units": {"nautical"}})
	}
	for name, d := range map[string]*desk{"one trip": newDesk(t), "two trips": twoTrips(newDesk(t))} {
		s := httptest.NewServer(newServer(t, d))
		t.Cleanup(s.Close)
		b := webtest.Open(t, s.URL)
		for _, by := range choices {
			by.Set("look", "night")
			by.Set("back", "/")
			b.Send("/choices", by)
			for paper, size := range map[string][2]float64{"A4": {210 / 25.4, 297 / 25.4}, "Letter": {8.5, 11}} {
				require.Equal(t, len(d.board.Days[0].Trips), b.Print("/print", size[0], size[1]), "%s, %v, %s", name, by, paper)
			}
		}
	}
}
