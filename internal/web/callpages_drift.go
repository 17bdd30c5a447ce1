package web

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/web/door"
	"forecastd/internal/words"
)

// The farthest start from the ground's place, and the longest drift.
const (
	farthest = 20 * units.NauticalMile
	longest  = 12
)

// driftData is what the page of the drift is filled with.
type driftData struct {
	Long string
	// Called tells that there is a day to drift on.
	Called  bool
	Problem string
	Form    driftForm
	Wide    figure
	Narrow  figure
	Words   string
	Card    part
	Table   *words.Table
	Light   []string
	// GPX is the address of the track as a file.
	GPX string
	// Asked tells that the start is the visitor's, not the call's.
	Asked bool
}

// driftForm is what the visitor may ask.
type driftForm struct {
	Grounds, Days, Clocks                 []choice
	Unit                                  string
	East, North, Distance, Bearing, Hours string
}

// driftAsk reads where and when a drift starts from the query:
//
//	ground, date (2027-01-19), at (07:30), hours (1 to 12),
//	distance_nmi and bearing_deg from the ground's place,
//	or east_nmi and north_nmi; _km for each _nmi.
//
// What is not asked is the first set of the call: its ground, its hour, two
// hours. The track as a file has the same query.
func (v *view) driftAsk() (Board, Day, DriftStart, error) {
	b, d, err := v.dayAsked()
	if err != nil {
		return b, d, DriftStart{}, err
	}
	s := DriftStart{Ground: v.ask("ground"), Date: d.Date, Hours: 2}
	if len(d.Trips) == 0 {
		return b, d, s, fmt.Errorf("nothing is called for %s: %w", d.Date, ErrNotFound)
	}
	c := d.Trips[0].Call
	if s.Ground == "" {
		s.Ground = c.Ground.Name
	}
	s.At = c.Trip.Start
	if drift, ok := c.Drift.Get(); ok && len(drift.Track) > 0 {
		s.At = clockOf(b, drift.Track[0].At)
	}
	wrong := func(key, what string) (Board, Day, DriftStart, error) {
		return b, d, s, &door.Refusal{Status: http.StatusUnprocessableEntity, Key: key, Detail: what}
	}
	if at := v.ask("at"); at != "" {
		if s.At, err = models.ParseClock(at); err != nil {
			return wrong("drift.bad at", at)
		}
	}
	if hours := v.ask("hours"); hours != "" {
		if s.Hours, err = strconv.Atoi(hours); err != nil || s.Hours < 1 || s.Hours > longest {
			return wrong("drift.bad hours", hours)
		}
	}
	east, err1 := v.askLength("east")
	north, err2 := v.askLength("north")
	distance, err3 := v.askLength("distance")
	if err := errors.Join(err1, err2, err3); err != nil {
		return wrong("drift.bad distance", err.Error())
	}
	if distance != 0 {
		bearing, err := askNumber(v.ask("bearing_deg"))
		if err != nil || bearing < 0 || bearing > 360 {
			return wrong("drift.bad bearing", v.ask("bearing_deg"))
		}
		sin, cos := math.Sincos(bearing * math.Pi / 180)
		east, north = distance*units.Length(sin), distance*units.Length(cos)
	}
	if math.Hypot(float64(east), float64(north)) > float64(farthest)+1 {
		return wrong("drift.bad far", "")
	}
	s.East, s.North = east, north
	return b, d, s, nil
}

// askLength reads a distance in the unit that its name ends with.
func (v *view) askLength(name string) (units.Length, error) {
	for unit, size := range map[string]units.Length{"nmi": units.NauticalMile, "km": units.Kilometre} {
		said := v.ask(name + "_" + unit)
		if said == "" {
			continue
		}
		n, err := askNumber(said)
		if err != nil {
			return 0, err
		}
		return units.Length(n) * size, nil
	}
	return 0, nil
}

// askNumber reads a number as people write it, with a point or a comma.
func askNumber(s string) (float64, error) {
	n, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	if err != nil || math.IsNaN(n) || math.IsInf(n, 0) {
		return 0, fmt.Errorf("%q", s)
	}
	return n, nil
}

// driftPage drifts from where the visitor says.
func driftPage(v *view) (page, error) {
	b, d, start, err := v.driftAsk()
	data := driftData{Called: len(d.Trips) > 0}
	p := page{Name: "drift", Title: "title.drift"}
	var refused *door.Refusal
	switch {
	case errors.As(err, &refused):
		data.Problem, p.Status = strings.TrimSpace(v.T(refused.Key)+" "+refused.Detail), refused.Status
	case err != nil && (data.Called || !errors.Is(err, ErrNotFound) || d.Date != b.Next || d.Date == (models.Date{}) && v.Port != ""):
		return page{}, err
	}
	if !data.Called {
		p.Data = data
		return p, nil
	}
	c := d.Trips[0].Call
	data.Long = v.Tell(d.Date).LongDay(d.Date)
	data.Form = v.driftForm(b, d, start)
	if data.Problem == "" {
		drift, err := v.driftFor(b, d, start)
		switch {
		case errors.Is(err, ErrNotFound):
			data.Problem, p.Status = v.T("drift.none"), http.StatusNotFound
		case err != nil:
			return page{}, err
		default:
			v.fillDrift(&data, b, c, start, drift)
		}
	}
	p.Data = data
	return p, nil
}

// driftFor is the drift asked for: that of the call where nothing else is.
func (v *view) driftFor(b Board, d Day, start DriftStart) (models.Drift, error) {
	c := d.Trips[0].Call
	if drift, ok := c.Drift.Get(); ok && !v.driftOwn() {
		return fromGround(b, groundOf(b, c, start.Ground), drift), nil
	}
	return v.server.o.Desk.DriftFrom(v.Request.Context(), v.Port, start)
}

// fromGround tells the first set of a call from the ground's place: it starts
// so far offshore of it as the bottom falls to the depth of the start.
func fromGround(b Board, g models.Ground, d models.Drift) models.Drift {
	slope, ok := g.Slope.Get()
	if !ok || slope <= 0 || d.StartDepth <= 0 {
		return d
	}
	off := float64(d.StartDepth-g.Depth) / slope
	sin, cos := math.Sincos(b.Port.ShoreNormal.Degrees() * math.Pi / 180)
	d.Track = slices.Clone(d.Track)
	for i := range d.Track {
		d.Track[i].East += units.Length(off * sin)
		d.Track[i].North += units.Length(off * cos)
	}
	return d
}

// driftOwn tells whether the visitor asks for more than the call's own
// drift.
func (v *view) driftOwn() bool {
	for key := range v.query() {
		if key != "port" && key != "date" {
			return true
		}
	}
	return false
}

// groundOf is the ground of a name, the call's own where the board does not
// list it.
func groundOf(b Board, c models.Call, name string) models.Ground {
	for _, g := range b.Grounds {
		if g.Name == name {
			return g
		}
	}
	return c.Ground
}

func (v *view) fillDrift(data *driftData, b Board, c models.Call, start DriftStart, drift models.Drift) {
	if len(drift.Track) == 0 {
		data.Problem = v.T("drift.none")
		return
	}
	t := v.Tell(c.Date)
	g := groundOf(b, c, start.Ground)
	data.Asked = v.driftOwn()
	data.Wide, data.Narrow = v.driftChart(c, g, drift, b.EdgeDepth, false), v.driftChart(c, g, drift, b.EdgeDepth, true)
	data.Words = v.driftWords(t, drift)
	c.Drift = models.Known(drift)
	data.Card = v.partOf(c, words.PartDrift)
	data.Table = v.driftTable(t, b, c, g, drift)
	q := url.Values{}
	for key, values := range v.query() {
		q[key] = values
	}
	if q.Get("date") == "" {
		q.Set("date", c.Date.String())
	}
	data.GPX = "/drift.gpx?" + q.Encode()
}

// driftTable is the track as a table: where, how deep, how sure, and the sun.
func (v *view) driftTable(t words.Teller, b Board, c models.Call, g models.Ground, drift models.Drift) *words.Table {
	table := words.Table{Head: []string{v.T("column.time"), v.T("column.from start"), v.T("column.depth"), v.T("column.doubt"), v.T("column.sun")}}
	slope, sloping := g.Slope.Get()
	sin, cos := math.Sincos(b.Port.ShoreNormal.Degrees() * math.Pi / 180)
	for i, p := range fromStart(drift.Track) {
		where := v.T("drift.here")
		if i > 0 {
			far := units.Length(math.Hypot(float64(p.East), float64(p.North)))
			where = t.Length(far) + " " + point(t, math.Atan2(float64(p.East), float64(p.North))*180/math.Pi)
		}
		depth := t.Word("unknown")
		if sloping && drift.StartDepth > 0 {
			off := float64(p.East)*sin + float64(p.North)*cos
			if d := drift.StartDepth + units.Length(slope*off); d > 0 {
				depth = t.Length(d)
			}
		}
		sun := "-"
		if h, ok := hourAt(c, p.At); ok {
			sun = v.sun(t, h.Conditions)
		}
		table.Rows = append(table.Rows, []words.Cell{{Words: t.Time(p.At)}, {Words: where}, {Words: depth}, {Words: "± " + t.Length(p.SpreadRadius)}, {Words: sun}})
	}
	return &table
}

// fromStart tells a track from its own start.
func fromStart(track []models.DriftPoint) []models.DriftPoint {
	out := slices.Clone(track)
	for i := range out {
		out[i].East -= track[0].East
		out[i].North -= track[0].North
	}
	return out
}

// driftForm fills the form with what was asked.
func (v *view) driftForm(b Board, d Day, start DriftStart) driftForm {
	unit := v.lengthUnit(true).Name
	f := driftForm{
		Unit: unit, East: v.ask("east_" + unit), North: v.ask("north_" + unit),
		Distance: v.ask("distance_" + unit), Bearing: v.ask("bearing_deg"), Hours: itoa(start.Hours),
	}
	if h := v.ask("hours"); h != "" {
		f.Hours = h
	}
	names := map[string]bool{}
	for _, trip := range d.Trips {
		name := trip.Call.Ground.Name
		if !names[name] {
			f.Grounds = append(f.Grounds, choice{Name: name, Chosen: name == start.Ground})
			names[name] = true
		}
	}
	for _, day := range b.Days {
		f.Days = append(f.Days, choice{Name: day.Date.String(), Text: v.Tell(day.Date).ShortDay(day.Date), Chosen: day.Date == d.Date})
	}
	seen := false
	for _, h := range d.Trips[0].Call.Hours {
		clock := clockOf(b, h.At)
		if !seen && start.At.Minute != 0 && start.At.Hour < clock.Hour {
			f.Clocks, seen = append(f.Clocks, choice{Name: start.At.String(), Chosen: true}), true
		}
		chosen := clock == start.At
		seen = seen || chosen
		f.Clocks = append(f.Clocks, choice{Name: clock.String(), Chosen: chosen})
	}
	return f
}

// point tells a bearing as a point of the compass.
func point(t words.Teller, degrees float64) string {
	return t.Say(models.Say("range.one", units.Toward(degrees)))
}

// optSpeed tells a speed that may be unknown.
func optSpeed(t words.Teller, s models.Opt[units.Speed]) string {
	speed, ok := s.Get()
	if !ok {
		return t.Word("unknown")
	}
	return t.Speed(speed)
}
