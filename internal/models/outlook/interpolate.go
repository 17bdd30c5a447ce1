package outlook

import (
	"math"
	"sort"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// longestGap is how far apart two hours of a series may stand and still be
// joined by interpolation: the models give six-hourly values at long leads.
const longestGap = 6 * time.Hour

// at returns the hour of a series at t: itself, or between its neighbours by
// straight interpolation, winds and currents by their components. It answers
// false outside the series and in its gaps.
func at(hours []models.Hour, t time.Time) (models.Hour, bool) {
	i := sort.Search(len(hours), func(i int) bool { return hours[i].At.After(t) })
	if i == 0 {
		return models.Hour{}, false
	}
	a := hours[i-1]
	if a.At.Equal(t) {
		return a, true
	}
	if i == len(hours) {
		// The last hour of a series holds for its hour.
		if t.Sub(a.At) < time.Hour {
			a.At = t
			return a, true
		}
		return models.Hour{}, false
	}
	b := hours[i]
	gap := b.At.Sub(a.At)
	if gap > longestGap {
		return models.Hour{}, false
	}
	return between(a, b, float64(t.Sub(a.At))/float64(gap), t), true
}

// shortGap is how far apart two hours may stand for the first of them to hold
// until the second.
const shortGap = 3 * time.Hour

// Joined fills hours that stand farther apart than an hour may hold, though no
// farther than the models give them at long leads, by the hours between. Where
// there are none the hours themselves are answered.
func Joined(hours []models.Hour) []models.Hour {
	far := func(i int) bool {
		gap := hours[i].At.Sub(hours[i-1].At)
		return gap > shortGap && gap <= longestGap
	}
	any := false
	for i := 1; i < len(hours) && !any; i++ {
		any = far(i)
	}
	if !any {
		return hours
	}
	out := []models.Hour{hours[0]}
	for i := 1; i < len(hours); i++ {
		if far(i) {
			for t := hours[i-1].At.Add(time.Hour); t.Before(hours[i].At); t = t.Add(time.Hour) {
				h, _ := at(hours, t)
				out = append(out, quantise(h))
			}
		}
		out = append(out, hours[i])
	}
	return out
}

// between joins two hours at the fraction x of the way from a to b. A value
// that either end lacks is unknown.
func between(a, b models.Hour, x float64, t time.Time) models.Hour {
	h := models.Hour{
		At: t, Gust: mix(a.Gust, b.Gust, x), DirectionSpread: mix(a.DirectionSpread, b.DirectionSpread, x),
		Sea: mix(a.Sea, b.Sea, x), Period: mix(a.Period, b.Period, x), SeaFrom: turn(a.SeaFrom, b.SeaFrom, x),
		SeaIncludesCurrent: both(a.SeaIncludesCurrent, b.SeaIncludesCurrent),
		Swell:              mix(a.Swell, b.Swell, x), SwellPeriod: mix(a.SwellPeriod, b.SwellPeriod, x), SwellFrom: turn(a.SwellFrom, b.SwellFrom, x),
		InletCurrent: mix(a.InletCurrent, b.InletCurrent, x),
		Cloud:        mix(a.Cloud, b.Cloud, x), Rain: mix(a.Rain, b.Rain, x), Thunder: mix(a.Thunder, b.Thunder, x),
		Visibility: mix(a.Visibility, b.Visibility, x), Air: mix(a.Air, b.Air, x), Water: mix(a.Water, b.Water, x),
	}
	h.Wind, h.WindFrom = mixFlow(a.Wind, toward(a.WindFrom), b.Wind, toward(b.WindFrom), x)
	if !h.Wind.Known() {
		h.Wind = mix(a.Wind, b.Wind, x)
	}
	current, from := mixFlow(a.Current, a.CurrentToward, b.Current, b.CurrentToward, x)
	h.Current, h.CurrentToward = current, models.MapOpt(from, units.From.Toward)
	return h
}

func mix[T ~float64](a, b models.Opt[T], x float64) models.Opt[T] {
	av, ok := a.Get()
	bv, ok2 := b.Get()
	if !ok || !ok2 {
		return models.Unknown[T]()
	}
	return models.Known(av + T(float64(bv-av)*x))
}

// turn goes the short way round from a to b.
func turn(a, b models.Opt[units.From], x float64) models.Opt[units.From] {
	av, ok := a.Get()
	bv, ok2 := b.Get()
	if !ok || !ok2 {
		return models.Unknown[units.From]()
	}
	d := math.Mod(float64(bv-av)+540, 360) - 180
	return models.Known(units.From(units.From(float64(av) + d*x).Degrees()))
}

// both is known true only where both say so: seas count as free of the
// current's work where either end's do.
func both(a, b models.Opt[bool]) models.Opt[bool] {
	av, ok := a.Get()
	bv, ok2 := b.Get()
	if !ok || !ok2 {
		return models.Unknown[bool]()
	}
	return models.Known(av && bv)
}

// mixFlow mixes two flows. The speed goes straight from one to the other, as
// a veering wind does not die halfway; the direction follows the components.
func mixFlow(as models.Opt[units.Speed], ad models.Opt[units.Toward], bs models.Opt[units.Speed], bd models.Opt[units.Toward], x float64) (models.Opt[units.Speed], models.Opt[units.From]) {
	a, ok1 := as.Get()
	b, ok2 := bs.Get()
	at, ok3 := ad.Get()
	bt, ok4 := bd.Get()
	switch {
	case !ok1 || !ok2:
		return models.Unknown[units.Speed](), models.Unknown[units.From]()
	case !ok3 && !ok4:
		return models.Unknown[units.Speed](), models.Unknown[units.From]()
	case !ok3: // a calm has no direction: take the other's
		at = bt
	case !ok4:
		bt = at
	}
	v := units.FlowVector(a, at).Scale(1 - x).Add(units.FlowVector(b, bt).Scale(x))
	from, known := v.From()
	speed := models.Known(a + units.Speed(float64(b-a)*x))
	if !known {
		return speed, models.Unknown[units.From]()
	}
	return speed, models.Known(from)
}

func toward(f models.Opt[units.From]) models.Opt[units.Toward] {
	return models.MapOpt(f, units.From.Toward)
}

// quantise rounds to what a forecast can tell (a hundredth of a knot, of a
// foot, of a second; a tenth of a degree), so that an outlook written to a
// file reads back the same to the last bit.
func quantise(h models.Hour) models.Hour {
	speed := func(s units.Speed) units.Speed { return units.Speed(round(s.Knots(), 100)) * units.Knot }
	feet := func(l units.Length) units.Length { return units.Length(round(l.Feet(), 100)) * units.Foot }
	hundredth := func(v float64) float64 { return round(v, 100) }
	degrees := func(f units.From) units.From { return units.From(round(f.Degrees(), 10)) }
	warmth := func(t units.Temperature) units.Temperature { return units.Fahrenheit(round(t.Fahrenheit(), 10)) }
	h.Wind, h.Gust = models.MapOpt(h.Wind, speed), models.MapOpt(h.Gust, speed)
	h.WindFrom, h.SeaFrom, h.SwellFrom = models.MapOpt(h.WindFrom, degrees), models.MapOpt(h.SeaFrom, degrees), models.MapOpt(h.SwellFrom, degrees)
	h.Current, h.InletCurrent = models.MapOpt(h.Current, speed), models.MapOpt(h.InletCurrent, speed)
	h.CurrentToward = models.MapOpt(h.CurrentToward, func(t units.Toward) units.Toward { return units.Toward(round(t.Degrees(), 10)) })
	h.Sea, h.Swell = models.MapOpt(h.Sea, feet), models.MapOpt(h.Swell, feet)
	h.Period, h.SwellPeriod = models.MapOpt(h.Period, hundredth), models.MapOpt(h.SwellPeriod, hundredth)
	h.DirectionSpread = models.MapOpt(h.DirectionSpread, hundredth)
	h.Cloud, h.Rain, h.Thunder = models.MapOpt(h.Cloud, hundredth), models.MapOpt(h.Rain, hundredth), models.MapOpt(h.Thunder, hundredth)
	h.Visibility = models.MapOpt(h.Visibility, func(v units.Length) units.Length {
		return units.Length(round(v.NauticalMiles(), 100)) * units.NauticalMile
	})
	h.Air, h.Water = models.MapOpt(h.Air, warmth), models.MapOpt(h.Water, warmth)
	return h
}

func round(v, perUnit float64) float64 { return math.Round(v*perUnit) / perUnit }
