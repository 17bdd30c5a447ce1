package nws

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"forecastd/internal/models"
)

// Bounds of one answer of the alerts service. A real answer for a few zones
// holds under a hundred alerts; the whole country's had 1,171 (December 2025).
const (
	// MaxAlerts is how many alerts for the zones asked for are kept; beyond it
	// the gravest are, and the answer is no longer the whole list.
	MaxAlerts = 1000
	// maxForeign is how many zones of one alert are followed that were not
	// asked for, and maxCodes how many event codes are read.
	maxForeign, maxCodes = 500, 16
	// maxItems is how many items one answer may have: with more of them a body
	// within our limit has no room for real alerts.
	maxItems = 50_000
	// maxNotes is how many notes on single alerts are kept.
	maxNotes = 50
)

// Feed is an answer of the alerts service, as far as it concerns the area
// asked about.
type Feed struct {
	Alerts []Alert
	// Updated is when the service made the list, by its own word: in a list
	// saved on 15 December 2025 it lies 74 seconds before the saving. Title is
	// what it says that the list is of.
	Updated models.Opt[time.Time]
	Title   string
	// Ours counts the items that touch the area asked about, those that can't
	// be read included, and Foreign those that do not.
	Ours, Foreign int
	// Partial tells why the list is not whole, so that nothing follows from
	// what it lacks; empty where it is.
	Partial string
	// Notes tell what could not be read, one plain sentence each.
	Notes []string
}

// Alert is one alert as the service gives it. Texts are verbatim. Fields that
// are absent, null or not what they should be are empty or unknown.
type Alert struct {
	ID, URL                              string
	Event, SenderName                    string
	Headline, Description, Instruction   string
	Status, MessageType, Urgency         string
	Sent, Effective, Onset, Ends, Expire models.Opt[time.Time]
	// Zones are the universal geographic codes; Names pair with them, or are
	// empty.
	Zones, Names []string
	VTEC         []VTEC
	References   []Reference
	// Areas are the outer rings of the polygon, for products that have one.
	Areas [][]models.Position
	// Unreadable marks an item of the feed that is no alert to us. It is
	// kept, since leaving it out would say that nothing is in force.
	Unreadable bool
}

// Reference names an earlier message that an alert updates or cancels.
type Reference struct {
	ID   string
	Sent models.Opt[time.Time]
}

// unreadableEvent stands for the name of a product that can't be read; it is
// no official name and is judged as any other event.
const unreadableEvent = "Unreadable Alert"

// object is a JSON object whose members are read one by one, so that one bad
// member does not take the rest with it.
type object map[string]json.RawMessage

func (o object) text(name string) string {
	var s string
	if o[name] == nil || json.Unmarshal(o[name], &s) != nil {
		return ""
	}
	return models.PlainText(s)
}

// line reads a text that stands in one line.
func (o object) line(name string) string { return models.PlainLine(o.text(name)) }

// texts reads an array of strings or a single one.
func (o object) texts(name string) []string {
	var list []string
	if o[name] == nil {
		return nil
	}
	if json.Unmarshal(o[name], &list) == nil {
		for i, s := range list {
			list[i] = models.PlainLine(s)
		}
		return list
	}
	if s := o.text(name); s != "" {
		return []string{s}
	}
	return nil
}

func (o object) time(name string) models.Opt[time.Time] {
	return rfc3339(o.text(name))
}

func (o object) object(name string) object {
	var inner object
	if o[name] == nil || json.Unmarshal(o[name], &inner) != nil {
		return nil
	}
	return inner
}

// rfc3339 reads a time; what is before 2000 is no time of an alert.
func rfc3339(s string) models.Opt[time.Time] {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil || t.UTC().Year() < 2000 {
		return models.Unknown[time.Time]()
	}
	return models.Known(t.UTC())
}

func readAlert(raw json.RawMessage) (Alert, []string, error) {
	var feature object
	if err := json.Unmarshal(raw, &feature); err != nil {
		return Alert{}, nil, err
	}
	p := feature.object("properties")
	if len(p) == 0 {
		return Alert{}, nil, errors.New("it has no properties")
	}
	a := Alert{
		ID: p.line("id"), URL: feature.line("id"),
		Event: p.line("event"), SenderName: p.line("senderName"),
		Headline: p.line("headline"), Description: p.text("description"), Instruction: p.text("instruction"),
		Status: word(p.line("status")), MessageType: word(p.line("messageType")), Urgency: word(p.line("urgency")),
		Sent: p.time("sent"), Effective: p.time("effective"), Onset: p.time("onset"),
		Ends: p.time("ends"), Expire: p.time("expires"),
		Zones: p.object("geocode").texts("UGC"),
	}
	if a.ID == "" {
		a.ID = a.URL
	}
	if a.ID == "" && a.Event == "" && p["parameters"] == nil && !a.Sent.Known() {
		return Alert{}, nil, errors.New("it has neither an id nor a name nor a time")
	}
	if len(a.Zones) == 0 {
		for _, url := range p.texts("affectedZones") {
			a.Zones = append(a.Zones, url[strings.LastIndexByte(url, '/')+1:])
		}
	}
	for i, z := range a.Zones {
		a.Zones[i] = strings.ToUpper(strings.TrimSpace(z))
	}
	if names := strings.Split(p.text("areaDesc"), "; "); len(names) == len(a.Zones) {
		for _, n := range names {
			a.Names = append(a.Names, models.PlainLine(n))
		}
	}
	parameters := p.object("parameters")
	a.Ends = a.Ends.Else(first(parameters.texts("eventEndingTime"), rfc3339))
	var notes []string
	note := func(format string, args ...any) {
		notes = append(notes, fmt.Sprintf("alert %q (%q): ", a.ID, a.Event)+fmt.Sprintf(format, args...))
	}
	for _, s := range parameters.texts("VTEC") {
		if len(a.VTEC) > maxCodes {
			break
		}
		found := ParseVTEC(s)
		if len(found) == 0 && strings.Contains(s, ".") && !strings.HasPrefix(s, "/0") {
			note("its event code %q can't be read, it is followed by name", s)
		}
		a.VTEC = append(a.VTEC, found...)
	}
	if len(a.VTEC) > maxCodes {
		a.VTEC = a.VTEC[:maxCodes]
		note("it has more than %d event codes, the others are left out", maxCodes)
	}
	a.References = readReferences(p, parameters)
	var ok bool
	if a.Areas, ok = readAreas(feature.object("geometry")); !ok {
		note("its polygon can't be read, the zones decide")
	}
	return a, notes, nil
}

// word is one of the words of CAP12, whatever its case: "Actual".
func word(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + strings.ToLower(s[1:])
}

// first applies read to the first of a list.
func first[T any](list []string, read func(string) models.Opt[T]) models.Opt[T] {
	if len(list) == 0 {
		return models.Unknown[T]()
	}
	return read(list[0])
}

// readReferences reads the messages that an alert takes the place of, those
// that have expired since included: "sender,identifier,sent", blank-separated.
func readReferences(p, parameters object) []Reference {
	var out []Reference
	var list []object
	if json.Unmarshal(p["references"], &list) == nil {
		for _, r := range list {
			if id := r.line("identifier"); id != "" {
				out = append(out, Reference{ID: id, Sent: r.time("sent")})
			}
		}
	}
	for _, s := range parameters.texts("expiredReferences") {
		for _, triple := range strings.Fields(s) {
			if f := strings.Split(triple, ","); len(f) == 3 {
				out = append(out, Reference{ID: f[1], Sent: rfc3339(f[2])})
			}
		}
	}
	return out
}

// readAreas reads the outer rings of a polygon or several. Holes are filled:
// that errs on the safe side. No geometry is fine.
func readAreas(g object) (areas [][]models.Position, ok bool) {
	var polygons [][][][]float64
	switch g.text("type") {
	case "Polygon":
		var one [][][]float64
		if json.Unmarshal(g["coordinates"], &one) != nil {
			return nil, false
		}
		polygons = append(polygons, one)
	case "MultiPolygon":
		if json.Unmarshal(g["coordinates"], &polygons) != nil {
			return nil, false
		}
	default:
		return nil, len(g) == 0
	}
	for _, rings := range polygons {
		if len(rings) == 0 || len(rings[0]) < 4 {
			return nil, false
		}
		var ring []models.Position
		for _, c := range rings[0] {
			if len(c) < 2 {
				return nil, false
			}
			at := models.Position{Lat: c[1], Lon: c[0]} // GeoJSON puts the longitude first
			if !at.Valid() {
				return nil, false
			}
			ring = append(ring, at)
		}
		areas = append(areas, ring)
	}
	return areas, len(areas) > 0
}

// Area is what alerts are asked for: forecast zones, and the positions that
// polygons are tested against, in the order of the way out (port, ground).
type Area struct {
	Zones     []string
	Positions []models.Position
}

// messages breaks the alerts of a feed down by event and zone.
func (asked Area) messages(feed Feed, fetched time.Time) []message {
	var out []message
	for _, a := range feed.Alerts {
		out = append(out, asked.split(a, fetched)...)
	}
	return out
}

func (asked Area) split(a Alert, fetched time.Time) []message {
	if a.test() {
		return nil
	}
	events := operational(a.VTEC)
	if len(a.VTEC) > 0 && len(events) == 0 {
		return nil // tests and experiments
	}
	zones := a.Zones
	if len(zones) == 0 {
		zones = asked.Zones // we asked for these
	}
	area, hit := reaches(a.Areas, asked.Positions)
	ids, firstSent := a.replaces()
	var out []message
	foreign := 0
	for i, zone := range zones {
		mine := slices.Contains(asked.Zones, zone)
		if !mine {
			if foreign++; len(a.Areas) == 0 || foreign > maxForeign {
				continue
			}
		}
		m := a.message(zone, fetched)
		m.replaces, m.firstSent = ids, firstSent
		m.warning.Area = area
		m.relevant = mine || hit
		m.passesBy = !hit && len(a.Areas) > 0 && len(asked.Positions) > 0
		if len(a.Names) == len(a.Zones) && i < len(a.Names) {
			m.warning.ZoneName = a.Names[i]
		}
		if len(events) == 0 {
			out = append(out, m)
		}
		for _, v := range events {
			out = append(out, m.about(v, a.Ends, len(events) > 1))
		}
	}
	return out
}

// touches tells whether an alert concerns the area asked about. One without
// zones does: the service gave it as the answer to our question.
func (asked Area) touches(a Alert) bool {
	if len(asked.Zones) == 0 || len(a.Zones) == 0 || slices.ContainsFunc(a.Zones, func(z string) bool { return slices.Contains(asked.Zones, z) }) {
		return true
	}
	_, hit := reaches(a.Areas, asked.Positions)
	return hit
}

// test tells whether an alert is not meant for the public. A status or a type
// of message that CAP12 does not know is taken for meant.
func (a Alert) test() bool {
	switch a.Status {
	case "Exercise", "System", "Test", "Draft":
		return true
	}
	return a.MessageType == "Ack" || a.MessageType == "Error"
}

// replaces are the messages that an alert takes the place of, and when the
// first of them was sent.
func (a Alert) replaces() (ids []string, firstSent time.Time) {
	for _, r := range a.References {
		ids = append(ids, r.ID)
		if t, ok := r.Sent.Get(); ok && (firstSent.IsZero() || t.Before(firstSent)) {
			firstSent = t
		}
	}
	return ids, firstSent
}

func operational(all []VTEC) []VTEC {
	var out []VTEC
	for _, v := range all {
		if v.Operational() {
			out = append(out, v)
		}
	}
	return out
}

// message is the alert as a message about one zone, without its VTEC.
func (a Alert) message(zone string, fetched time.Time) message {
	stated := a.Sent.Else(a.Effective).Else(a.Onset)
	sent := stated.Or(fetched)
	m := message{
		id: a.ID, sent: sent, zone: zone, undated: !stated.Known(), begins: a.Onset.Else(a.Effective).Known(),
		withdrawn: a.Urgency == "Past" || a.MessageType == "Cancel",
		ends:      a.Ends.Known(),
		warning: models.Warning{
			Event: a.Event, Zone: zone, Office: a.SenderName, Issued: sent,
			Onset:    a.Onset.Else(a.Effective).Or(sent),
			Ends:     a.Ends.Else(a.Expire),
			Headline: a.Headline, Text: a.Description, Instruction: a.Instruction,
			URL:  a.URL,
			From: models.Provenance{Source: AlertsName, Detail: zone, Issued: sent, Fetched: fetched},
		},
	}
	if m.warning.Event == "" {
		m.warning.Event = unreadableEvent
	}
	return m
}

// about is the message as one of the events that its product names. An end
// that the code does not give is the one stated beside it, never the time
// when the text is to be replaced.
func (m message) about(v VTEC, stated models.Opt[time.Time], several bool) message {
	m.vtec, m.ends = models.Known(v), true
	w := &m.warning
	w.VTEC, w.Phenomenon, w.Significance = v.Raw, v.Phenomenon, v.Significance
	if name := v.Event(); name != "" && (several || w.Event == unreadableEvent) {
		w.Event = name
	}
	if w.Office == "" {
		w.Office = v.Office
	}
	w.Ends = v.End
	if !v.OpenEnd {
		w.Ends = v.End.Else(stated)
	}
	return m
}
