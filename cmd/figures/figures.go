package main

import (
	"math"
	"math/rand/v2"
	"strconv"
	"time"

	"forecastd/internal/draw"
	"forecastd/internal/models"
	"forecastd/internal/models/drift"
	"forecastd/internal/models/kite"
	"forecastd/internal/models/ride"
	"forecastd/internal/models/skill"
	"forecastd/internal/models/sky"
	"forecastd/internal/models/spread"
	"forecastd/internal/models/tide"
	"forecastd/internal/models/units"
	"forecastd/internal/models/wave"
	"forecastd/internal/models/wind"
)

const kn = units.Knot

func known[T any](v T) models.Opt[T] { return models.Known(v) }

// curve samples a function over a range; unknown breaks the line.
func curve(name string, from, to float64, n int, f func(float64) (float64, bool)) draw.Line {
	l := draw.Line{Name: name}
	for i := range n + 1 {
		x := from + (to-from)*float64(i)/float64(n)
		y, ok := f(x)
		if !ok {
			y = math.NaN()
		}
		l.Points = append(l.Points, draw.Point{X: x, Y: y})
	}
	return l
}

// each makes a line of each thing.
func each[T any](things []T, line func(T) draw.Line) []draw.Line {
	var out []draw.Line
	for _, v := range things {
		out = append(out, line(v))
	}
	return out
}

// numbered are curves over a range that differ by a number, named by it.
func numbered(numbers []float64, unit string, from, to float64, n int, f func(number, x float64) (float64, bool)) []draw.Line {
	return each(numbers, func(v float64) draw.Line {
		return curve(strconv.FormatFloat(v, 'f', -1, 64)+" "+unit, from, to, n, func(x float64) (float64, bool) { return f(v, x) })
	})
}

func marks(points ...draw.Point) []draw.Mark {
	out := make([]draw.Mark, len(points))
	for i, p := range points {
		out[i] = draw.Mark{Point: p}
	}
	return out
}

// figures are those of docs/physics.md, by the names of their files.
func figures() map[string]draw.Plot {
	return map[string]draw.Plot{
		"wind-profile":  windProfile(),
		"wave-current":  waveCurrent(),
		"sky-sun":       skySun(),
		"tide-height":   tideHeight(),
		"drift-leeway":  driftLeeway(),
		"drift-track":   driftTrack(),
		"kite-angle":    kiteAngle(),
		"kite-line":     kiteLine(),
		"spread-card":   spreadCard(),
		"ride-unwell":   rideUnwell(),
		"ride-bands":    rideBands(),
		"skill-bias":    skillBias(),
		"skill-fair":    skillFair(),
		"skill-said":    skillSaid(),
		"kite-pull":     kitePull(),
		"spread-blow":   spreadBlow(),
		"wave-steepens": waveSteepens(),
		"wave-length":   waveLength(),
		"wave-speeds":   waveSpeeds(),
		"wave-shoals":   waveShoals(),
	}
}

func windProfile() draw.Plot {
	line := func(name string, diff float64) draw.Line {
		return curve(name, 2, 20, 36, func(v float64) (float64, bool) {
			w := units.Speed(v)
			up, _ := wind.ToHeight(w, 10, 60, known(units.Celsius(24+diff)), known(units.Celsius(24)))
			return float64(up / w), true
		})
	}
	return draw.Plot{
		Title:       "Wind at the kite over wind at 10 m",
		Description: "The ratio of the wind at 60 m to that at 10 m, against the wind at 10 m, for air colder than the water, as warm, and warmer. Warm air over cold water slides over the surface: the kite feels much more than the boat.",
		X:           draw.Axis{Label: "wind at 10 m (m/s)", Min: 2, Max: 20, Every: 2}, Y: draw.Axis{Label: "ratio", Min: 1, Max: 2, Every: 0.2},
		Lines: []draw.Line{line("air 3° colder", -3), line("neutral", 0), line("air 1° warmer", 1)},
	}
}

// waves are low seas of four periods on a current against them.
func waves(pick func(wave.OnCurrent) float64) []draw.Line {
	return numbered([]float64{4, 5, 6, 8}, "s", 0, 4, 80, func(period, current float64) (float64, bool) {
		on, err := wave.Shift(0.3, time.Duration(period*float64(time.Second)), 0, units.Speed(current)*kn, 0, 0)
		return pick(on), err == nil && !on.Blocked && !on.Breaking
	})
}

func waveCurrent() draw.Plot {
	return draw.Plot{
		Title:       "A sea met by the current",
		Description: "How much a low sea of 4, 5, 6 and 8 s grows in height against a current, in deep water and before it breaks. The shorter the sea, the more it grows. A line ends where the sea breaks.",
		X:           draw.Axis{Label: "current against the sea (kn)", Min: 0, Max: 4, Every: 1}, Y: draw.Axis{Label: "times the height", Min: 1, Max: 2.4, Every: 0.2},
		// From linear theory, computed by hand beside the trade notes.
		Marks: marks(draw.Point{X: 1, Y: 1.2}, draw.Point{X: 2, Y: 1.65}, draw.Point{X: 2, Y: 1.43}, draw.Point{X: 2, Y: 1.32}, draw.Point{X: 2, Y: 1.22}, draw.Point{X: 3, Y: 1.65}),
		Lines: waves(func(o wave.OnCurrent) float64 { return o.HeightRatio }),
	}
}

func waveSteepens() draw.Plot {
	return draw.Plot{
		Title:       "Steepness grows faster than height",
		Description: "How much steeper a low sea of 4, 5, 6 and 8 s becomes against a current. At 2 kn a sea of 5 s is twice as steep.",
		X:           draw.Axis{Label: "current against the sea (kn)", Min: 0, Max: 4, Every: 1}, Y: draw.Axis{Label: "times the steepness", Min: 1, Max: 5, Every: 1},
		Marks: marks(draw.Point{X: 2, Y: 2}),
		Lines: waves(func(o wave.OnCurrent) float64 { return o.SteepnessRatio }),
	}
}

func skySun() draw.Plot {
	return draw.Plot{
		Title:       "Height of the sun for sight casting",
		Description: "The sun's height over the day at 25.8 north on three dates. Sight casting starts at 25 degrees and is full from 35.",
		X:           draw.Axis{Label: "hours UTC-5", Min: 6, Max: 20, Every: 2}, Y: draw.Axis{Label: "degrees above the horizon", Min: 0, Max: 90, Every: 10},
		Lines: each([]time.Month{12, 3, 6}, func(month time.Month) draw.Line {
			day := time.Date(2027, month, 21, 5, 0, 0, 0, time.UTC)
			return curve(day.Format("2 Jan"), 6, 20, 84, func(h float64) (float64, bool) {
				s := sky.SunAt(day.Add(time.Duration(h*float64(time.Hour))), models.Position{Lat: 25.8, Lon: -80.1})
				return s.Elevation, s.Elevation >= 0
			})
		}),
	}
}

func tideHeight() draw.Plot {
	s := tide.Station{Name: "invented", Mean: 0.4, Datum: "MLLW", Constituents: []tide.Constituent{
		{Name: "M2", Amplitude: 0.35, Phase: 230}, {Name: "S2", Amplitude: 0.06, Phase: 255},
		{Name: "N2", Amplitude: 0.08, Phase: 210}, {Name: "K1", Amplitude: 0.04, Phase: 200}, {Name: "O1", Amplitude: 0.03, Phase: 205},
	}}
	start := time.Date(2027, 1, 19, 0, 0, 0, 0, time.UTC)
	return draw.Plot{
		Title:       "Tide of an invented port",
		Description: "Two days of tide summed from five constituents of an invented station.",
		X:           draw.Axis{Label: "hours UTC", Min: 0, Max: 48, Every: 6}, Y: draw.Axis{Label: "feet above MLLW"},
		Lines: []draw.Line{curve("height", 0, 48, 192, func(h float64) (float64, bool) {
			v, ok := s.HeightAt(start.Add(time.Duration(h * float64(time.Hour)))).Get()
			return v.Feet(), ok
		})},
	}
}

func driftLeeway() draw.Plot {
	line := func(name string, kind models.BoatKind, anchor bool) draw.Line {
		c := drift.CraftFor(kind, 30*units.Foot)
		return curve(name, 0, 30, 30, func(v float64) (float64, bool) {
			return drift.Leeway(c, units.Speed(v)*kn, 0, anchor).Slip.Knots(), true
		})
	}
	return draw.Plot{
		Title:       "Drift through the water",
		Description: "The slip of a drifting boat against the wind, for a centre console, a sportfish and a centre console on its sea anchor. Baits fish well from 0.5 to 1.5 kn. Circles are worked from the field trials by hand.",
		X:           draw.Axis{Label: "wind at 10 m (kn)", Min: 0, Max: 30, Every: 5}, Y: draw.Axis{Label: "slip (kn)", Min: 0, Max: 2.5, Every: 0.5},
		Lines: []draw.Line{line("centre console", models.CenterConsole, false), line("sportfish", models.Sportfish, false), line("on the sea anchor", models.CenterConsole, true)},
		Marks: marks(draw.Point{X: 9.719, Y: 0.583}, draw.Point{X: 14.579, Y: 0.874}, draw.Point{X: 19.438, Y: 1.166}),
	}
}

func driftTrack() draw.Plot {
	start := time.Date(2027, 1, 19, 12, 0, 0, 0, time.UTC)
	in := func(from units.From) []drift.Input {
		var list []drift.Input
		for h := range 4 {
			list = append(list, drift.Input{
				At: start.Add(time.Duration(h) * time.Hour), Wind: known(14 * kn), From: known(from),
				Current: known(2 * kn), Toward: known(units.Toward(0)),
			})
		}
		return list
	}
	p := draw.Plot{
		Title:       "Four hours of drift in a north current",
		Description: "Tracks over the ground of a centre console in 14 kn from the east, south-east and north with 2 kn of current to the north.",
		X:           draw.Axis{Label: "east (nmi)", Min: -8, Max: 8, Every: 2}, Y: draw.Axis{Label: "north (nmi)", Min: 0, Max: 10, Every: 2}, Square: true,
	}
	c := drift.CraftFor(models.CenterConsole, 39*units.Foot)
	for _, w := range []struct {
		name string
		from units.From
	}{{"wind E", 90}, {"wind SE", 135}, {"wind N", 0}} {
		l := draw.Line{Name: w.name}
		for _, q := range drift.Run(c, in(w.from), false).Points {
			l.Points = append(l.Points, draw.Point{X: q.East.NauticalMiles(), Y: q.North.NauticalMiles()})
		}
		p.Lines = append(p.Lines, l)
	}
	return p
}

// kites are the generic kites, each where it holds.
func kites(pick func(kite.Flight) float64) []draw.Line {
	return each(kite.DefaultSet(), func(k models.Kite) draw.Line {
		return curve(k.Name, 0, 45, 180, func(v float64) (float64, bool) {
			f := kite.Fly(k, units.Speed(v)*kn, kite.DefaultLine())
			return pick(f), f.Holds
		})
	})
}

func kiteAngle() draw.Plot {
	helium := curve("light, helium", 0, 45, 180, func(v float64) (float64, bool) {
		f := kite.FlyHelium(kite.DefaultSet()[0], known(kite.DefaultBalloon()), units.Speed(v)*kn, kite.DefaultLine())
		return f.Elevation, f.Holds
	})
	return draw.Plot{
		Title:       "Angle of the kite line at the boat",
		Description: "The angle against the wind at the kite for the generic light, ordinary and heavy kite on 100 m of line with two baits, and for the light one with a balloon. Lines begin where the kite carries its baits and end at the working load.",
		X:           draw.Axis{Label: "wind at the kite (kn)", Min: 0, Max: 45, Every: 5}, Y: draw.Axis{Label: "degrees", Min: 20, Max: 70, Every: 10},
		Lines: append(kites(func(f kite.Flight) float64 { return f.Elevation }), helium),
	}
}

func kitePull() draw.Plot {
	const poundForce = 4.4482216152605 // N
	return draw.Plot{
		Title:       "Pull of the kite",
		Description: "The pull in the kite line against the wind at the kite for the three generic kites, each up to its working load. It grows with the square of the wind: gusts, not the mean, break a kite.",
		X:           draw.Axis{Label: "wind at the kite (kn)", Min: 0, Max: 45, Every: 5}, Y: draw.Axis{Label: "pull (lb)", Min: 0, Max: 40, Every: 5},
		Lines: kites(func(f kite.Flight) float64 { return f.Tension / poundForce }),
	}
}

func kiteLine() draw.Plot {
	p := draw.Plot{
		Title:       "Shape of the kite line",
		Description: "The line of the ordinary kite from the boat to the kite in 8, 10, 14 and 20 kn at the kite, solved along its length with its weight, the wind on it and two baits.",
		X:           draw.Axis{Label: "behind the boat (ft)", Min: 0, Max: 300, Every: 50}, Y: draw.Axis{Label: "height over the reel (ft)", Min: 0, Max: 300, Every: 50}, Square: true,
	}
	for _, v := range []float64{8, 10, 14, 20} {
		line := kite.DefaultLine()
		baits := line.Clips
		line.Clips = nil
		for s := units.Length(4); s < line.Out; s += 4 { // places to look at, without a pull
			c := kite.Clip{FromKite: s}
			for _, b := range baits {
				if b.FromKite > s-4 && b.FromKite <= s {
					c.Down, c.Back = b.Down, b.Back
				}
			}
			line.Clips = append(line.Clips, c)
		}
		f := kite.Fly(kite.DefaultSet()[1], units.Speed(v)*kn, line)
		l := draw.Line{Name: strconv.Itoa(int(v)) + " kn", Points: []draw.Point{{}}}
		for i := len(f.Clips) - 1; i >= 0; i-- {
			l.Points = append(l.Points, draw.Point{X: f.Clips[i].Behind.Feet(), Y: f.Clips[i].Height.Feet()})
		}
		l.Points = append(l.Points, draw.Point{X: f.Behind.Feet(), Y: f.Height.Feet()})
		p.Lines = append(p.Lines, l)
	}
	return p
}

// breeze lays the card of a wind at 10 m with the kite's wind 1.15 of it.
func breeze(deck units.Speed) models.Spread {
	w := deck * 1.15
	c := kite.NewSet(nil, kite.DefaultLine()).Choose(w*0.9, w, w*1.2, kite.GasIfNoneHolds)
	return spread.Lay(spread.Day{
		Kite: c.Kite, Helium: c.Helium, Lull: w * 0.9, Wind: w, Gust: w * 1.2, Deck: deck, Crew: 3,
	}, spread.DefaultTable())
}

func spreadCard() draw.Plot {
	s := breeze(14 * kn)
	p := draw.Plot{
		Title:       "Where the baits stand in 14 kn",
		Description: "Side view of one kite of the spread: the straight way from boat to clip, and below each clip the bait at the surface, blown back by the wind.",
		X:           draw.Axis{Label: "behind the boat (ft)", Min: 0, Max: 350, Every: 50}, Y: draw.Axis{Label: "height (ft)", Min: 0, Max: 350, Every: 50}, Square: true,
	}
	kiteX := s.Height.Feet() / math.Tan(s.Angle*math.Pi/180)
	p.Lines = append(p.Lines, draw.Line{Name: "kite", Points: []draw.Point{{Y: 10}, {X: kiteX, Y: s.Height.Feet()}}})
	for _, b := range s.Positions {
		h, ok := b.ClipHeight.Get()
		if !ok || b.Side == "right" {
			continue
		}
		behind, _ := b.Behind.Get()
		p.Lines = append(p.Lines, draw.Line{Name: b.Position, Points: []draw.Point{
			{X: behind.Feet(), Y: 0}, {X: kiteX * (h.Feet() - 10) / (s.Height.Feet() - 10), Y: h.Feet()},
		}})
	}
	return p
}

func spreadBlow() draw.Plot {
	return draw.Plot{
		Title:       "Drop lines blow back",
		Description: "How far downwind of its clip, 80 ft up, a bait comes to the surface, against the wind, for 1, 2 and 4 oz on the line. The circle was derived independently: 68 ft with 1 oz in 15 kn.",
		X:           draw.Axis{Label: "wind (kn)", Min: 0, Max: 25, Every: 5}, Y: draw.Axis{Label: "blown back (ft)", Min: 0, Max: 120, Every: 20},
		Marks: marks(draw.Point{X: 15, Y: 68}),
		Lines: numbered([]float64{1, 2, 4}, "oz", 0, 25, 50, func(oz, v float64) (float64, bool) {
			d := spread.Hang(80*units.Foot, units.Mass(oz)*units.Ounce, 0.00046, units.Speed(v)*kn)
			return d.Back.Feet(), !d.Blown
		}),
	}
}

func rideUnwell() draw.Plot {
	return draw.Plot{
		Title:       "Guests likely to be sick in four hours",
		Description: "The share of an unaccustomed group that is sick in four hours of drifting beam on in a 39 ft boat, against the period of the sea, for 2, 3, 4 and 6 ft.",
		X:           draw.Axis{Label: "period (s)", Min: 3, Max: 12, Every: 1}, Y: draw.Axis{Label: "percent", Min: 0, Max: 45, Every: 5},
		Lines: numbered([]float64{2, 3, 4, 6}, "ft", 3, 12, 72, func(h, s float64) (float64, bool) {
			m, ok := ride.Move(units.Length(h)*units.Foot, s, 90, 39*units.Foot, 0).Get()
			share, _ := ride.Unwell(m, 4*time.Hour).Get()
			return float64(share), ok
		}),
	}
}

func rideBands() draw.Plot {
	p := draw.Plot{
		Title:       "Ride of the 39 ft centre console",
		Description: "Easy, ok, rough and no, in steps upward, against the height of the sea at 6 s, for a mixed party, for the same at 4 s and in a swell of 10 s, and for a family at 6 s.",
		X:           draw.Axis{Label: "sea (ft)", Min: 0, Max: 8, Every: 1}, Y: draw.Axis{Label: "0 easy, 1 ok, 2 rough, 3 no", Min: 0, Max: 3.2, Every: 1},
	}
	for i, l := range []struct {
		name   string
		party  models.Party
		period float64
	}{{"mixed, 6 s", models.Mixed, 6}, {"mixed, 4 s", models.Mixed, 4}, {"mixed, 10 s", models.Mixed, 10}, {"family, 6 s", models.Family, 6}} {
		limits := ride.Table(models.CenterConsole, 39*units.Foot, l.party)
		p.Lines = append(p.Lines, curve(l.name, 0, 8, 400, func(h float64) (float64, bool) {
			// Lifted a little, so that lines that meet can be told apart.
			return float64(ride.Judge(limits, ride.NewScale(39*units.Foot), units.Length(h)*units.Foot, known(l.period))) + 0.05*float64(i), true
		}))
	}
	return p
}

func skillBias() draw.Plot {
	line := func(name string, weight float64) draw.Line {
		var b skill.Bias
		l := draw.Line{Name: name, Points: []draw.Point{{}}}
		for i := range 120 {
			b = b.Add(2, weight)
			l.Points = append(l.Points, draw.Point{X: float64(i + 1), Y: b.Mean})
		}
		return l
	}
	return draw.Plot{
		Title:       "A forecast that is 2 kn too strong",
		Description: "What the decaying average has learned of a steady bias of 2 kn after a number of cases, with the slow and the quick weight.",
		X:           draw.Axis{Label: "cases", Min: 0, Max: 120, Every: 20}, Y: draw.Axis{Label: "bias found (kn)", Min: 0, Max: 2.2, Every: 0.5},
		Lines: []draw.Line{line("quick", skill.Quick), line("slow", skill.Slow)},
	}
}

// skillFair scores ensembles of a forecast that is right, of two members and
// more: the plain score marks the small ones down, the fair one does not.
func skillFair() draw.Plot {
	dice := rand.New(rand.NewPCG(1, 2))
	line := func(name string, score func([]float64, float64) (float64, error)) draw.Line {
		l := draw.Line{Name: name}
		for _, n := range []int{2, 3, 4, 6, 8, 12, 16, 24, 31} {
			sum := 0.0
			const cases = 20_000
			for range cases {
				members := make([]float64, n)
				for i := range members {
					members[i] = dice.NormFloat64()
				}
				s, err := score(members, dice.NormFloat64())
				if err != nil {
					panic(err)
				}
				sum += s
			}
			l.Points = append(l.Points, draw.Point{X: float64(n), Y: sum / cases})
		}
		return l
	}
	return draw.Plot{
		Title:       "Small ensembles, scored fairly",
		Description: "The mean CRPS of ensembles drawn from the very distribution of what comes (normal, deviation 1), plain and fair, against the number of members. The exact forecast scores 0.56.",
		X:           draw.Axis{Label: "members", Min: 0, Max: 32, Every: 4}, Y: draw.Axis{Label: "mean CRPS", Min: 0.5, Max: 0.9, Every: 0.1},
		Lines: []draw.Line{line("plain", skill.CRPS), line("fair", skill.FairCRPS)},
	}
}

// skillSaid shows what was said against how often it came, for forecasts that
// are surer than they should be: invented cases.
func skillSaid() draw.Plot {
	dice := rand.New(rand.NewPCG(3, 4))
	var cases []skill.Said
	for range 20_000 {
		truth := dice.Float64()
		said := min(max(0.5+1.6*(truth-0.5), 0), 1)
		cases = append(cases, skill.Said{Chance: said, Came: dice.Float64() < truth})
	}
	came := draw.Line{Name: "came"}
	for _, b := range skill.Reliability(cases, 10) {
		if b.N > 0 {
			came.Points = append(came.Points, draw.Point{X: b.Said, Y: b.Came})
		}
	}
	return draw.Plot{
		Title:       "Said and come",
		Description: "How often something came against the chance that was said, for invented forecasts that are too sure of themselves, beside the line of forecasts that can be taken at their word.",
		X:           draw.Axis{Label: "chance said", Min: 0, Max: 1, Every: 0.2}, Y: draw.Axis{Label: "came", Min: 0, Max: 1, Every: 0.2},
		Lines: []draw.Line{{Name: "to be trusted", Points: []draw.Point{{}, {X: 1, Y: 1}}}, came},
	}
}

// shoal is the axis of the figures over shoal water.
func shoal() draw.Axis { return draw.Axis{Label: "depth (ft)", Min: 5, Max: 155, Every: 25} }

func waveLength() draw.Plot {
	return draw.Plot{
		Title:       "Length of a swell over shoal water",
		Description: "The length of swells of 6, 10 and 14 s against the depth, by linear theory.",
		X:           shoal(), Y: draw.Axis{Label: "length (ft)", Min: 0, Max: 900, Every: 150},
		Lines: numbered([]float64{6, 10, 14}, "s", 5, 155, 60, func(s, ft float64) (float64, bool) {
			l, ok := wave.Wavelength(time.Duration(s*float64(time.Second)), units.Length(ft)*units.Foot).Get()
			return l.Feet(), ok
		}),
	}
}

func waveSpeeds() draw.Plot {
	line := func(name string, speed func(time.Duration, units.Length) models.Opt[units.Speed]) draw.Line {
		return curve(name, 5, 155, 60, func(ft float64) (float64, bool) {
			v, ok := speed(10*time.Second, units.Length(ft)*units.Foot).Get()
			return v.Knots(), ok
		})
	}
	return draw.Plot{
		Title:       "A swell of 10 s slows down",
		Description: "How fast the crests and the energy of a swell of 10 s run, against the depth: over shoal water both run alike.",
		X:           shoal(), Y: draw.Axis{Label: "speed (kn)", Min: 0, Max: 32, Every: 8},
		Lines: []draw.Line{line("crests", wave.PhaseSpeed), line("energy", wave.GroupSpeed)},
	}
}

func waveShoals() draw.Plot {
	return draw.Plot{
		Title:       "Height of a swell over shoal water",
		Description: "The height of swells of 6, 10 and 14 s over their height in deep water, against the depth, as long as they do not break.",
		X:           shoal(), Y: draw.Axis{Label: "height over deep-water height", Min: 0.8, Max: 2, Every: 0.2},
		Lines: numbered([]float64{6, 10, 14}, "s", 5, 155, 60, func(s, ft float64) (float64, bool) {
			return wave.Shoaling(time.Duration(s*float64(time.Second)), units.Length(ft)*units.Foot).Get()
		}),
	}
}
