package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"forecastd/config"
	"forecastd/internal/models"
	"forecastd/internal/models/outlook"
	"forecastd/internal/models/skill"
	"forecastd/internal/models/units"
	"forecastd/internal/models/wind"
	"forecastd/internal/store"
)

// Learning: each forecast hour that is kept is matched with what the
// configured station reported, and the errors are gathered by source and by
// day of lead.
const (
	// enoughDays is how many days must have pairs before what was learned
	// takes the place of the assumption. Hours of a day are much alike, so
	// days are what counts. Our own choice.
	enoughDays = 30
	// learnBack is how far back pairs are taken; series are kept as long.
	learnBack = 120 * 24 * time.Hour
	// learnEvery is which hours are looked at: those between are much alike.
	learnEvery = 3 * time.Hour
	// learnAgain is how old what was learned may be: it changes slowly, and
	// to go through all pairs takes seconds, so that the daemon does it at
	// night.
	learnAgain = 72 * time.Hour
	// Learned errors are never taken for smaller than this, since a station
	// is not the ground. Our own choice.
	leastWind = 0.75 * units.MetrePerSecond
	leastSea  = 0.08
	// lowSea is under what height shares of it mean little.
	lowSea = 0.3 * units.Metre
)

// jobLearn is what a run that learned is called.
const jobLearn = "learn"

// Lesson is how one source did at one day of lead against one station.
type Lesson struct {
	Source string `json:"source"`
	// Day is the day of lead: 1 is up to 24 hours ahead.
	Day  int     `json:"lead_day"`
	Wind Measure `json:"wind"`
	Sea  Measure `json:"sea"`
}

// Measure is how wrong one quantity was: wind in m/s, sea in metres.
type Measure struct {
	Hours int `json:"hours"`
	Days  int `json:"days"`
	// Bias is the decaying mean of forecast minus observed, by days.
	Bias float64 `json:"bias"`
	// Mean, Absolute and Root are plain: mean error, mean absolute error,
	// root mean square error.
	Mean     float64 `json:"mean"`
	Absolute float64 `json:"absolute"`
	Root     float64 `json:"root"`
	// Spread is the root mean square of what Bias leaves; for the sea it is
	// that of the logarithm of the ratio, a share of the height.
	Spread float64 `json:"spread"`
}

// Enough tells whether there is enough to go by.
func (m Measure) Enough() bool { return m.Days >= enoughDays }

// Learned is what the stations have taught about the forecasts of a ground.
type Learned struct {
	Port   string `json:"port"`
	Ground string `json:"ground"`
	// WindStation and SeaStation are what was matched; empty where the
	// configuration names none.
	WindStation string `json:"wind_station"`
	SeaStation  string `json:"sea_station"`
	// Averaging tells over how many minutes the station averaged its wind, as
	// far as it says; the forecasts are means as well.
	Averaging []int     `json:"wind_averaging_min"`
	At        time.Time `json:"at"`
	Lessons   []Lesson  `json:"lessons"`
}

// leadDay is the day of lead: 1 is up to 24 hours, negative leads too.
func leadDay(lead time.Duration) int {
	return max(int(math.Ceil(lead.Hours()/24)), 1)
}

func (l Learned) lesson(source string, day int) (Lesson, bool) {
	i := slices.IndexFunc(l.Lessons, func(x Lesson) bool { return x.Source == source && x.Day == day })
	if i < 0 {
		return Lesson{}, false
	}
	return l.Lessons[i], true
}

// Errors is how wrong a source is at a lead: learned where there is enough to
// learn from, else assumed. When things happen is always assumed: pairs of
// single hours can't tell a late front from a wrong wind.
func (l Learned) Errors(source string, lead time.Duration) outlook.ErrorSize {
	size := outlook.Assumed(lead)
	x, ok := l.lesson(source, leadDay(lead))
	if !ok {
		return size
	}
	if x.Wind.Enough() {
		size.Wind, size.WindBias = max(units.Speed(x.Wind.Spread), leastWind), units.Speed(x.Wind.Bias)
	}
	if x.Sea.Enough() {
		size.Sea, size.SeaBias = max(x.Sea.Spread, leastSea), units.Length(x.Sea.Bias)
	}
	return size
}

// HistoryDays is how many days of history the wind of a day's members rests
// on: that of the series with the least; 0 where any of them is assumed.
func (l Learned) HistoryDays(series []models.Series, ground string, day models.Interval) int {
	if least := l.leastDays(series, ground, day); least >= enoughDays {
		return least
	}
	return 0
}

// leastDays is how many days of pairs there are for the series, and lead, of
// which there are least.
func (l Learned) leastDays(series []models.Series, ground string, day models.Interval) int {
	least := -1
	for _, s := range series {
		if s.Ground != ground {
			continue
		}
		for _, h := range s.Hours {
			if !h.Wind.Known() || !day.Contains(h.At) {
				continue
			}
			x, _ := l.lesson(s.Source, leadDay(h.At.Sub(s.Run)))
			if least < 0 || x.Wind.Days < least {
				least = x.Wind.Days
			}
		}
	}
	return max(least, 0)
}

// assumption names what the doubt of a call rests on until there is enough to
// learn from.
func assumption(days int) models.Phrase {
	return models.Say("missing.learning", enoughDays, days)
}

// learnedFor returns what was learned of a ground lately, and learns where
// that is too old.
func (a *App) learnedFor(ctx context.Context, port config.Port, ground config.Ground) (Learned, error) {
	all, err := a.lessons(ctx, learnAgain)
	if err != nil {
		return Learned{}, err
	}
	if i := slices.IndexFunc(all, func(l Learned) bool { return l.Port == port.Name && l.Ground == ground.Name }); i >= 0 {
		return all[i], nil
	}
	l, err := a.learn(ctx, port, ground, learnBack)
	if err != nil {
		return Learned{}, err
	}
	account, err := json.Marshal([]Learned{l})
	if err != nil {
		return Learned{}, err
	}
	_, err = a.recordRun(ctx, jobLearn, a.now(), account, nil)
	return l, err
}

// lessons are the newest of each ground that runs left within some time.
func (a *App) lessons(ctx context.Context, back time.Duration) ([]Learned, error) {
	const most = 50
	runs, err := a.store.Runs(ctx, jobLearn, most)
	if err != nil {
		return nil, err
	}
	var found []Learned
	for _, r := range runs {
		if age := a.now().Sub(r.Started); r.Outcome != models.RunOK || age > back || age < 0 {
			continue
		}
		var all []Learned
		if err := json.Unmarshal(r.Account, &all); err != nil {
			continue // of another shape: learn anew
		}
		for _, l := range all {
			if !slices.ContainsFunc(found, func(o Learned) bool { return o.Port == l.Port && o.Ground == l.Ground }) {
				found = append(found, l)
			}
		}
	}
	return found, nil
}

// Learn matches the forecasts of all grounds with what the stations reported.
// The daemon's job of that name keeps the answer as its account.
func (a *App) Learn(ctx context.Context) ([]Learned, error) {
	if a.store == nil {
		return nil, nil
	}
	var all []Learned
	for _, p := range a.cfg.Ports {
		for _, g := range p.Grounds {
			l, err := a.learn(ctx, p, g, learnBack)
			if err != nil {
				return nil, err
			}
			all = append(all, l)
		}
	}
	return all, nil
}

// recordRun keeps a run that is over already.
func (a *App) recordRun(ctx context.Context, job string, started time.Time, account []byte, failed error) (int64, error) {
	r := models.Run{Job: job, Trigger: models.RunAsked, Due: started, Started: started, Ended: models.Known(a.now()), Outcome: models.RunOK, Account: account}
	if failed != nil {
		r.Outcome, r.Error = models.RunFailed, failed.Error()
	}
	id, err := a.store.BeginRun(ctx, r)
	if err != nil {
		return 0, err
	}
	r.ID = id
	return id, a.store.EndRun(ctx, r)
}

// stationFor is the first station of a port with a use.
func stationFor(port config.Port, use config.StationUse) (config.Station, bool) {
	i := slices.IndexFunc(port.Stations, func(s config.Station) bool { return s.For(use) })
	if i < 0 {
		return config.Station{}, false
	}
	return port.Stations[i], true
}

// learn goes through the pairs of a ground.
func (a *App) learn(ctx context.Context, port config.Port, ground config.Ground, back time.Duration) (Learned, error) {
	now := a.now().UTC()
	l := Learned{Port: port.Name, Ground: ground.Name, At: now, Lessons: []Lesson{}, Averaging: []int{}}
	span := models.Interval{Start: now.Add(-back), End: now}
	pupils := map[[2]string]*pupil{}
	order := [][2]string{}
	of := func(p store.Pair) *pupil {
		key := [2]string{p.Source, fmt.Sprintf("%03d", leadDay(p.Lead))}
		if pupils[key] == nil {
			pupils[key] = &pupil{}
			order = append(order, key)
		}
		return pupils[key]
	}
	windAt, hasWind := stationFor(port, config.StationWind)
	seaAt, hasSea := stationFor(port, config.StationSea)
	l.WindStation, l.SeaStation = windAt.ID, seaAt.ID
	stations := []string{}
	if hasWind {
		stations = append(stations, windAt.ID)
	}
	if hasSea && seaAt.ID != windAt.ID {
		stations = append(stations, seaAt.ID)
	}
	for _, id := range stations {
		for p, err := range a.store.Pairs(ctx, store.PairQuery{Port: port.Name, Ground: ground.Name, Station: id, Span: span, Every: learnEvery}) {
			if err != nil {
				return l, err
			}
			if id == windAt.ID {
				if f, o, ok := windPair(p, windAt); ok {
					of(p).wind.add(p.Forecast.At, float64(f), float64(o))
					l.noteAveraging(p.Observed)
				}
			}
			if id == seaAt.ID {
				f, okF := p.Forecast.Sea.Get()
				o, okO := p.Observed.Sea.Get()
				if okF && okO {
					of(p).sea.add(p.Forecast.At, float64(f), float64(o))
				}
			}
		}
	}
	slices.Sort(l.Averaging)
	slices.SortFunc(order, func(x, y [2]string) int { return slices.Compare(x[:], y[:]) })
	for _, key := range order {
		var day int
		if _, err := fmt.Sscanf(key[1], "%d", &day); err != nil {
			return l, errors.Join(errors.New("read back a day of lead"), err)
		}
		l.Lessons = append(l.Lessons, Lesson{Source: key[0], Day: day, Wind: pupils[key].wind.windMeasure(), Sea: pupils[key].sea.seaMeasure()})
	}
	return l, nil
}

// noteAveraging keeps over how many minutes a station averages.
func (l *Learned) noteAveraging(o models.Observation) {
	if d, ok := o.Averaging.Get(); ok {
		if n := int(d.Minutes()); !slices.Contains(l.Averaging, n) {
			l.Averaging = append(l.Averaging, n)
		}
	}
}

// windPair is the wind forecast and the one observed, carried to 10 m.
func windPair(p store.Pair, s config.Station) (forecast, observed units.Speed, ok bool) {
	f, okF := p.Forecast.Wind.Get()
	o, okO := p.Observed.Wind.Get()
	z, okZ := s.Anemometer.Get()
	if !okF || !okO || !okZ {
		return 0, 0, false
	}
	at10, _ := wind.To10m(o, z, p.Observed.Air, p.Observed.Water)
	return f, at10, true
}

// pupil gathers the pairs of one source and day of lead.
type pupil struct{ wind, sea lessons }

type pair struct {
	at                 time.Time
	forecast, observed float64
}

type lessons []pair

func (l *lessons) add(at time.Time, forecast, observed float64) {
	*l = append(*l, pair{at, forecast, observed})
}

// measure is bias by a decaying mean of the days' mean errors, and sizes.
func (l lessons) measure() Measure {
	slices.SortStableFunc(l, func(x, y pair) int { return x.at.Compare(y.at) })
	var errs []float64
	var bias skill.Bias
	for i := 0; i < len(l); {
		day, sum, n := l[i].at.UTC().Truncate(24*time.Hour), 0.0, 0
		for ; i < len(l) && l[i].at.UTC().Truncate(24*time.Hour).Equal(day); i++ {
			e := l[i].forecast - l[i].observed
			errs, sum, n = append(errs, e), sum+e, n+1
		}
		bias = bias.Add(sum/float64(n), skill.Slow)
	}
	s := skill.Summarise(errs)
	return Measure{Hours: s.N, Days: bias.Cases, Bias: bias.Mean, Mean: s.Mean, Absolute: s.Absolute, Root: s.Root}
}

func (l lessons) windMeasure() Measure {
	m := l.measure()
	left := make([]float64, 0, len(l))
	for _, p := range l {
		left = append(left, max(p.forecast-m.Bias, 0)-p.observed)
	}
	m.Spread = skill.Summarise(left).Root
	return m
}

func (l lessons) seaMeasure() Measure {
	m := l.measure()
	left := make([]float64, 0, len(l))
	for _, p := range l {
		f := max(p.forecast-m.Bias, float64(lowSea))
		left = append(left, math.Log(f/max(p.observed, float64(lowSea))))
	}
	m.Spread = skill.Summarise(left).Root
	return m
}
