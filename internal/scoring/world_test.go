package scoring

import (
	"math"
	"math/rand/v2"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/outlook"
	"forecastd/internal/models/units"
)

// A world made for the calibration: forecasts of all kinds of days, and what
// comes instead of them. What comes is drawn with ordinary dice and worked out
// here, from what design.md 5 says of the errors and not with the courses'
// code, so that a fault of theirs shows as a call that can't be taken at its
// word. Its numbers are those that the courses assume.

// aWorld is one forecast day. All that changes is by the hour, from a day
// before the day called to a day after it.
type aWorld struct {
	in    outlook.Input
	start time.Time // of the hours
	made  time.Time
	hours []models.Hour
}

const (
	worldHours = 72
	worldKn    = units.Knot
	worldFt    = units.Foot
)

// within is a number between two.
func within(dice *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*dice.Float64() }

func chance(dice *rand.Rand, p float64) bool { return dice.Float64() < p }

func oneOf[T any](dice *rand.Rand, list ...T) T { return list[dice.IntN(len(list))] }

// hump rises from 0 to 1 around a middle and falls again.
func hump(x, middle, wide float64) float64 {
	return math.Exp(-(x - middle) * (x - middle) / (2 * wide * wide))
}

// makeWorld draws the forecast of a day.
func makeWorld(seed uint64) aWorld {
	dice := rand.New(rand.NewPCG(13, seed))
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		panic(err)
	}
	date := models.Date{Year: 2027, Month: time.Month(1 + dice.IntN(12)), Day: 1 + dice.IntN(28)}
	day := date.Start(zone)
	w := aWorld{start: day.Add(-24 * time.Hour), made: day.Add(-7*time.Hour - time.Duration(dice.IntN(6))*24*time.Hour)}
	ground := models.Ground{Name: "the edge", At: models.Position{Lat: 25.8, Lon: -80.05}, Depth: 150 * worldFt, Run: time.Duration(15+dice.IntN(31)) * time.Minute}
	w.in = outlook.Input{
		Now: w.made, Date: date, Ground: ground, HistoryDays: 60,
		Port: models.Port{Name: "Port A", At: models.Position{Lat: 25.8, Lon: -80.1}, Zone: zone, ShoreNormal: 90},
		Boat: models.Boat{
			Kind: oneOf(dice, models.CenterConsole, models.Sportfish), Length: units.Length(within(dice, 30, 45)) * worldFt, Tower: 20 * worldFt,
			HeliumAboard: chance(dice, 0.5), Crew: 2 + dice.IntN(2),
		},
		Trip: models.Trip{
			Kind: models.Charter, Party: oneOf(dice, models.Experienced, models.Mixed, models.Family),
			Start: models.Clock{Hour: 6 + dice.IntN(4)}, End: models.Clock{Hour: 13 + dice.IntN(4)}, ForHire: models.Known(true),
		},
		Reports: models.Reports{
			EdgeInReach: models.Known(chance(dice, 0.7)),
			Water:       models.Known(oneOf(dice, models.WaterClear, models.WaterCleanGreen, models.WaterBlueEdge)),
			Season:      models.Known(oneOf(dice, models.SeasonPeak, models.SeasonSpringRun, models.SeasonGood, models.SeasonTailEnd)),
		},
		Warnings: models.Known([]models.Warning{}),
	}
	w.forecast(dice)
	w.in.Series = []models.Series{{Source: "invented", Ground: ground.Name, Run: w.made, Hours: w.hours}}
	return w
}

// forecast draws the hours: a wind with a course of its own over the day, on
// some days a front, a sea that follows the wind or comes from elsewhere, on
// some days thunder, rain or fog.
func (w *aWorld) forecast(dice *rand.Rand) {
	base, breeze, peak, wide := within(dice, 3, 24), within(dice, -5, 7), within(dice, 10, 17), within(dice, 2, 5)
	from, veer := within(dice, 0, 360), within(dice, -40, 40)
	front, jump, turn := math.Inf(1), within(dice, 5, 14), within(dice, 60, 150)
	if chance(dice, 0.3) {
		front = within(dice, 4, 20)
	}
	gusty, ranging := within(dice, 0.12, 0.5), within(dice, 8, 45)
	share, elsewhere, period := within(dice, 0.4, 1.1), within(dice, 0.2, 1.6), within(dice, 4, 9)
	thunder, thunderAt, thunderWide := 0.0, within(dice, 8, 18), within(dice, 1, 4)
	if chance(dice, 0.4) {
		thunder = within(dice, 5, 80)
	}
	rain, rainAt, rainWide := within(dice, 0, 20), within(dice, 6, 18), within(dice, 1, 6)
	if chance(dice, 0.4) {
		rain = within(dice, 20, 95)
	}
	fog := chance(dice, 0.1)
	thick, lifts := within(dice, 0.3, 2), within(dice, 7, 12)
	current, set, clouds := within(dice, 0.3, 3), within(dice, -30, 30), within(dice, 0, 100)
	for i := range worldHours {
		x := float64(i - 24) // on the clock of the day
		v := max(base+breeze*hump(x, peak, wide), 1)
		dir := from + veer*x/24
		if x > front {
			passed := min((x-front)/2, 1)
			v, dir = v+jump*passed, dir+turn*passed
		}
		blow := v * float64(worldKn)
		h := models.Hour{
			At:   w.start.Add(time.Duration(i) * time.Hour),
			Wind: models.Known(units.Speed(v) * worldKn), Gust: models.Known(units.Speed(v*(1+gusty)) * worldKn),
			WindFrom: models.Known(units.From(units.From(dir).Degrees())), DirectionSpread: models.Known(ranging),
			Sea:    models.Known(units.Length(math.Hypot(0.0246*0.7*share*blow*blow, elsewhere*0.5))),
			Period: models.Known(period), SeaFrom: models.Known(units.From(90)), SeaIncludesCurrent: models.Known(true),
			InletCurrent: models.Known(units.Speed(1.5*math.Sin(2*math.Pi*x/12.4)) * worldKn),
			Current:      models.Known(units.Speed(current) * worldKn), CurrentToward: models.Known(units.Toward(units.Toward(set).Degrees())),
			Cloud:   models.Known(min(max(clouds+20*math.Sin(x/4), 0), 100)),
			Thunder: models.Known(thunder * hump(x, thunderAt, thunderWide)), Rain: models.Known(rain * hump(x, rainAt, rainWide)),
			Visibility: models.Known(10 * units.NauticalMile), Air: models.Known(units.Celsius(24)), Water: models.Known(units.Celsius(25)),
		}
		if fog && x < lifts {
			h.Visibility = models.Known(units.Length(thick) * units.NauticalMile)
		}
		w.hours = append(w.hours, h)
	}
}

// at is the forecast at an instant between two hours.
func (w *aWorld) at(t time.Time) models.Hour {
	x := t.Sub(w.start).Hours()
	i := min(max(int(math.Floor(x)), 0), len(w.hours)-2)
	x = min(max(x-float64(i), 0), 1)
	a, b := &w.hours[i], &w.hours[i+1]
	h := *a
	mix := func(a, b float64) float64 { return a + (b-a)*x }
	speed := func(a, b models.Opt[units.Speed]) models.Opt[units.Speed] {
		return models.Known(units.Speed(mix(float64(a.Or(0)), float64(b.Or(0)))))
	}
	h.Wind, h.Gust, h.Current = speed(a.Wind, b.Wind), speed(a.Gust, b.Gust), speed(a.Current, b.Current)
	turn := math.Remainder(b.WindFrom.Or(0).Degrees()-a.WindFrom.Or(0).Degrees(), 360)
	h.WindFrom = models.Known(units.From(a.WindFrom.Or(0).Degrees() + x*turn))
	h.Sea = models.Known(units.Length(mix(float64(a.Sea.Or(0)), float64(b.Sea.Or(0)))))
	h.Cloud = models.Known(mix(a.Cloud.Or(0), b.Cloud.Or(0)))
	h.Visibility = models.Known(units.Length(mix(float64(a.Visibility.Or(0)), float64(b.Visibility.Or(0)))))
	return h
}

// comes draws a day that comes instead of the forecast one, with errors of
// wind, sea and timing so many times as large as the courses assume. The hours
// are those of the outlook's middle.
func (w *aWorld) comes(dice *rand.Rand, times float64, middle []models.Hour) []models.Hour {
	z := dice.NormFloat64
	whole, late, own, turned, gusty := z(), z(), z(), z(), z()
	period, current, set, clouds, sight := z(), z(), z(), z(), z()
	thunder, rain := dice.Float64(), dice.Float64()
	hourly, turns := z(), make([]float64, 8)
	for k := range turns {
		turns[k] = z()
		if k > 0 {
			turns[k] = 0.65*turns[k-1] + math.Sqrt(1-0.65*0.65)*turns[k]
		}
	}
	out := make([]models.Hour, len(middle))
	for k := range middle {
		if k > 0 {
			hourly = 0.9*hourly + math.Sqrt(1-0.9*0.9)*z()
		}
		x := float64(k%4) / 4
		turning := (turns[k/4]*(1-x) + turns[k/4+1]*x) / math.Sqrt(1-2*x*(1-x)*(1-0.65))
		lead := middle[k].At.Sub(w.made)
		size := outlook.Assumed(lead)
		stays := min(0.2*min(max(lead.Hours()/24, 0.5), 10), 0.9)
		wind := math.Sqrt(stays)*whole + math.Sqrt(1-stays)*hourly
		turn := math.Sqrt(stays)*turned + math.Sqrt(1-stays)*turning
		h := w.at(middle[k].At.Add(-time.Duration(times * late * float64(size.Shift))))
		before, gust := float64(h.Wind.Or(0)), float64(h.Gust.Or(0))
		after := max(before+times*wind*float64(size.Wind), 0)
		over := (gust - before) * math.Exp(0.2*gusty)
		if before > float64(worldKn) {
			over *= math.Sqrt(min(after/before, 2))
		}
		across := math.Atan2(times*float64(size.Wind), max(before, float64(worldKn))) * 180 / math.Pi
		sea := times * size.Sea * (0.6*wind + 0.8*own)
		h.At, h.Wind, h.Gust = middle[k].At, models.Known(units.Speed(after)), models.Known(units.Speed(after+over))
		h.WindFrom = models.Known(units.From(units.From(h.WindFrom.Or(0).Degrees() + turn*across).Degrees()))
		h.Sea = models.Known(h.Sea.Or(0) * units.Length(math.Exp(sea)))
		h.Period = models.Known(h.Period.Or(0) * math.Exp(0.08*period))
		h.Visibility = models.Known(h.Visibility.Or(0) * units.Length(math.Exp(0.5*sight)))
		h.Current = models.Known(max(h.Current.Or(0)+units.Speed(0.4*current)*worldKn, 0))
		h.CurrentToward = models.Known(units.Toward(units.Toward(h.CurrentToward.Or(0).Degrees() + 15*set).Degrees()))
		h.Cloud = models.Known(min(max(h.Cloud.Or(0)+15*clouds, 0), 100))
		h.InletCurrent = middle[k].InletCurrent
		h.Thunder, h.Rain = models.Known(0.0), models.Known(0.0)
		if 100*thunder < middle[k].Thunder.Or(0) {
			h.Thunder = models.Known(100.0)
		}
		switch c := middle[k].Rain.Or(0); {
		case 100*rain < c*min(max(0.2+0.75*(c-20)/60, 0.2), 0.95):
			h.Rain = models.Known(outlook.Soaking)
		case 100*rain < c:
			h.Rain = models.Known(outlook.LightRain)
		}
		out[k] = h
	}
	return out
}
