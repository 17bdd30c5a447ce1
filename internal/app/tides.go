package app

import (
	"time"

	"forecastd/config"
	"forecastd/internal/fetch"
	"forecastd/internal/models"
	"forecastd/internal/models/tide"
)

// predicted fills in tides and the inlet's stream from the configured harmonic
// constants where the service gave none: while it is down, and for days ahead
// that it was not asked for.
func (a *App) predicted(port config.Port, c *fetch.Collection) {
	start := c.At.Add(-12 * time.Hour)
	end := c.At.Add(horizon + 24*time.Hour)
	if s, ok := port.Tide.Get(); ok && len(s.Constants) > 0 && len(c.Tides) == 0 {
		c.Tides = a.ownTides(s, start, end, &c.Batch)
	}
	if s, ok := port.Current.Get(); ok && len(s.Constants) > 0 && len(c.Streams) == 0 {
		c.Streams = a.ownStreams(s, start, end, &c.Batch)
	}
}

func (a *App) ownTides(s config.TideStation, start, end time.Time, b *fetch.Batch) []models.TideEvent {
	from := models.Provenance{Source: "tide constants", Detail: "station " + s.ID + ", computed here"}
	station := tide.Station{ID: s.ID, Mean: s.Mean, Datum: "chart zero", From: from}
	for _, c := range s.Constants {
		station.Constituents = append(station.Constituents, tide.Constituent{Name: c.Name, Amplitude: c.Amplitude.Metres(), Phase: c.Phase})
	}
	extremes := station.Extremes
	if o, ok := s.Offsets.Get(); ok {
		extremes = tide.Subordinate{ID: s.ID, Name: "station " + s.ID, Reference: station, Offsets: tide.Offsets(o), From: from}.Extremes
	}
	events, err := extremes(start.Add(-s.Later), end.Add(-s.Later))
	if err != nil {
		a.log.Warn("compute the tide", "station", s.ID, "err", err)
		b.Notes = append(b.Notes, "the tide can't be computed from its constants: "+err.Error())
		return nil
	}
	for i := range events {
		events[i].At = events[i].At.Add(s.Later)
	}
	b.From = append(b.From, from)
	return events
}

func (a *App) ownStreams(s config.CurrentStation, start, end time.Time, b *fetch.Batch) []models.StreamEvent {
	from := models.Provenance{Source: "current constants", Detail: "station " + s.ID + ", computed here"}
	stream := tide.Stream{ID: s.ID, Axes: tide.Axes{Flood: s.Flood, Ebb: s.Ebb}, Mean: s.Mean, From: from}
	for _, c := range s.Constants {
		stream.Constituents = append(stream.Constituents, tide.Constituent{Name: c.Name, Amplitude: c.Amplitude.MetresPerSecond(), Phase: c.Phase})
	}
	turns := stream.CurrentEvents
	if o, ok := s.Offsets.Get(); ok {
		turns = tide.SubordinateStream{ID: s.ID, Name: "station " + s.ID, Axes: stream.Axes, Reference: stream, Offsets: tide.StreamOffsets(o), From: from}.CurrentEvents
	}
	events, err := turns(start.Add(-s.Later), end.Add(-s.Later))
	if err != nil {
		a.log.Warn("compute the stream", "station", s.ID, "err", err)
		b.Notes = append(b.Notes, "the inlet's stream can't be computed from its constants: "+err.Error())
		return nil
	}
	for i := range events {
		events[i].At = events[i].At.Add(s.Later)
	}
	b.From = append(b.From, from)
	return events
}
