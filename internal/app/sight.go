package app

import (
	"slices"
	"sync"
	"time"

	"forecastd/config"
	"forecastd/internal/fetch"
	"forecastd/internal/fetch/nws"
	"forecastd/internal/models"
	"forecastd/internal/notify"
)

// seen is how the sources of a port stood when they were last asked.
type seen struct {
	At      time.Time // zero: not asked yet
	Sources []sourceState
	// Troubles are what is wrong with the service, by name.
	Troubles map[string]notify.Trouble
}

// sourceState is one source as last asked.
type sourceState struct {
	Name  string      `json:"source"`
	State fetch.State `json:"state"`
	AgeS  int         `json:"age_s"`
	// Since is when it was first found missing; zero where it is not.
	Since time.Time `json:"missing_since,omitzero"`
	Error string    `json:"error,omitempty"`
	// Asked tells that it was asked in this run, and Next when it will be at
	// the earliest, where it keeps a timetable.
	Asked bool      `json:"asked"`
	Next  time.Time `json:"next_ask,omitzero"`
	Notes []string  `json:"notes,omitempty"`

	fetched time.Time
}

// sight remembers how the sources of each port stood.
type sight struct {
	mu    sync.Mutex
	ports map[string]seen
	began time.Time
}

func newSight(now time.Time) *sight { return &sight{ports: map[string]seen{}, began: now} }

// of returns how the sources of a port stood when last asked.
func (s *sight) of(port string) seen {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.ports[port]
}

// note keeps what a collection says about its sources and returns it.
func (s *sight) note(port string, c fetch.Collection) []sourceState {
	s.mu.Lock()
	defer s.mu.Unlock()
	before := s.ports[port]
	now := seen{At: c.At, Troubles: before.Troubles}
	for _, st := range c.Sources {
		one := sourceState{Name: st.Name, State: st.State, AgeS: int(st.Age.Seconds()), Asked: st.Asked, Next: st.Next, Notes: st.Notes, fetched: st.Fetched}
		if st.Err != nil {
			one.Error = plain(st.Err)
		}
		if st.State == fetch.Missing {
			one.Since = c.At
			if i := slices.IndexFunc(before.Sources, func(o sourceState) bool { return o.Name == st.Name }); i >= 0 && !before.Sources[i].Since.IsZero() {
				one.Since = before.Sources[i].Since
			}
		}
		now.Sources = append(now.Sources, one)
	}
	s.ports[port] = now
	return now.Sources
}

// trouble keeps what was found wrong with the service.
func (s *sight) trouble(port string, list []notify.Trouble) {
	s.mu.Lock()
	defer s.mu.Unlock()
	look := s.ports[port]
	look.Troubles = map[string]notify.Trouble{}
	for _, t := range list {
		look.Troubles[t.Name] = t
	}
	s.ports[port] = look
}

// required tells whether a call can't do without a source: the warnings, and
// the official wind.
func required(name string) bool { return name == nws.AlertsName || name == nws.GridpointName }

// knownSince is how long the oldest age of a source may be told of: now, for
// metrics.
func (s sourceState) age(now time.Time) (time.Duration, bool) {
	if s.State == fetch.Missing {
		return 0, false
	}
	return now.Sub(s.fetched), true
}

// groundsInUse are the grounds that the days at hand go to: those of the
// bookings, or the first.
func groundsInUse(port config.Port, held []Booked) []config.Ground {
	var list []config.Ground
	add := func(g config.Ground) {
		if !slices.ContainsFunc(list, func(o config.Ground) bool { return o.Name == g.Name }) {
			list = append(list, g)
		}
	}
	for _, b := range held {
		if g, ok := port.Ground(b.Ground); ok && !b.Cancelled {
			add(g)
		}
	}
	if len(list) == 0 {
		add(port.Grounds[0])
	}
	return list
}

// tripZones are the zones whose products bind trips.
func tripZones(port config.Port) []string {
	var ids []string
	for _, z := range port.Zones {
		if z.Use == config.ZoneTrip {
			ids = append(ids, z.ID)
		}
	}
	return ids
}

// freshWarnings returns what the feed of warnings answered just now: only that
// tells what has ended.
func freshWarnings(c fetch.Collection, zones []string) (models.WarningsSeen, bool) {
	seen, ok := c.Seen.Get()
	if !ok || !slices.ContainsFunc(c.Sources, func(s fetch.Status) bool { return s.Name == nws.AlertsName && s.State == fetch.Fresh && s.Asked }) {
		return models.WarningsSeen{}, false
	}
	other := func(w models.Warning) bool { return !slices.Contains(zones, w.Zone) }
	seen.Listed = slices.DeleteFunc(slices.Clone(seen.Listed), other)
	seen.Over = slices.DeleteFunc(slices.Clone(seen.Over), func(o models.WarningOver) bool { return other(o.Warning) })
	return seen, true
}
