package nws

import (
	"encoding/json"
	"fmt"
	"sort"
	"strings"
	"time"

	"forecastd/internal/models"
)

// span is a value that holds for an interval.
type span struct {
	models.Interval
	value float64
}

// layer is one quantity of a grid over time, by start.
type layer struct{ spans []span }

// at answers the value at an instant. Where intervals overlap, the one that
// begins last wins; where there is none, the value is unknown.
func (l layer) at(t time.Time) models.Opt[float64] {
	after := sort.Search(len(l.spans), func(i int) bool { return l.spans[i].Start.After(t) })
	for i := after - 1; i >= 0; i-- {
		if l.spans[i].Contains(t) {
			return models.Known(l.spans[i].value)
		}
	}
	return models.Unknown[float64]()
}

func (l *layer) sort() {
	sort.SliceStable(l.spans, func(i, j int) bool { return l.spans[i].Start.Before(l.spans[j].Start) })
}

// maxSpans bounds the intervals of a layer; real ones have under 200.
const maxSpans = 2000

// readLayer reads an instantaneous layer: its value holds for the whole of
// each interval. A layer that is absent or empty is unknown throughout.
func readLayer(raw json.RawMessage, name string, q quantity, now time.Time) (layer, []string) {
	if len(raw) == 0 || string(raw) == "null" {
		return layer{}, nil
	}
	var doc struct {
		UOM    string
		Values []object
	}
	if err := json.Unmarshal(raw, &doc); err != nil {
		return layer{}, []string{fmt.Sprintf("the layer %s can't be read and is unknown: %v", name, err)}
	}
	if len(doc.Values) == 0 {
		return layer{}, nil
	}
	unit := doc.UOM[strings.LastIndexByte(doc.UOM, ':')+1:]
	convert, ok := q.units[unit]
	if !ok {
		return layer{}, []string{fmt.Sprintf("the layer %s is in %q, which is not known, and is left out", name, doc.UOM)}
	}
	if len(doc.Values) > maxSpans {
		return layer{}, []string{fmt.Sprintf("the layer %s has %d intervals and is left out", name, len(doc.Values))}
	}
	var l layer
	times, values := 0, 0
	for _, o := range doc.Values {
		i, err := ParseInterval(o.text("validTime"), now)
		if err != nil {
			times++
			continue
		}
		var v *float64
		if json.Unmarshal(o["value"], &v) != nil {
			values++
			continue
		}
		if v == nil {
			continue
		}
		if si := convert(*v); si >= q.low && si <= q.high {
			l.spans = append(l.spans, span{i, si})
		} else if *v != 0 { // a zero below the range stands for none
			values++
		}
	}
	l.sort()
	var notes []string
	if times > 0 {
		notes = append(notes, fmt.Sprintf("the layer %s has %d intervals whose time can't be read; they are unknown", name, times))
	}
	if values > 0 {
		notes = append(notes, fmt.Sprintf("the layer %s has %d values that can't be; they are unknown", name, values))
	}
	return l, notes
}

// readThunderWords makes chances of thunder from the weather layer, for hours
// when the grid has no number. The service's terms stand for 15-24 %
// (isolated, slight chance), 25-54 % (scattered, chance), 55-74 % (numerous,
// likely) and more; their middle is taken. An hour whose weather does not
// speak of thunder stays unknown. The classes are those of the service's
// directive on forecast terms (from memory).
func readThunderWords(raw json.RawMessage, now time.Time) (layer, []string) {
	if len(raw) == 0 || string(raw) == "null" {
		return layer{}, nil
	}
	var doc struct {
		Values []struct {
			ValidTime string
			Value     []struct{ Coverage, Weather *string }
		}
	}
	if err := json.Unmarshal(raw, &doc); err != nil {
		return layer{}, []string{fmt.Sprintf("the layer weather can't be read and is unknown: %v", err)}
	}
	if len(doc.Values) > maxSpans {
		return layer{}, []string{fmt.Sprintf("the layer weather has %d intervals and is left out", len(doc.Values))}
	}
	chances := map[string]float64{
		"isolated": 20, "slight_chance": 20, "few": 20,
		"scattered": 40, "chance": 40, "areas": 40, "patchy": 20,
		"numerous": 65, "likely": 65,
		"widespread": 90, "definite": 90, "occasional": 90, "frequent": 90, "periods": 90, "intermittent": 90, "brief": 90,
	}
	var l layer
	for _, v := range doc.Values {
		i, err := ParseInterval(v.ValidTime, now)
		if err != nil {
			continue
		}
		highest := 0.0
		for _, w := range v.Value {
			if w.Weather == nil || *w.Weather != "thunderstorms" {
				continue
			}
			chance := 90.0 // thunder in words that we do not know is not less
			if w.Coverage != nil {
				if c, ok := chances[*w.Coverage]; ok {
					chance = c
				}
			}
			highest = max(highest, chance)
		}
		if highest > 0 {
			l.spans = append(l.spans, span{i, highest})
		}
	}
	l.sort()
	return l, nil
}
