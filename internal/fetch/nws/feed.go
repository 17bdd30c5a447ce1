package nws

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
)

// ReadAlerts reads the GeoJSON of the alerts service (RFC7946, with the
// members of CAP12) as the answer to a question about an area. Anything that
// is not a feature collection is an error: an empty list must come from the
// service. So is the answer to another question: a list of alerts none of
// which touches the area, or one whose title names other zones. It reads alert
// by alert and stops when ctx ends.
func ReadAlerts(ctx context.Context, body []byte, asked Area) (Feed, error) {
	r := &feedReader{ctx: ctx, asked: asked, dec: json.NewDecoder(bytes.NewReader(body))}
	if err := r.read(); err != nil {
		return Feed{}, fmt.Errorf("read alerts: %w", err)
	}
	return r.feed, nil
}

// feedReader reads one document.
type feedReader struct {
	ctx   context.Context
	asked Area
	dec   *json.Decoder
	feed  Feed

	kind     string
	features bool // the member was there, and a list
	items    int
	// unreadable counts the items that are no alerts, and why is what was
	// wrong with the first.
	unreadable int
	why        string
	left       int // notes not kept
}

func (r *feedReader) read() error {
	if err := r.open('{'); err != nil {
		return errors.New("the answer is no object")
	}
	for r.dec.More() {
		name, err := r.dec.Token()
		if err != nil {
			return err
		}
		if err := r.member(fmt.Sprint(name)); err != nil {
			return err
		}
	}
	if _, err := r.dec.Token(); err != nil {
		return err
	}
	if _, err := r.dec.Token(); !errors.Is(err, io.EOF) {
		return errors.New("something follows the list")
	}
	if r.kind != "FeatureCollection" || !r.features {
		return fmt.Errorf("the answer is no collection of features but %q", r.kind)
	}
	r.finish()
	return r.question()
}

// open reads the bracket that begins an object or a list.
func (r *feedReader) open(want json.Delim) error {
	t, err := r.dec.Token()
	if err != nil {
		return err
	}
	if t != want {
		return fmt.Errorf("there is %v in place of %v", t, want)
	}
	return nil
}

func (r *feedReader) member(name string) error {
	if name == "features" {
		return r.list()
	}
	var raw json.RawMessage
	if err := r.dec.Decode(&raw); err != nil {
		return err
	}
	one := object{name: raw}
	switch name {
	case "type":
		r.kind = one.text(name)
	case "title":
		r.feed.Title = one.line(name)
	case "updated":
		r.feed.Updated = one.time(name)
	case "pagination":
		if next := one.object(name).text("next"); next != "" {
			r.feed.Partial = "the service gave the first page of several"
		}
	}
	return nil
}

func (r *feedReader) list() error {
	if err := r.open('['); err != nil {
		return fmt.Errorf("the answer is no collection of features: %w", err)
	}
	r.features = true
	for r.dec.More() {
		if r.items++; r.items%256 == 0 && r.ctx.Err() != nil {
			return context.Cause(r.ctx)
		}
		if r.items > maxItems {
			return fmt.Errorf("it has over %d items, which no real answer has", maxItems)
		}
		var raw json.RawMessage
		if err := r.dec.Decode(&raw); err != nil {
			return err
		}
		r.item(raw)
	}
	_, err := r.dec.Token()
	return err
}

func (r *feedReader) item(raw json.RawMessage) {
	a, notes, err := readAlert(raw)
	if err != nil {
		if r.unreadable++; r.unreadable == 1 {
			r.why = fmt.Sprintf("alert %d of the feed can't be read and counts as an unnamed one: %v", r.items, err)
		}
		return
	}
	if !r.asked.touches(a) {
		r.feed.Foreign++
		if len(a.Areas) == 0 {
			return
		}
	} else {
		r.feed.Ours++
	}
	for _, n := range notes {
		if len(r.feed.Notes) == maxNotes {
			r.left++
			continue
		}
		r.feed.Notes = append(r.feed.Notes, n)
	}
	if r.feed.Alerts = append(r.feed.Alerts, a); len(r.feed.Alerts) >= 2*MaxAlerts {
		r.cut()
	}
}

// cut keeps the gravest alerts, in the order of the feed.
func (r *feedReader) cut() {
	if len(r.feed.Alerts) <= MaxAlerts {
		return
	}
	ranks := make([]int, 0, len(r.feed.Alerts))
	for _, a := range r.feed.Alerts {
		ranks = append(ranks, a.gravity(r.asked))
	}
	sorted := slices.Clone(ranks)
	slices.SortFunc(sorted, func(a, b int) int { return cmp.Compare(b, a) })
	least := sorted[MaxAlerts-1]
	room := MaxAlerts
	for _, g := range sorted {
		if g > least {
			room--
		}
	}
	kept := r.feed.Alerts[:0]
	for i, a := range r.feed.Alerts {
		switch {
		case ranks[i] > least:
			kept = append(kept, a)
		case ranks[i] == least && room > 0:
			kept = append(kept, a)
			room--
		}
	}
	clear(r.feed.Alerts[len(kept):])
	r.feed.Alerts = slices.Clip(kept)
	r.feed.Partial = fmt.Sprintf("the feed holds more than %d alerts, the gravest of them are kept", MaxAlerts)
}

// gravity orders alerts for keeping: warnings before watches, advisories and
// the rest, what ends an event last. It is no judgement of the weather.
func (a Alert) gravity(asked Area) int {
	if !asked.touches(a) || a.test() {
		return -1
	}
	rank, over := 0, a.Urgency == "Past" || a.MessageType == "Cancel"
	for _, v := range a.VTEC {
		if !v.terminal() {
			over = false
			rank = max(rank, map[string]int{"W": 4, "A": 3, "Y": 2}[v.Significance])
		} else if len(a.VTEC) == 1 {
			over = true
		}
	}
	if len(a.VTEC) == 0 {
		for word, n := range map[string]int{"Warning": 4, "Watch": 3, "Advisory": 2} {
			if strings.HasSuffix(a.Event, word) {
				rank = n
			}
		}
	}
	if over {
		return 0
	}
	return rank + 1
}

// finish makes what could not be read into one unnamed alert and tells what
// was left out.
func (r *feedReader) finish() {
	r.cut()
	if r.unreadable > 0 {
		r.feed.Ours++
		r.feed.Alerts = append(r.feed.Alerts, Alert{Unreadable: true, Event: unreadableEvent})
		if r.unreadable > 1 {
			r.why = fmt.Sprintf("%d alerts of the feed can't be read and count as one unnamed; the first: %s", r.unreadable, r.why)
		}
		r.feed.Notes = append(r.feed.Notes, r.why)
	}
	if r.left > 0 {
		r.feed.Notes = append(r.feed.Notes, fmt.Sprintf("%d more notes on single alerts are left out", r.left))
	}
}

// titled finds the zones that a title names: "Current watches, warnings, and
// advisories for Philadelphia County (PAC101) PA", seen in public clients'
// tests.
var titled = regexp.MustCompile(`\(([A-Z]{2}[CZ]\d{3})\)`)

// question tells whether the list answers another question than ours.
func (r *feedReader) question() error {
	if len(r.asked.Zones) == 0 {
		return nil
	}
	if r.feed.Foreign > 0 && r.feed.Ours == 0 {
		return fmt.Errorf("it answers another question: none of its %d alerts is for %s", r.feed.Foreign, strings.Join(r.asked.Zones, ", "))
	}
	var named []string
	for _, m := range titled.FindAllStringSubmatch(r.feed.Title, -1) {
		named = append(named, m[1])
	}
	if len(named) > 0 && !slices.ContainsFunc(named, func(z string) bool { return slices.Contains(r.asked.Zones, z) }) {
		return fmt.Errorf("it answers another question: its title is of %s, not of %s", strings.Join(named, ", "), strings.Join(r.asked.Zones, ", "))
	}
	return nil
}
