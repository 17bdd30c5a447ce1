package app_test

import (
	"context"
	"errors"
	"net/http"
	"strings"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

func request() app.SetupRequest {
	return app.SetupRequest{
		At: models.Position{Lat: 27.2, Lon: -79.9}, Name: "Port Amparo", Contact: "captain@example.com",
		Ground: models.Known(models.Position{Lat: 27.2, Lon: -79.83}),
	}
}

func drafted(t *testing.T, transport http.RoundTripper, req app.SetupRequest) app.Draft {
	t.Helper()
	d, err := app.Setup(t.Context(), app.Options{Transport: transport, Now: evening}, req)
	require.NoError(t, err)
	return d
}

func open(d app.Draft) []string {
	var list []string
	for _, p := range d.Open {
		list = append(list, p.Path)
	}
	return list
}

func TestSetupLooksThePlaceUp(t *testing.T) {
	d := drafted(t, coast().transport(t), request())
	require.Empty(t, d.Unasked)
	// What nobody can look up stays blank, and nothing else does.
	require.Equal(t, []string{
		"ports[0].shore_normal", "ports[0].grounds[0].depth", "ports[0].grounds[0].run",
		"ports[0].stations[0].anemometer", "ports[0].stations[1].anemometer",
	}, open(d))

	// Filled in, it loads, and says what the services said.
	text := string(d.File)
	for _, fill := range [][2]string{{"shore_normal:", " 90 deg"}, {"depth:", " 150 ft"}, {"run:", " 20 min"}, {"anemometer:", " 5 m"}} {
		text = strings.ReplaceAll(text, fill[0]+" #", fill[0]+fill[1]+" #")
	}
	cfg, err := config.Load("draft.yaml", []byte(text))
	require.NoError(t, err, text)
	p := cfg.Ports[0]
	require.Equal(t, "Port Amparo", p.Name)
	require.Equal(t, "America/New_York", p.Zone.String())
	require.Equal(t, []config.Zone{{ID: "AMZ997", Use: config.ZoneTrip}}, p.Zones, "the port's own zone is on land")
	require.Equal(t, models.Known("XAM"), p.TextOffice)
	require.Equal(t, models.Known(config.Gridpoint{Office: "XAM", X: 60, Y: 80}), p.Grounds[0].Gridpoint)
	require.Equal(t, []config.Station{
		{ID: "XAMP1", Anemometer: models.Known(5 * units.Metre), Uses: []config.StationUse{config.StationWind}},
		{ID: "49997", Anemometer: models.Known(5 * units.Metre), Uses: []config.StationUse{config.StationWind, config.StationSea}},
	}, p.Stations)
	require.Equal(t, models.Known(config.TideStation{ID: "8799001"}), p.Tide)
	require.Equal(t, models.Known(config.CurrentStation{ID: "XAI0901", Bin: 1}), p.Current)
	require.Equal(t, "captain@example.com", cfg.Sources.Contact)
	require.Contains(t, text, "{id: AMZ997, for: trip}   # Amparo Inlet to North Point out 20 NM")
	require.Contains(t, text, "- id: \"49997\"   # Amparo Shelf, 13 nmi off")
}

// Without a ground the zones around the port are listed: better one too many
// than one too few.
func TestSetupWithoutAGround(t *testing.T) {
	s := coast()
	s.point("27.2833,-79.9", "marine", 57, 84, "AMZ997") // five miles north
	s.point("27.2,-79.8063", "marine", 61, 80, "AMZ998") // and east
	req := request()
	req.Ground = models.Unknown[models.Position]()
	d := drafted(t, s.transport(t), req)
	text := string(d.File)
	require.Contains(t, text, "{id: AMZ997, for: trip}")
	require.Contains(t, text, "{id: AMZ998, for: trip}")
	require.Contains(t, text, "gridpoint: # not found: the cell is the ground's, and no ground was given; ")
	require.Contains(t, text, "        at: # not found: no ground was given; ")
	require.Contains(t, strings.Join(d.Notes, "\n"), "the zones are those within 5 nmi of the port")
}

func TestSetupTellsWhatIsTooFar(t *testing.T) {
	s := coast()
	const list = "api.tidesandcurrents.noaa.gov/mdapi/prod/webapi/stations.json?type="
	s[list+"tidepredictions"] = `{"stations":[{"id":"8799009","name":"Up the coast","lat":27.9,"lng":-79.9}]}`
	s[list+"currentpredictions"] = `{"stations":[{"id":"XAI0909","name":"Up the coast","currbin":3,"lat":27.9,"lng":-79.9}]}`
	s["www.ndbc.noaa.gov/activestations.xml"] = `<?xml version="1.0"?><stations><station id="49994" lat="29.0" lon="-78.0" name="Far out" type="buoy" met="y"/></stations>`
	s.point("27.2,-79.83", "land", 60, 80, "AMZ997")
	d := drafted(t, s.transport(t), request())
	text := string(d.File)
	// 0.7 degrees of latitude are 42 nmi.
	require.Contains(t, text, "tide: # not found: the nearest is 8799009, Up the coast, 42 nmi off, too far to stand for the inlet; ")
	require.Contains(t, text, "inlet_current: # not found: the nearest is XAI0909, Up the coast, 42 nmi off, too far to stand for the inlet; ")
	require.Contains(t, text, "stations: # not found: no station within 60 nmi has reported lately; ")
	require.Contains(t, strings.Join(d.Notes, "\n"), "the ground is land to the weather service")
	require.Empty(t, d.Unasked, "all were asked")
}

// Outside of what a service covers is an answer, and not a failure to ask.
func TestSetupWhereTheServiceKnowsNothing(t *testing.T) {
	d := drafted(t, transportFunc(func(r *http.Request) (*http.Response, error) {
		return response(r, http.StatusNotFound, `{"status":404}`), nil
	}), request())
	require.Empty(t, d.Unasked)
	require.Contains(t, string(d.File), "zones: # not found: the service has no forecast grid at this position")
}

func TestSetupWithoutConnection(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := drafted(t, offline(), request())
		require.Len(t, d.Unasked, 6)
		for _, key := range []string{"zone", "gridpoint", "zones", "text_office"} {
			require.Contains(t, string(d.File), key+": # not found: no connection to api.weather.gov; ")
		}
		require.Contains(t, string(d.File), "stations: # not found: no connection to www.ndbc.noaa.gov; ")
		for _, key := range []string{"tide", "inlet_current"} {
			require.Contains(t, string(d.File), key+": # not found: no connection to api.tidesandcurrents.noaa.gov; ")
		}
		require.Contains(t, string(d.File), "at: 27.2000 N, 79.9000 W")
	})
}

// The services want to know whom to write to, so without that nobody is asked.
func TestSetupWithoutAContactAsksNobody(t *testing.T) {
	req := request()
	req.Contact = ""
	d := drafted(t, transportFunc(func(r *http.Request) (*http.Response, error) {
		return nil, errors.New("asked " + r.URL.String())
	}), req)
	require.Len(t, d.Unasked, 1)
	require.Contains(t, d.Unasked[0].Why, "give -contact")
	require.Contains(t, string(d.File), "zones: # not found: not asked, since the services want to know whom to write to; ")
	require.Contains(t, open(d), "sources.contact")
}

func TestSetupRefusesNoPlace(t *testing.T) {
	req := request()
	req.At.Lat = 127
	_, err := app.Setup(context.Background(), app.Options{Transport: offline()}, req)
	require.ErrorContains(t, err, "latitude within 90")
}
