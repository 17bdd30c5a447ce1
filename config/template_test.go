package config

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// found is a whole look-up of the invented coast.
func found() Place {
	return Place{
		At: models.Position{Lat: 27.2, Lon: -79.9}, Name: "Port Amparo", Zone: "America/New_York",
		ShoreNormal: models.Known(units.Toward(90)),
		Ground:      models.Known(models.Position{Lat: 27.2, Lon: -79.83}),
		Depth:       models.Known(150 * units.Foot),
		Run:         models.Known(20 * time.Minute),
		Gridpoint:   models.Known(Gridpoint{"XAM", 60, 80}),
		Zones:       []FoundZone{{"AMZ997", "Amparo Inlet out 20 NM", ZoneTrip}, {"AMZ998", "Amparo Inlet 20 to 60 NM", ZoneShown}},
		TextOffice:  "XAM",
		Stations: []FoundStation{
			{"XAMP1", "Amparo Pier", 1 * units.NauticalMile, []StationUse{StationWind, StationUpwind}, models.Known(12 * units.Metre)},
			{"49997", "Amparo Offshore", 14 * units.NauticalMile, []StationUse{StationSea}, models.Unknown[units.Length]()},
		},
		Tide:    models.Known(FoundPrediction{ID: "8799001", Name: "Amparo Inlet", Distance: 600 * units.Metre}),
		Current: models.Known(FoundPrediction{ID: "XAI0901", Name: "Amparo Inlet", Bin: 1, Later: -10 * time.Minute}),
		Contact: "captain@example.com",
	}
}

func TestTemplateOfAWholeLookUpLoads(t *testing.T) {
	b, err := Template(found())
	require.NoError(t, err)
	require.NotContains(t, string(b), "not found")
	c, err := Load("forecastd.yaml", b)
	require.NoError(t, err, "%s", b)

	p := c.Ports[0]
	require.Equal(t, "Port Amparo", p.Name)
	require.Equal(t, models.Position{Lat: 27.2, Lon: -79.9}, p.At)
	require.Equal(t, "America/New_York", p.Zone.String())
	require.Equal(t, units.Toward(90), p.ShoreNormal)
	require.Equal(t, []Zone{{ID: "AMZ997", Use: ZoneTrip}, {ID: "AMZ998", Use: ZoneShown}}, p.Zones)
	require.Equal(t, models.Known("XAM"), p.TextOffice)
	require.Equal(t, models.Known(Gridpoint{"XAM", 60, 80}), p.Grounds[0].Gridpoint)
	require.InDelta(t, 150, p.Grounds[0].Depth.Feet(), 1e-9)
	require.Equal(t, 20*time.Minute, p.Grounds[0].Run)
	require.Equal(t, "49997", p.Stations[1].ID)
	require.False(t, p.Stations[1].Anemometer.Known())
	require.Equal(t, models.Known(TideStation{ID: "8799001"}), p.Tide)
	require.Equal(t, models.Known(CurrentStation{ID: "XAI0901", Bin: 1, Later: -10 * time.Minute}), p.Current)
	require.Contains(t, string(b), "# Amparo Offshore, 14 nmi off")
}

func TestTemplateOfflineSaysWhatToFillIn(t *testing.T) {
	b, err := Template(Place{
		At:  models.Position{Lat: 27.2, Lon: -79.9},
		Why: map[string]string{"zones": "no connection to api.weather.gov"},
	})
	require.NoError(t, err)
	require.Contains(t, string(b), "zones: # not found: no connection to api.weather.gov; list the marine zones")
	_, err = Load("forecastd.yaml", b)
	require.EqualError(t, err, strings.TrimSpace(`
forecastd.yaml:12:5: ports[0].name: is blank: fill in the port's name
forecastd.yaml:14:5: ports[0].zone: is blank: fill in an IANA time zone, as America/New_York
forecastd.yaml:15:5: ports[0].shore_normal: is blank: fill in a true bearing, as 90 deg (0 deg to 360 deg)
forecastd.yaml:20:9: ports[0].grounds[0].at: is blank: fill in a position, as 27.2000 N, 79.8300 W
forecastd.yaml:21:9: ports[0].grounds[0].depth: is blank: fill in a length, as 3 ft (3 ft to 12000 ft)
forecastd.yaml:22:9: ports[0].grounds[0].run: is blank: fill in a time span, as 25 min (1 min to 12 h)
forecastd.yaml:23:9: ports[0].grounds[0].gridpoint: is blank: fill in the cell of the weather service's grid, or take the line out
forecastd.yaml:26:5: ports[0].zones: is blank: fill in the official zones, one behind each dash, or take the line out
forecastd.yaml:27:5: ports[0].text_office: is blank: fill in an office, three letters, as XAM, or take the line out
forecastd.yaml:29:5: ports[0].stations: is blank: fill in buoys and coastal stations, one behind each dash, or take the line out
forecastd.yaml:31:5: ports[0].tide: is blank: fill in the CO-OPS station for high and low water, or take the line out
forecastd.yaml:32:5: ports[0].inlet_current: is blank: fill in the CO-OPS station for the stream in the inlet, or take the line out
forecastd.yaml:59:3: sources.contact: is blank: fill in an e-mail address, as captain@example.com
`))
}

// Whatever the services answer, the file stays readable and holds no more
// than what was looked up.
func TestTemplateQuotesForeignText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := found()
		p.Name = rapid.StringN(1, 40, 120).Draw(t, "port")
		p.Zones[0].Name = rapid.String().Draw(t, "zone")
		p.Stations[0].Name = rapid.String().Draw(t, "station")
		p.Why = map[string]string{"depth": rapid.String().Draw(t, "why")}
		p.Depth = models.Unknown[units.Length]()
		b, err := Template(p)
		require.NoError(t, err)
		_, r := load("forecastd.yaml", b)
		for _, problem := range r.problems {
			require.Contains(t, []string{"ports[0].grounds[0].depth", "ports[0].name"}, problem.Path, "%s\n%s", problem, b)
		}
	})
}
