package scoring

import (
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/drift"
	"forecastd/internal/models/spread"
	"forecastd/internal/models/units"
)

// spread lays the card for the middle of the hours fished under kites.
func (s *site) spread(v *view, with With) models.Opt[models.Spread] {
	if !v.plan.going {
		return models.Unknown[models.Spread]()
	}
	h := middleHour(s.fished(v, modeKite, modeHelium, modeEither))
	if h == nil || h.ch.Index < 0 {
		return models.Unknown[models.Spread]()
	}
	c := &h.c
	table, ok := with.Spread.Get()
	if !ok {
		table = spread.DefaultTable()
	}
	return models.Known(spread.Lay(spread.Day{
		Kite: h.ch.Kite, Helium: h.kite.helium,
		Lull: c.KiteLull.Or(0), Wind: c.KiteWind.Or(0), Gust: c.KiteGust.Or(0), Deck: c.Wind.Or(0),
		From: c.WindFrom, DirectionSpread: c.DirectionSpread,
		Depth: models.Known(s.startDepth(h)), Crew: s.o.Boat.Crew,
	}, table))
}

// airfieldWithin is how near an airfield is told: the five statute miles within
// which 14 CFR 101.13 asks more of a moored kite (from memory).
const airfieldWithin = units.Length(5 * 1609.344)

// airfields tells the ones that lie near where the kites go up.
func (s *site) airfields() []models.Phrase {
	var list []models.Phrase
	for _, a := range s.o.Port.Airfields {
		if d := models.Apart(a.At, s.o.Ground.At); d <= airfieldWithin {
			list = append(list, models.Say("caution.airfield", a.Name, d))
		}
	}
	return list
}

// startDepth is where the first set begins: the edge as reported, else the
// side of the band that the drift crosses from, else the ground's own depth.
func (s *site) startDepth(h *hour) units.Length {
	if d, ok := s.o.Reports.EdgeDepth.Get(); ok {
		return d
	}
	if speed, ok := h.c.DriftSpeed.Get(); ok {
		if cross, ok := s.crossing(speed, h.c.DriftToward.Or(0)); ok {
			return cross.Start
		}
	}
	return s.o.Ground.Depth
}

// overBand sets how long a drift stays over the depth band, and returns after
// how long it is set anew.
func (s *site) overBand(d *models.Drift) time.Duration {
	d.AcrossBand = models.Unknown[time.Duration]()
	if cross, ok := s.crossing(d.Speed, d.Toward); ok {
		d.AcrossBand = cross.Across
	}
	if across, ok := d.AcrossBand.Get(); ok {
		return min(usualReset, max(across, shortestReset))
	}
	return usualReset
}

func (s *site) crossing(speed units.Speed, toward units.Toward) (drift.Crossing, bool) {
	g := &s.o.Ground
	shallow, ok1 := g.Shallow.Get()
	deep, ok2 := g.Deep.Get()
	slope, ok3 := g.Slope.Get()
	if !ok1 || !ok2 || !ok3 {
		return drift.Crossing{}, false
	}
	v := units.FlowVector(speed, toward)
	return drift.CrossBand(v, drift.Band{Shallow: shallow, Deep: deep, Slope: slope, Offshore: s.o.Port.ShoreNormal}), true
}

// shortestSet is the least time over the band that is worth a set without the
// sea anchor: common practice, no source.
const shortestSet = 45 * time.Minute

// shortestReset is the least time between two sets that is told: common
// practice, no source.
const shortestReset = 20 * time.Minute

// trackEvery is how far apart the points of the drift lie.
const trackEvery = 30 * time.Minute

// firstSet is where the first set begins and how it goes.
func (s *site) firstSet(v *view) models.Opt[models.Drift] {
	if !v.plan.going {
		return models.Unknown[models.Drift]()
	}
	h := s.hourOf(v, int(max(v.plan.arrive, float64(v.trip.linesIn))))
	if h == nil || !h.c.DriftSpeed.Known() {
		return models.Unknown[models.Drift]()
	}
	d := models.Drift{
		StartDepth: s.startDepth(h), Speed: h.c.DriftSpeed.Or(0), Toward: h.c.DriftToward.Or(0), Slip: h.c.Slip.Or(0),
	}
	reset := s.overBand(&d)
	if s.o.Boat.SeaAnchor && (d.Slip > s.lim.DriftUsable || reset < shortestSet) {
		d.SeaAnchor = true
		m := drift.Leeway(s.craft, h.c.Wind.Or(0), h.c.WindFrom.Or(0), true)
		v := drift.Ground(m.Mean, units.FlowVector(h.c.Current.Or(0), h.c.CurrentToward.Or(0)))
		d.Slip, d.Speed = m.Slip, v.Speed()
		if to, ok := v.Toward(); ok {
			d.Toward = to
		}
		reset = s.overBand(&d)
	}
	if across, ok := d.AcrossBand.Get(); ok && across < shortestSet {
		d.Notes = append(d.Notes, models.Say("drift.rushes", across))
	}
	s.track(v, &d, reset)
	d.ResetEvery = models.Known(reset)
	d.Notes = append(d.Notes, s.driftNotes(h, &d)...)
	return models.Known(d)
}

// track drifts the first set over the ground.
func (s *site) track(v *view, d *models.Drift, reset time.Duration) {
	start := s.instant(int(max(v.plan.arrive, float64(v.trip.linesIn))))
	end := start.Add(min(reset, time.Duration(v.plan.depart-v.plan.arrive)*time.Minute))
	var in []drift.Input
	for at := start; at.Before(end); at = at.Add(trackEvery) {
		h := s.hourOf(v, s.minute(at))
		if h == nil {
			break
		}
		x := drift.InputOf(h.c.Hour)
		x.At = at
		in = append(in, x)
	}
	t := drift.Run(s.craft, in, d.SeaAnchor)
	for _, p := range t.Points {
		d.Track = append(d.Track, models.DriftPoint{At: p.At, East: p.East, North: p.North, SpreadRadius: p.Spread.Radius()})
	}
	d.Distance = t.Distance
	d.RunBack = drift.RunBack(t.Distance, s.o.Boat.Cruise.Or(usualCruise))
}

func (s *site) driftNotes(h *hour, d *models.Drift) []models.Phrase {
	var list []models.Phrase
	lim := &s.lim
	switch {
	case d.Slip < lim.DriftSlow:
		list = append(list, models.Say("drift.slow"))
	case d.Slip > lim.DriftTooFast:
		list = append(list, models.Say("drift.too_fast", d.Slip))
	case d.Slip > lim.DriftUsable:
		list = append(list, models.Say("drift.fast", d.Slip))
	}
	if from, ok := h.c.WindFrom.Get(); ok && !s.o.Ground.Slope.Known() {
		switch off := units.Apart(from, s.sea); {
		case off <= 60:
			list = append(list, models.Say("drift.onshore"))
		case off >= 120:
			list = append(list, models.Say("drift.offshore"))
		}
	}
	return append(list, models.Say("drift.current_uncertain"))
}

// hourOf is the middle member's hour that holds at a minute.
func (s *site) hourOf(v *view, minute int) *hour {
	at := s.instant(minute)
	for i := range v.hours {
		if v.hours[i].span.Contains(at) {
			return &v.hours[i]
		}
	}
	return nil
}
