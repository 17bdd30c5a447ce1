package config

import (
	"math"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

func readPorts(t *table) []Port {
	var out []Port
	names := map[string]bool{}
	for _, p := range t.list("ports", "at least one port, behind a dash", required) {
		if p.vals == nil {
			continue
		}
		port := readPort(p)
		unique(names, p, "name", port.Name)
		out = append(out, port)
	}
	return out
}

func readPort(t *table) Port {
	p := Port{Port: models.Port{
		Name:        need(t, "name", text("the port's name")),
		At:          need(t, "at", spot()),
		Zone:        need(t, "zone", zone()),
		ShoreNormal: need(t, "shore_normal", toward()),
		InletDepth:  maybe(t, "inlet_depth", height(1*units.Foot, 100*units.Foot)),
	}}
	names := map[string]bool{}
	for _, a := range t.list("airfields", "airfields whose traffic passes over the grounds, one behind each dash", optional) {
		if a.vals == nil {
			continue
		}
		field := models.Airfield{Name: need(a, "name", text("the airfield's name")), At: need(a, "at", spot())}
		unique(names, a, "name", field.Name)
		p.Airfields = append(p.Airfields, field)
		a.done()
	}
	names = map[string]bool{}
	for _, g := range t.list("grounds", "at least one ground, behind a dash", required) {
		if g.vals == nil {
			continue
		}
		ground := readGround(g, t, p.At)
		unique(names, g, "name", ground.Name)
		p.Grounds = append(p.Grounds, ground)
	}
	ids := map[string]bool{}
	for _, z := range t.list("zones", "the official zones, one behind each dash", optional) {
		if z.vals == nil {
			continue
		}
		zone := readZone(z, p)
		unique(ids, z, "id", zone.ID)
		p.Zones = append(p.Zones, zone)
	}
	p.TextOffice = maybe(t, "text_office", code("an office", "[A-Z]{3}", "three letters, as XAM"))
	ids = map[string]bool{}
	for _, s := range t.list("stations", "buoys and coastal stations, one behind each dash", optional) {
		if s.vals == nil {
			continue
		}
		station := readStation(s)
		unique(ids, s, "id", station.ID)
		p.Stations = append(p.Stations, station)
	}
	if s, ok := t.part("tide", "the CO-OPS station for high and low water"); ok {
		station := TideStation{
			ID:    need(s, "station", code("a tide station", `\d{7}`, "its seven digits, as 8799001")),
			Later: want(s, "later", later(), 0),
			Mean:  want(s, "mean", height(-10*units.Foot, 40*units.Foot), 0),
		}
		eachConstant(s, func(c *table, name string, phase float64) {
			station.Constants = append(station.Constants, TideConstant{name, need(c, "amplitude", height(0, 40*units.Foot)), phase})
		})
		if o, ok := s.part("offsets", "what makes the station's tide from its reference station's"); ok {
			station.Offsets = models.Known(TideOffsets{
				High: want(o, "high", later(), 0), Low: want(o, "low", later(), 0),
				HighRatio: want(o, "high_ratio", ratio(0.05, 20), 1), LowRatio: want(o, "low_ratio", ratio(0.05, 20), 1),
				HighAdded: want(o, "high_added", height(-20*units.Foot, 20*units.Foot), 0), LowAdded: want(o, "low_added", height(-20*units.Foot, 20*units.Foot), 0),
			})
			o.done()
			ofReference(s, len(station.Constants))
		}
		p.Tide = models.Known(station)
		s.done()
	}
	if s, ok := t.part("inlet_current", "the CO-OPS station for the stream in the inlet"); ok {
		station := CurrentStation{
			ID:    need(s, "station", code("a current station", `[A-Za-z]{1,3}\d{4,5}`, "letters and digits, as XAI0901")),
			Bin:   need(s, "bin", count(1, 128)),
			Later: want(s, "later", later(), 0),
			Mean:  want(s, "mean", speed(-5*units.Knot, 5*units.Knot), 0),
		}
		flood, okFlood := maybe(s, "flood", toward()).Get()
		ebb, okEbb := maybe(s, "ebb", toward()).Get()
		station.Flood, station.Ebb = flood, ebb
		eachConstant(s, func(c *table, name string, phase float64) {
			station.Constants = append(station.Constants, StreamConstant{name, need(c, "amplitude", speed(0, 12*units.Knot)), phase})
		})
		if len(station.Constants) > 0 && !(okFlood && okEbb) && s.ok("flood", "ebb") {
			s.fail("constants", "need the bearings that flood and ebb run to: write flood and ebb")
		}
		if o, ok := s.part("offsets", "what makes the station's stream from its reference station's"); ok {
			station.Offsets = models.Known(StreamOffsets{
				SlackBeforeFlood: want(o, "slack_before_flood", later(), 0), Flood: want(o, "flood", later(), 0),
				SlackBeforeEbb: want(o, "slack_before_ebb", later(), 0), Ebb: want(o, "ebb", later(), 0),
				FloodRatio: want(o, "flood_ratio", ratio(0.05, 20), 1), EbbRatio: want(o, "ebb_ratio", ratio(0.05, 20), 1),
			})
			o.done()
			ofReference(s, len(station.Constants))
		}
		p.Current = models.Known(station)
		s.done()
	}
	t.done()
	return p
}

// ofReference tells of offsets that have nothing to be applied to.
func ofReference(t *table, constants int) {
	if constants == 0 && t.ok("constants") {
		t.fail("offsets", "apply to the constants of the reference station, and none are given: write constants, from the page of the reference station")
	}
}

// eachConstant reads harmonic constants as the station's page lists them.
func eachConstant(t *table, add func(c *table, name string, phase float64)) {
	names := map[string]bool{}
	for _, c := range t.list("constants", "harmonic constants, one behind each dash", optional) {
		if c.vals == nil {
			continue
		}
		name := need(c, "name", word("a tidal constituent", constituents()...))
		unique(names, c, "name", name)
		add(c, name, need(c, "phase", degrees(-360, 360)))
		c.done()
	}
}

// constituents are the names of the 37 that the tide tables are made with.
func constituents() []string {
	return []string{"M2", "S2", "N2", "K1", "M4", "O1", "M6", "MK3", "S4", "MN4", "NU2", "S6", "MU2", "2N2", "OO1", "LAM2", "S1", "M1", "J1",
		"MM", "SSA", "SA", "MSF", "MF", "RHO", "Q1", "T2", "R2", "2Q1", "P1", "2SM2", "M3", "L2", "2MK3", "K2", "M8", "MS4"}
}

func later() kind[time.Duration] { return span(-6*time.Hour, 6*time.Hour) }

// farthest is the longest run that makes sense in a day; a ground beyond it
// has a slip in its position, such as E for W.
const farthest = 100 * units.NauticalMile

func readGround(t, port *table, portAt models.Position) Ground {
	depth := height(3*units.Foot, 12000*units.Foot)
	g := Ground{Ground: models.Ground{
		Name:  need(t, "name", text("the ground's name")),
		At:    need(t, "at", spot()),
		Depth: need(t, "depth", depth),
		Run:   need(t, "run", span(time.Minute, 12*time.Hour)),
		Slope: maybe(t, "slope", ratio(0.0001, 1)),
	}}
	if t.ok("at") && port.ok("at") && t.has("at") && port.has("at") {
		if d := models.Apart(portAt, g.At); d > farthest {
			t.fail("at", "lies %.0f nmi from the port, more than a day's fishing: check both positions, and E or W", math.Round(d.NauticalMiles()))
		}
	}
	if b, ok := t.part("depth_band", "the depths that fish"); ok {
		shallow, deep := need(b, "shallow", depth), need(b, "deep", depth)
		g.Shallow, g.Deep = models.Known(shallow), models.Known(deep)
		if b.ok("shallow", "deep") {
			if shallow >= deep {
				b.fail("deep", "must be deeper than shallow, %s", depth.show(shallow))
			} else if t.ok("depth") && (g.Depth < shallow || g.Depth > deep) {
				t.fail("depth", "must lie in the depth band, %s to %s", depth.show(shallow), depth.show(deep))
			}
		}
		b.done()
	}
	if c, ok := t.part("gridpoint", "the cell of the weather service's grid"); ok {
		g.Gridpoint = models.Known(Gridpoint{
			Office: need(c, "office", code("an office", "[A-Z]{3}", "three letters, as XAM")),
			X:      need(c, "x", count(0, 2000)),
			Y:      need(c, "y", count(0, 2000)),
		})
		c.done()
	}
	seen := map[string]bool{}
	for _, m := range t.list("model_points", "places to read single gridded products at, one behind each dash", optional) {
		if m.vals == nil {
			continue
		}
		p := ModelPoint{Product: need(m, "product", product()), At: need(m, "at", spot())}
		unique(seen, m, "product", string(p.Product))
		if m.ok("at") && t.ok("at") && m.has("at") && t.has("at") {
			if d := models.Apart(p.At, g.At); d > farthest {
				m.fail("at", "lies %.0f nmi from the ground: check both positions, and E or W", math.Round(d.NauticalMiles()))
			}
		}
		m.done()
		g.ModelPoints = append(g.ModelPoints, p)
	}
	t.done()
	return g
}

func readZone(t *table, p Port) Zone {
	z := Zone{
		ID:      need(t, "id", code("a zone code", `[A-Z]{2}[CZ]\d{3}`, "two letters, Z or C, three digits, as AMZ997")),
		Use:     need(t, "for", word("a use of a zone", ZoneTrip, ZoneShown)),
		Grounds: each(t, "grounds", groundOf(p)),
	}
	if z.Use == ZoneShown && len(z.Grounds) > 0 {
		t.fail("grounds", "has no meaning for a zone that is only shown: take the line out, or write for: trip")
	}
	t.done()
	return z
}

// groundOf is the name of one of the port's grounds.
func groundOf(p Port) kind[string] {
	names := make([]string, len(p.Grounds))
	for i, g := range p.Grounds {
		names[i] = g.Name
	}
	k := word("a ground of "+p.Name, names...)
	k.what = "the name of a ground"
	return k
}

func readStation(t *table) Station {
	s := Station{
		ID:         need(t, "id", code("a station", `[A-Z0-9]{5}`, "its five letters or digits, as XAMP1 or 49997")),
		Anemometer: maybe(t, "anemometer", height(3*units.Foot, 500*units.Foot)),
	}
	s.Uses, _ = values(t, "for", word("a use of a station", StationWind, StationSea, StationUpwind), required)
	if !s.Anemometer.Known() && (s.For(StationWind) || s.For(StationUpwind)) && t.ok("anemometer") {
		t.fail("anemometer", "is missing: a station used for wind needs the height of its anemometer, as 5 m")
	}
	t.done()
	return s
}
