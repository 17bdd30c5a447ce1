package tide

import (
	"fmt"
	"math"
	"sort"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Axes are the bearings that the flood and the ebb run toward. They need not
// be opposite.
type Axes struct{ Flood, Ebb units.Toward }

// Toward returns where a stream runs: on the flood axis for a positive speed,
// on the ebb axis for a negative one, unknown at slack.
//
// Reference: Own (definition).
func (a Axes) Toward(s units.Speed) models.Opt[units.Toward] {
	switch {
	case s > 0:
		return models.Known(a.Flood)
	case s < 0:
		return models.Known(a.Ebb)
	}
	return models.Unknown[units.Toward]()
}

// Stream is a place whose tidal stream has harmonic constants of its own.
// Amplitudes are in metres per second along the axis, flood positive.
type Stream struct {
	ID, Name string
	At       models.Position
	Axes
	// Mean is the flow that is left when the tide averages out.
	Mean         units.Speed
	Constituents []Constituent
	From         models.Provenance
}

// CurrentAt returns the predicted speed along the axis, flood positive.
// Unknown outside 1900 to 2100 and for a stream without constants or with one
// that is not known.
//
// Reference: Schureman1958.
func (s Stream) CurrentAt(t time.Time) models.Opt[units.Speed] {
	if year(t) != nil || check(s.Constituents) != nil {
		return models.Unknown[units.Speed]()
	}
	v, _ := newSum(float64(s.Mean), s.Constituents).at(t)
	return models.Known(units.Speed(v))
}

// CurrentEvents returns slack water and the strongest floods and ebbs from
// start up to end, in order of time. A weaker spell within a flood or an ebb
// is no event. Errors as Station.Extremes.
//
// Reference: Schureman1958.
func (s Stream) CurrentEvents(start, end time.Time) ([]models.StreamEvent, error) {
	if err := ready(s.Name, s.Constituents, start, end); err != nil {
		return nil, err
	}
	sum := newSum(float64(s.Mean), s.Constituents)
	var out []models.StreamEvent
	zeros(start, end, func(t time.Time) float64 { v, _ := sum.at(t); return v },
		func(at time.Time, _ bool) {
			out = append(out, models.StreamEvent{At: at, Kind: models.Slack, From: s.From})
		})
	zeros(start, end, func(t time.Time) float64 { _, d := sum.at(t); return d },
		func(at time.Time, rises bool) {
			v, _ := sum.at(at)
			e := models.StreamEvent{At: at, Speed: units.Speed(v), Toward: s.Toward(units.Speed(v)), From: s.From}
			switch {
			case v > 0 && !rises:
				e.Kind = models.Flood
			case v < 0 && rises:
				e.Kind = models.Ebb
			default:
				return
			}
			out = append(out, e)
		})
	sort.SliceStable(out, func(i, j int) bool { return out[i].At.Before(out[j].At) })
	return out, nil
}

// StreamOffsets make the events of a subordinate stream from those of its
// reference stream.
type StreamOffsets struct {
	SlackBeforeFlood, SlackBeforeEbb time.Duration
	Flood, Ebb                       time.Duration
	FloodRatio, EbbRatio             float64
}

// SubordinateStream is a stream that is told by offsets.
type SubordinateStream struct {
	ID, Name string
	At       models.Position
	Axes
	Reference Stream
	Offsets   StreamOffsets
	From      models.Provenance
}

// CurrentEvents returns slack water and the strongest floods and ebbs from
// start up to end, in order of time. Errors as Station.Extremes, and for
// offsets of more than a day.
//
// Reference: NOAATidePredictions (current table 2 offsets).
func (s SubordinateStream) CurrentEvents(start, end time.Time) ([]models.StreamEvent, error) {
	o := s.Offsets
	most := max(o.SlackBeforeFlood.Abs(), o.SlackBeforeEbb.Abs(), o.Flood.Abs(), o.Ebb.Abs())
	if most > 24*time.Hour {
		return nil, fmt.Errorf("tidal stream at %s: a time offset of %v is longer than a day", s.Name, most)
	}
	if err := span(start, end); err != nil {
		return nil, fmt.Errorf("tidal stream at %s: %w", s.Name, err)
	}
	// Half a day more on each side: a slack needs to know what follows it.
	ref, err := s.Reference.CurrentEvents(start.Add(-most-12*time.Hour), end.Add(most+12*time.Hour))
	if err != nil {
		return nil, fmt.Errorf("tidal stream at %s: %w", s.Name, err)
	}
	var out []models.StreamEvent
	for i, e := range ref {
		shift, ratio := time.Duration(0), 0.0
		switch e.Kind {
		case models.Flood:
			shift, ratio = o.Flood, o.FloodRatio
		case models.Ebb:
			shift, ratio = o.Ebb, o.EbbRatio
		case models.Slack:
			shift = o.SlackBeforeEbb
			if next := nextStrong(ref[i+1:]); next == models.Flood {
				shift = o.SlackBeforeFlood
			}
		default:
			return nil, fmt.Errorf("tidal stream at %s: %q is neither flood, ebb nor slack", s.Name, e.Kind)
		}
		e.At, e.Speed, e.From = e.At.Add(shift), e.Speed*units.Speed(ratio), s.From
		e.Toward = s.Toward(e.Speed)
		if !e.At.Before(start) && e.At.Before(end) {
			out = append(out, e)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].At.Before(out[j].At) })
	return out, nil
}

func nextStrong(events []models.StreamEvent) models.StreamKind {
	for _, e := range events {
		if e.Kind != models.Slack {
			return e.Kind
		}
	}
	return models.Slack
}

// CurrentBetween returns the speed at t from published slacks and strongest
// floods and ebbs, flood positive: a quarter of a sine from slack to the
// strongest, half a cosine between two that no slack parts. Unknown before
// the first event, after the last, and where one is missing: between two
// slacks, and between two events more than 20 hours apart.
//
// Reference: NOAATidePredictions (current table 3).
func CurrentBetween(events []models.StreamEvent, t time.Time) models.Opt[units.Speed] {
	i := sort.Search(len(events), func(i int) bool { return events[i].At.After(t) })
	if i > 0 && events[i-1].At.Equal(t) {
		return models.Known(events[i-1].Speed)
	}
	if i == 0 || i == len(events) {
		return models.Unknown[units.Speed]()
	}
	a, b := events[i-1], events[i]
	gap := b.At.Sub(a.At)
	if gap > 20*time.Hour || a.Kind == models.Slack && b.Kind == models.Slack {
		return models.Unknown[units.Speed]()
	}
	x := float64(t.Sub(a.At)) / float64(gap)
	switch {
	case a.Kind == models.Slack:
		return models.Known(b.Speed * units.Speed(math.Sin(math.Pi/2*x)))
	case b.Kind == models.Slack:
		return models.Known(a.Speed * units.Speed(math.Cos(math.Pi/2*x)))
	}
	return models.Known(a.Speed + (b.Speed-a.Speed)*units.Speed((1-math.Cos(math.Pi*x))/2))
}
