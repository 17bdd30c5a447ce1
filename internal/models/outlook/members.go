package outlook

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// ErrorSize is how wrong a source usually is at a lead.
type ErrorSize struct {
	// Wind is the standard error of the 10 m wind speed.
	Wind units.Speed
	// Sea is the standard error of the significant height as a share of it.
	Sea float64
	// Shift is the standard error of when things happen.
	Shift time.Duration
	// WindBias and SeaBias are taken off before anything else.
	WindBias units.Speed
	SeaBias  units.Length
}

// Assumed is the error until there is history to learn from. The wind's
// 1.75 m/s on day 1, growing to 3.2 m/s on day 5, is the usual size of a
// global model's error against buoys (from memory; design.md §5 marks it an
// assumption). The sea's share (15 % growing to 30 %) and the shift (one hour
// growing by three quarters of an hour a day) are our own assumptions. Leads
// under 12 hours count as 12, over ten days as ten days.
func Assumed(lead time.Duration) ErrorSize {
	days := min(max(lead.Hours()/24, 0.5), 10)
	grow := func(day1, day5, limit float64) float64 {
		return min(day1+(day5-day1)*(days-1)/4, limit)
	}
	return ErrorSize{
		Wind:  units.Speed(grow(1.75, 3.2, 4)) * units.MetrePerSecond,
		Sea:   grow(0.15, 0.30, 0.40),
		Shift: time.Duration(grow(1, 4, 8) * float64(time.Hour)),
	}
}

// The current on the ground is the least certain input: eddies on the shelf
// break turn it within a day or two. Our own assumption.
const (
	currentError     = 0.4 * units.Knot
	currentTurnError = 15.0 // degrees
	seaFollowsWind   = 0.6  // correlation of the sea's error with the wind's
	hourToHour       = 0.9  // correlation of the wind's error from one hour to the next
)

// members dresses the series with errors. Member 0 is the middle one as it
// is; the others take turns with the series that have wind as their base, and
// fill what it lacks from the middle one.
func members(mid []models.Hour, series []models.Series, in Input, errorsOf func(string, time.Duration) ErrorSize) []models.Member {
	var bases []models.Series
	for _, s := range series {
		for _, h := range s.Hours {
			if h.Wind.Known() && h.WindFrom.Known() {
				bases = append(bases, s)
				break
			}
		}
	}
	if len(bases) == 0 || len(mid) == 0 {
		return nil
	}
	list := []models.Member{{Hours: mid}}
	for i := 1; i < Size; i++ {
		// Pairs of members carry opposite errors, so that the members' mean
		// stays on the base and few of them do the work of many.
		base := bases[((i-1)/2)%len(bases)]
		sign := 1.0
		if i%2 == 0 {
			sign = -1
		}
		rng := rand.New(rand.NewPCG(seed(in, base, (i-1)/2), 0x9e3779b97f4a7c15))
		list = append(list, models.Member{Hours: dress(mid, base, errorsOf, rng, sign)})
	}
	return list
}

// seed is a function of what the member is made from and nothing else.
func seed(in Input, base models.Series, pair int) uint64 {
	h := fnv.New64a()
	fmt.Fprintf(h, "%s|%s|%s|%d|%s|%d", in.Port.Name, in.Ground.Name, base.Source, base.Run.Unix(), in.Date, pair)
	return h.Sum64()
}

func dress(mid []models.Hour, base models.Series, errorsOf func(string, time.Duration) ErrorSize, rng *rand.Rand, sign float64) []models.Hour {
	draw := func() float64 { return sign * rng.NormFloat64() }
	shiftDraw, currentDraw, turnDraw := draw(), draw(), draw()
	speedErr, turnErr, seaOwn := draw(), draw(), draw()
	keep, fresh := hourToHour, math.Sqrt(1-hourToHour*hourToHour)
	out := make([]models.Hour, len(mid))
	for i, m := range mid {
		if i > 0 {
			speedErr = keep*speedErr + fresh*draw()
			turnErr = keep*turnErr + fresh*draw()
			seaOwn = keep*seaOwn + fresh*draw()
		}
		size := errorsOf(base.Source, m.At.Sub(base.Run))
		h := shifted(mid, base, m, time.Duration(shiftDraw*float64(size.Shift)))
		h.At = m.At
		h = blow(h, size, speedErr, turnErr)
		sea := seaFollowsWind*speedErr + math.Sqrt(1-seaFollowsWind*seaFollowsWind)*seaOwn
		h.Sea = models.MapOpt(h.Sea, func(l units.Length) units.Length {
			return units.Length(float64(l) * math.Exp(size.Sea*sea-size.Sea*size.Sea/2))
		})
		h.Current = models.MapOpt(h.Current, func(c units.Speed) units.Speed {
			return max(c+units.Speed(currentDraw*float64(currentError)), 0)
		})
		h.CurrentToward = models.MapOpt(h.CurrentToward, func(t units.Toward) units.Toward {
			return units.Toward(units.Toward(float64(t) + turnDraw*currentTurnError).Degrees())
		})
		h.InletCurrent = m.InletCurrent // the tide does not come early with the front
		out[i] = quantise(h)
	}
	return out
}

// shifted is the base's hour as if its weather came late by the shift, with
// the middle member's values where the base has none.
func shifted(mid []models.Hour, base models.Series, m models.Hour, late time.Duration) models.Hour {
	// Past either end of the data the nearest hour that there is stands in.
	from := func(hours []models.Hour) (models.Hour, bool) {
		for _, t := range []time.Time{m.At.Add(-late), m.At} {
			if h, ok := at(hours, t); ok {
				return h, true
			}
		}
		return models.Hour{}, false
	}
	h, ok := from(base.Hours)
	rest, _ := from(mid)
	if !ok {
		return rest
	}
	return onlyWhereMiddleKnows(fill(h, rest), m)
}

// onlyWhereMiddleKnows keeps an error from making something known that the
// middle member does not know at that hour.
func onlyWhereMiddleKnows(h, m models.Hour) models.Hour {
	if !m.Wind.Known() {
		h.Wind, h.WindFrom = m.Wind, m.WindFrom
	}
	if !m.Gust.Known() {
		h.Gust = m.Gust
	}
	if !m.Sea.Known() {
		h.Sea, h.Period, h.SeaFrom = m.Sea, m.Period, m.SeaFrom
	}
	if !m.Current.Known() {
		h.Current, h.CurrentToward = m.Current, m.CurrentToward
	}
	if !m.Thunder.Known() {
		h.Thunder = m.Thunder
	}
	if !m.Visibility.Known() {
		h.Visibility = m.Visibility
	}
	return h
}

// blow puts errors on speed and direction. The direction's error is the angle
// that the speed's error makes across the wind, so that a light wind may come
// from anywhere and a strong one from about where it is forecast.
func blow(h models.Hour, size ErrorSize, speedErr, turnErr float64) models.Hour {
	w, ok := h.Wind.Get()
	if !ok {
		return h
	}
	blown := max(w+units.Speed(speedErr*float64(size.Wind)), 0)
	h.Gust = models.MapOpt(h.Gust, func(g units.Speed) units.Speed {
		// Gustiness is a share of the wind: it grows and falls with it.
		spread := float64(max(g-w, 0))
		if w > units.Knot {
			spread *= min(float64(blown/w), 2)
		}
		return blown + units.Speed(spread)
	})
	h.WindFrom = models.MapOpt(h.WindFrom, func(f units.From) units.From {
		across := math.Atan2(float64(size.Wind), float64(max(w, units.Knot))) * 180 / math.Pi
		return units.From(units.From(float64(f) + turnErr*across).Degrees())
	})
	h.Wind = models.Known(blown)
	return h
}
