package gridded

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"time"

	"forecastd/internal/fetch/grib2"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// hoursAt reads the fields of one file at a place, an hour of weather for
// each time that they are valid at. Notes tell what was rejected.
func hoursAt(p Product, fields []*grib2.Field, at models.Position) ([]models.Hour, []string) {
	byTime := map[time.Time]map[string]*grib2.Field{}
	for _, f := range fields {
		want, ok := p.field(f)
		if !ok {
			continue
		}
		t := f.Start.UTC()
		if byTime[t] == nil {
			byTime[t] = map[string]*grib2.Field{}
		}
		if byTime[t][want.As] == nil {
			byTime[t][want.As] = f
		}
	}
	r := reader{at: at, rejected: map[string]int{}}
	var hours []models.Hour
	for t, fs := range byTime {
		r.fields = fs
		h := r.hour(t)
		if h.Sea.Known() {
			h.SeaIncludesCurrent = p.SeaIncludesCurrent
		}
		hours = append(hours, h)
	}
	sort.Slice(hours, func(i, j int) bool { return hours[i].At.Before(hours[j].At) })
	return hours, r.notes()
}

// reader reads one place out of the fields of one time.
type reader struct {
	at       models.Position
	fields   map[string]*grib2.Field
	rejected map[string]int
	near     bool
}

func (r *reader) notes() []string {
	var list []string
	for what, n := range r.rejected {
		list = append(list, fmt.Sprintf("%s: %d values rejected", what, n))
	}
	slices.Sort(list)
	if r.near {
		list = append(list, "the place is land to the model: the nearest wet cell stands in")
	}
	return list
}

func (r *reader) reject(what string) { r.rejected[what]++ }

// value is a field's value within what it can be.
func (r *reader) value(as string, lo, hi float64) models.Opt[float64] {
	f := r.fields[as]
	if f == nil {
		return models.Unknown[float64]()
	}
	v, err := f.At(r.at.Lat, r.at.Lon)
	return r.checked(as, v, err, lo, hi)
}

func (r *reader) checked(as string, v grib2.Value, err error, lo, hi float64) models.Opt[float64] {
	if err != nil {
		r.reject(as + " can't be unpacked (" + err.Error() + ")")
		return models.Unknown[float64]()
	}
	x, ok := v.Get()
	if !ok {
		return models.Unknown[float64]()
	}
	r.near = r.near || v.How == grib2.NearestWet
	if !(x >= lo && x <= hi) || math.IsInf(x, 0) {
		r.reject(as + " out of range")
		return models.Unknown[float64]()
	}
	return models.Known(x)
}

// bearing is a field of directions, mixed as unit vectors.
func (r *reader) bearing(as string) models.Opt[units.From] {
	f := r.fields[as]
	if f == nil {
		return models.Unknown[units.From]()
	}
	v, err := f.BearingAt(r.at.Lat, r.at.Lon)
	return models.MapOpt(r.checked(as, v, err, 0, 360), func(d float64) units.From { return units.From(d) })
}

// vector is a velocity from its two components, turned to true.
func (r *reader) vector(as string, limit units.Speed) (units.Vector, bool) {
	u, v := r.fields[as+"_u"], r.fields[as+"_v"]
	if u == nil || v == nil {
		return units.Vector{}, false
	}
	w, err := grib2.VectorAt(u, v, r.at.Lat, r.at.Lon)
	if err != nil {
		r.reject(as + " can't be unpacked (" + err.Error() + ")")
		return units.Vector{}, false
	}
	x, ok := w.Get()
	if !ok {
		return units.Vector{}, false
	}
	r.near = r.near || w.How == grib2.NearestWet
	if !(x.Speed() <= limit) {
		r.reject(as + " out of range")
		return units.Vector{}, false
	}
	return x, true
}

func (r *reader) hour(t time.Time) models.Hour {
	h := models.Hour{At: t}
	length := func(v float64) units.Length { return units.Length(v) }
	speed := func(v float64) units.Speed { return units.Speed(v) }
	if w, ok := r.vector("wind", 100); ok {
		h.Wind = models.Known(w.Speed())
		if f, ok := w.From(); ok {
			h.WindFrom = models.Known(f)
		}
	} else {
		h.Wind, h.WindFrom = models.MapOpt(r.value("wind", 0, 100), speed), r.bearing("wind_from")
	}
	h.Gust = models.MapOpt(r.value("gust", 0, 130), speed)
	h.Sea = models.MapOpt(r.value("sea", 0, 30), length)
	h.Period = r.value("period", 0.5, 40)
	h.SeaFrom = r.bearing("sea_from")
	h.Swell = models.MapOpt(r.value("swell", 0, 30), length)
	h.SwellPeriod = r.value("swell_period", 0.5, 40)
	h.SwellFrom = r.bearing("swell_from")
	if c, ok := r.vector("current", 6); ok {
		h.Current = models.Known(c.Speed())
		if toward, ok := c.Toward(); ok {
			h.CurrentToward = models.Known(toward)
		}
	}
	h.Cloud = r.value("cloud", 0, 100)
	h.Thunder = r.value("thunder", 0, 100)
	h.Visibility = models.MapOpt(r.value("visibility", 0, 200e3), length)
	h.Air = models.MapOpt(r.value("air", 180, 340), units.Kelvin)
	h.Water = models.MapOpt(r.value("water", 260, 320), units.Kelvin)
	return h
}

// A sea that leaps to three times its neighbours in time and back is a fault
// of the data, not weather: real files hold such spikes at river mouths.
const (
	spikeRatio = 3.0
	spikeLeast = units.Length(3) // metres above the neighbours
)

// withoutSpikes takes out seas that stand alone against the hours beside
// them, and tells how many.
func withoutSpikes(hours []models.Hour) ([]models.Hour, []string) {
	out := slices.Clone(hours)
	n := 0
	for i := 1; i+1 < len(hours); i++ {
		a, ok1 := hours[i-1].Sea.Get()
		s, ok2 := hours[i].Sea.Get()
		b, ok3 := hours[i+1].Sea.Get()
		beside := max(a, b)
		if ok1 && ok2 && ok3 && float64(s) > spikeRatio*float64(beside) && s-beside > spikeLeast {
			out[i].Sea = models.Unknown[units.Length]()
			n++
		}
	}
	if n == 0 {
		return out, nil
	}
	return out, []string{fmt.Sprintf("sea: %d values stood alone far above the hours beside them and were rejected", n)}
}
