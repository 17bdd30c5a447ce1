package gridded

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"forecastd/internal/fetch/grib2"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// tally is what was noticed at one place while reading fields.
type tally struct {
	rejected map[string]int // by what and why
	near     bool           // a neighbouring cell stood in
	outside  bool           // the place is not on the grid
}

func (t *tally) reject(what string) {
	if t.rejected == nil {
		t.rejected = map[string]int{}
	}
	t.rejected[what]++
}

func (t *tally) add(o tally) {
	for what, n := range o.rejected {
		if t.rejected == nil {
			t.rejected = map[string]int{}
		}
		t.rejected[what] += n
	}
	t.near, t.outside = t.near || o.near, t.outside || o.outside
}

func (t *tally) notes() []string {
	var list []string
	for _, what := range slices.Sorted(maps.Keys(t.rejected)) {
		list = append(list, fmt.Sprintf("%s: rejected %d times", what, t.rejected[what]))
	}
	if t.outside {
		list = append(list, "the place lies outside the model's grid")
	}
	if t.near {
		list = append(list, "the place is land to the model: the nearest wet cell stands in")
	}
	return list
}

// readHours reads the fields of one file at all places, an hour for each time
// that they are valid at. What holds for a time and not at an instant goes to
// its beginning, for an hour holds until the next one.
func readHours(p Product, fields []*grib2.Field, places []Place) ([][]models.Hour, []tally) {
	byTime := map[time.Time]map[string]*grib2.Field{}
	for _, f := range fields {
		t := f.Start.UTC()
		if byTime[t] == nil {
			byTime[t] = map[string]*grib2.Field{}
		}
		for _, want := range p.Fields {
			if want.is(f) && byTime[t][want.As] == nil {
				byTime[t][want.As] = f
			}
		}
	}
	r := reader{tallies: make([]tally, len(places))}
	for _, g := range places {
		r.points = append(r.points, grib2.Point{Lat: g.At.Lat, Lon: g.At.Lon})
	}
	hours := make([][]models.Hour, len(places))
	for _, t := range slices.SortedFunc(maps.Keys(byTime), time.Time.Compare) {
		r.fields = byTime[t]
		for i, h := range r.hours(t) {
			if h == (models.Hour{At: t}) {
				continue
			}
			if h.Sea.Known() {
				h.SeaIncludesCurrent = p.SeaIncludesCurrent
			}
			hours[i] = append(hours[i], h)
		}
	}
	return hours, r.tallies
}

// reader reads all places out of the fields of one time.
type reader struct {
	points  []grib2.Point
	fields  map[string]*grib2.Field
	tallies []tally
	// ashore tells where the sea itself comes from a neighbouring cell.
	ashore []bool
}

// limits are what a quantity can be.
type limits struct{ low, high float64 }

// fit lets through what is within the limits. Packing rounds: what is past a
// limit by a little is at it.
func (l limits) fit(x float64) (float64, bool) {
	slack := (l.high - l.low) / 500
	if !(x >= l.low-slack && x <= l.high+slack) {
		return 0, false
	}
	return min(max(x, l.low), l.high), true
}

// scalar puts a field's value at each place into its hour.
func (r *reader) scalar(as string, l limits, put func(i int, x float64)) {
	f := r.fields[as]
	if f == nil {
		return
	}
	vs, err := f.AtPoints(r.points)
	if err != nil {
		r.unreadable(as, err)
		return
	}
	for i, v := range vs {
		t := &r.tallies[i]
		x, ok := v.Get()
		if !ok {
			t.outside = t.outside || v.How == grib2.Outside
			continue
		}
		if v.How == grib2.NearestWet {
			if strings.HasPrefix(as, "swell") && !r.ashore[i] {
				continue // there is water, but no such swell on it
			}
			r.ashore[i] = r.ashore[i] || as == "sea"
			t.near = true
		}
		if x, ok = l.fit(x); !ok {
			t.reject(as + " out of range")
			continue
		}
		if as == "sea" {
			if alone, err := standsAlone(f, r.points[i], v); err != nil {
				t.reject(as + " can't be unpacked")
				continue
			} else if alone {
				t.reject(as + " far above the water around")
				continue
			}
		}
		put(i, x)
	}
}

func (r *reader) unreadable(as string, err error) {
	for i := range r.tallies {
		r.tallies[i].reject(as + " can't be unpacked (" + err.Error() + ")")
	}
}

// vector puts a velocity at each place, turned to true, into its hour.
func (r *reader) vector(as string, limit units.Speed, put func(i int, v units.Vector)) {
	u, v := r.fields[as+"_u"], r.fields[as+"_v"]
	if u == nil || v == nil {
		return
	}
	ws, err := grib2.VectorAtPoints(u, v, r.points)
	if err != nil {
		r.unreadable(as, err)
		return
	}
	for i, w := range ws {
		t := &r.tallies[i]
		x, ok := w.Get()
		if !ok {
			t.outside = t.outside || w.How == grib2.Outside
			continue
		}
		t.near = t.near || w.How == grib2.NearestWet
		if !(x.Speed() <= limit) {
			t.reject(as + " out of range")
			continue
		}
		put(i, x)
	}
}

func (r *reader) hours(t time.Time) []models.Hour {
	hs := make([]models.Hour, len(r.points))
	r.ashore = make([]bool, len(r.points))
	for i := range hs {
		hs[i].At = t
	}
	r.vector("wind", 100, func(i int, v units.Vector) {
		hs[i].Wind = models.Known(v.Speed())
		if from, ok := v.From(); ok {
			hs[i].WindFrom = models.Known(from)
		}
	})
	r.vector("current", 6, func(i int, v units.Vector) {
		hs[i].Current = models.Known(v.Speed())
		if toward, ok := v.Toward(); ok {
			hs[i].CurrentToward = models.Known(toward)
		}
	})
	circle, percent, period := limits{0, 360}, limits{0, 100}, limits{0.5, 40}
	from := func(x float64) models.Opt[units.From] { return models.Known(units.From(math.Mod(x, 360))) }
	r.scalar("wind", limits{0, 100}, func(i int, x float64) { hs[i].Wind = models.Known(units.Speed(x)) })
	r.scalar("wind_from", circle, func(i int, x float64) { hs[i].WindFrom = from(x) })
	r.scalar("gust", limits{0, 130}, func(i int, x float64) { hs[i].Gust = models.Known(units.Speed(x)) })
	r.scalar("sea", limits{0, highestSea}, func(i int, x float64) { hs[i].Sea = models.Known(units.Length(x)) })
	r.scalar("period", period, func(i int, x float64) { hs[i].Period = models.Known(x) })
	r.scalar("sea_from", circle, func(i int, x float64) { hs[i].SeaFrom = from(x) })
	r.scalar("swell", limits{0, highestSea}, func(i int, x float64) { hs[i].Swell = models.Known(units.Length(x)) })
	r.scalar("swell_period", period, func(i int, x float64) { hs[i].SwellPeriod = models.Known(x) })
	r.scalar("swell_from", circle, func(i int, x float64) { hs[i].SwellFrom = from(x) })
	r.scalar("cloud", percent, func(i int, x float64) { hs[i].Cloud = models.Known(x) })
	r.scalar("thunder", percent, func(i int, x float64) { hs[i].Thunder = models.Known(x) })
	r.scalar("visibility", limits{0, 200e3}, func(i int, x float64) { hs[i].Visibility = models.Known(units.Length(x)) })
	r.scalar("air", limits{205, 332}, func(i int, x float64) { hs[i].Air = models.Known(units.Kelvin(x)) })
	r.scalar("water", limits{269, 312}, func(i int, x float64) { hs[i].Water = models.Known(units.Kelvin(x)) })
	return hs
}

// join puts hours in order of time, and those of the same time together: what
// holds for a time comes in another file than what is of its beginning.
func join(hours []models.Hour) []models.Hour {
	slices.SortStableFunc(hours, func(a, b models.Hour) int { return a.At.Compare(b.At) })
	var out []models.Hour
	for _, h := range hours {
		if k := len(out) - 1; k >= 0 && out[k].At.Equal(h.At) {
			out[k] = both(out[k], h)
			continue
		}
		out = append(out, h)
	}
	return out
}

// both takes what either of two hours of one run knows.
func both(a, b models.Hour) models.Hour {
	a.Wind, a.WindFrom, a.Gust = a.Wind.Else(b.Wind), a.WindFrom.Else(b.WindFrom), a.Gust.Else(b.Gust)
	a.Sea, a.Period, a.SeaFrom = a.Sea.Else(b.Sea), a.Period.Else(b.Period), a.SeaFrom.Else(b.SeaFrom)
	a.SeaIncludesCurrent = a.SeaIncludesCurrent.Else(b.SeaIncludesCurrent)
	a.Swell, a.SwellPeriod, a.SwellFrom = a.Swell.Else(b.Swell), a.SwellPeriod.Else(b.SwellPeriod), a.SwellFrom.Else(b.SwellFrom)
	a.Current, a.CurrentToward = a.Current.Else(b.Current), a.CurrentToward.Else(b.CurrentToward)
	a.Cloud, a.Thunder, a.Visibility = a.Cloud.Else(b.Cloud), a.Thunder.Else(b.Thunder), a.Visibility.Else(b.Visibility)
	a.Air, a.Water = a.Air.Else(b.Air), a.Water.Else(b.Water)
	return a
}
