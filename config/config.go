// Package config reads the one YAML file that says what a boat, its port and
// its captain are, and turns it into domain values. It reads strictly: unknown
// and repeated keys, wrong units and impossible values are errors that name
// the path, the line and the cure, and all of them are reported at once.
//
// Quantities carry their unit, as "12 kn", "150 ft", "25 min". example.yaml
// shows every key.
//
// The package reads no clock, no network and no file. Passwords stand in files
// of their own, which the format only names.
package config

import (
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Config is one configuration, complete with defaults. It is not changed
// after Load, so that it may be shared.
type Config struct {
	// Units and Language are what the call is told in; people may have
	// their own.
	Units    Units
	Language models.Language
	// Ports has at least one port; the first is the one that commands take
	// unless told otherwise.
	Ports    []Port
	Boat     models.Boat
	Kites    []models.Kite
	Gear     []models.Gear
	Pens     []Pen
	Limits   models.Limits
	Season   Calendar
	Charters Charters
	People   []Person
	Sources  Sources
	// Mail and Webhook are how people are reached; without them nobody is.
	Mail    models.Opt[Mail]
	Webhook models.Opt[Webhook]
	Daemon  Daemon
	Pages   Pages
}

// Units is a system of units that people read.
type Units string

// Systems of units.
const (
	Nautical Units = "nautical" // knots, feet, nautical miles, °F
	Metric   Units = "metric"   // m/s, metres, kilometres, °C
)

// Port is a port with everything official around it.
type Port struct {
	models.Port
	// Grounds has at least one ground; the first is the default.
	Grounds []Ground
	Zones   []Zone
	// TextOffice issues the coastal waters forecast: "XAM".
	TextOffice models.Opt[string]
	Stations   []Station
	Tide       models.Opt[TideStation]
	Current    models.Opt[CurrentStation]
}

// Ground finds a ground of the port by name.
func (p Port) Ground(name string) (Ground, bool) {
	for _, g := range p.Grounds {
		if g.Name == name {
			return g, true
		}
	}
	return Ground{}, false
}

// ZonesFor returns the zones whose products bind a trip to the ground.
func (p Port) ZonesFor(ground string) []string {
	var out []string
	for _, z := range p.Zones {
		if z.Binds(ground) {
			out = append(out, z.ID)
		}
	}
	return out
}

// Ground is a ground with the places that its forecasts are read at.
type Ground struct {
	models.Ground
	Gridpoint models.Opt[Gridpoint]
	// ModelPoints are the places to read single gridded products at, where
	// the ground itself will not do: a coarse model may see land there.
	ModelPoints []ModelPoint
}

// ModelPoint returns where to read a gridded product for the ground.
func (g Ground) ModelPoint(p Product) models.Position {
	for _, m := range g.ModelPoints {
		if m.Product == p {
			return m.At
		}
	}
	return g.At
}

// ModelPoint is the place to read one gridded product at.
type ModelPoint struct {
	Product Product
	At      models.Position
}

// Gridpoint is a cell of the weather service's own forecast grid.
type Gridpoint struct {
	Office string
	X, Y   int
}

// ZoneUse says what the products of a zone are for.
type ZoneUse string

// Uses of a zone.
const (
	ZoneTrip  ZoneUse = "trip"  // binds a trip: the gate looks at it
	ZoneShown ZoneUse = "shown" // shown and nothing more
)

// Zone is an official forecast zone, by its UGC code.
type Zone struct {
	ID  string
	Use ZoneUse
	// Grounds are the grounds whose trips the zone binds; empty means all.
	Grounds []string
}

// Binds tells whether the zone's products bind a trip to the ground.
func (z Zone) Binds(ground string) bool {
	if z.Use != ZoneTrip {
		return false
	}
	for _, g := range z.Grounds {
		if g == ground {
			return true
		}
	}
	return len(z.Grounds) == 0
}

// StationUse says what a station's reports are for.
type StationUse string

// Uses of a station.
const (
	StationWind   StationUse = "wind"   // the wind on the grounds
	StationSea    StationUse = "sea"    // the sea on the grounds
	StationUpwind StationUse = "upwind" // sees a front before the grounds do
)

// Station is a buoy or a coastal station of NDBC.
type Station struct {
	ID string
	// Anemometer is its height above the water; known wherever the station
	// is used for wind.
	Anemometer models.Opt[units.Length]
	Uses       []StationUse
}

// For tells whether the station is used for u.
func (s Station) For(u StationUse) bool {
	for _, v := range s.Uses {
		if v == u {
			return true
		}
	}
	return false
}

// TideStation is a CO-OPS station with tide predictions.
type TideStation struct {
	ID string
	// Later is how much later the inlet has high and low water than the
	// station; negative where it is earlier.
	Later time.Duration
	// Constants are the station's harmonic constants, which stand in while
	// the service is down and for days it was not asked for; Mean is mean sea
	// level above the chart's zero. Empty means that nothing stands in.
	Constants []TideConstant
	Mean      units.Length
	// Offsets are known for a station that has no constants of its own: those
	// above are then its reference station's.
	Offsets models.Opt[TideOffsets]
}

// TideOffsets make the tide of a subordinate station from that of its
// reference station: so much later, its heights times a ratio and with a
// length added.
type TideOffsets struct {
	High, Low           time.Duration
	HighRatio, LowRatio float64
	HighAdded, LowAdded units.Length
}

// TideConstant is one harmonic constant of a tide.
type TideConstant struct {
	Name      string
	Amplitude units.Length
	// Phase is the Greenwich phase in degrees.
	Phase float64
}

// CurrentStation is a CO-OPS station with current predictions.
type CurrentStation struct {
	ID  string
	Bin int
	// Later is as for a TideStation.
	Later time.Duration
	// Constants are as for a TideStation, Mean the flow that is left when the
	// tide averages out, flood positive; Flood and Ebb are where they run to.
	Constants  []StreamConstant
	Mean       units.Speed
	Flood, Ebb units.Toward
	// Offsets are as for a TideStation; Flood and Ebb stay the station's own.
	Offsets models.Opt[StreamOffsets]
}

// StreamOffsets make the stream of a subordinate station from that of its
// reference station: each phase so much later, flood and ebb times a ratio.
type StreamOffsets struct {
	SlackBeforeFlood, SlackBeforeEbb time.Duration
	Flood, Ebb                       time.Duration
	FloodRatio, EbbRatio             float64
}

// StreamConstant is one harmonic constant of a tidal stream.
type StreamConstant struct {
	Name      string
	Amplitude units.Speed
	// Phase is the Greenwich phase in degrees.
	Phase float64
}

// Load reads a configuration. The name is what errors call the file. The
// error joins one *Problem for each mistake, in the order of the file.
func Load(name string, b []byte) (*Config, error) {
	c, r := load(name, b)
	if len(r.problems) > 0 {
		return nil, join(r.problems)
	}
	return c, nil
}

func load(name string, b []byte) (*Config, *reader) {
	r := &reader{file: name, told: map[string]bool{}, seen: map[string]bool{}}
	t := r.open(b)
	if t == nil || t.vals == nil {
		return nil, r
	}
	c := &Config{
		Units:    want(t, "units", word("a system of units", Nautical, Metric), Nautical),
		Language: want(t, "language", word("a language", models.Languages()...), models.English),
	}
	c.Ports = readPorts(t)
	c.Boat = readBoat(t)
	c.Kites = readKites(t)
	c.Gear = readGear(t)
	c.Pens = readPens(t)
	c.Limits = readLimits(t)
	c.Season = readSeason(t)
	c.Charters = readCharters(t, c.Ports)
	c.People = readPeople(t, c.Units, c.Language)
	c.Sources = readSources(t)
	c.Mail = readMail(t)
	c.Webhook = readWebhook(t)
	c.Daemon = readDaemon(t)
	c.Pages = readPages(t)
	t.done()
	return c, r
}
