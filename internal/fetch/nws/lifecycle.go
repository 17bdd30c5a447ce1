package nws

import (
	"cmp"
	"slices"
	"time"

	"forecastd/internal/models"
)

// message is what one issuance says about one event in one zone.
type message struct {
	// id is the identifier of the issuance; replaces are those of earlier
	// ones that it takes the place of.
	id       string
	replaces []string
	sent     time.Time
	zone     string
	// relevant says that the zone, or the product's polygon, is one we asked
	// about. The others are followed only because the next issuance may be.
	relevant bool
	// passesBy says that the product's polygon reaches none of our positions.
	passesBy bool
	// vtec is unknown for products without.
	vtec models.Opt[VTEC]
	// firstSent is when the oldest issuance that the message refers to was
	// sent; zero if it refers to none. It tells the year of the event.
	firstSent time.Time
	// withdrawn says, for products without VTEC, that the event is over.
	withdrawn bool
	// warning is what people read. Its Onset is the message's own idea, which
	// holds unless the VTEC or an earlier message knows better.
	warning models.Warning
}

// eventKey tells events apart, zone by zone: one event often ends at
// different times in different zones.
type eventKey struct {
	office, phenomenon, significance string
	number, year                     int
	// sender, event and onset are for products without VTEC.
	sender, event string
	onset         time.Time
	zone          string
}

// entry is what is known about one event in one zone.
type entry struct {
	last   message // the newest
	onset  time.Time
	seen   bool
	missed int // complete answers in a row without it
	// replaced says that a newer message without VTEC took its place.
	replaced bool
}

// ledger follows events through the issuances about them. Feeds hold several
// generations of one event, mark cancelled ones by nothing but the VTEC
// action, and lose events for a while; what counts is the newest issuance
// that was ever seen. The zero ledger is empty. It is not for concurrent use.
//
// Its memory is bounded by what three answers of a feed hold: an event that
// two complete answers in a row do not mention is forgotten.
type ledger struct {
	entries map[eventKey]*entry
}

// gone is how many complete answers in a row have to lack an event before it
// counts as over although nobody said so: feeds are served from stale copies.
const gone = 2

// apply takes in the messages of one complete answer of a feed.
func (l *ledger) apply(messages []message) {
	for _, e := range l.entries {
		e.seen = false
	}
	l.add(messages)
	for k, e := range l.entries {
		if e.seen {
			e.missed = 0
			continue
		}
		if e.missed++; e.missed >= gone {
			delete(l.entries, k)
		}
	}
}

// add takes in messages, the oldest first. Of two sent in the same minute the
// one that keeps the event in force wins.
func (l *ledger) add(messages []message) {
	if l.entries == nil {
		l.entries = map[eventKey]*entry{}
	}
	ordered := slices.Clone(messages)
	slices.SortStableFunc(ordered, func(a, b message) int {
		return cmp.Or(a.sent.Compare(b.sent), -compareBool(a.over(), b.over()))
	})
	for _, m := range ordered {
		k := l.key(m)
		e := l.entries[k]
		if e == nil {
			e = &entry{}
			l.entries[k] = e
		}
		e.seen = true
		if !e.last.sent.IsZero() && !m.newerThan(e.last) {
			continue // an older generation
		}
		e.onset = onset(m, e)
		e.replaced = e.replaced && e.last.id == m.id
		e.last = m
		if !m.vtec.Known() {
			l.replace(m)
		}
	}
}

// newerThan tells whether m takes the place of old: it was sent later, or at
// the same time and does not end what old keeps in force.
func (m message) newerThan(old message) bool {
	if m.sent.Equal(old.sent) {
		return old.over() || !m.over()
	}
	return m.sent.After(old.sent)
}

// onset is when the event of m begins, given what was known before. An event
// that is under way keeps the earliest beginning known, unless it was over since.
func onset(m message, before *entry) time.Time {
	v, ok := m.vtec.Get()
	if begin, known := v.Begin.Get(); ok && known && !v.terminal() {
		return begin
	}
	own := m.warning.Onset
	if ok && own.After(m.sent) {
		own = m.sent // under way
	}
	if !before.onset.IsZero() && !before.last.over() && before.onset.Before(own) {
		return before.onset
	}
	return own
}

// replace marks the events without VTEC that m takes the place of.
func (l *ledger) replace(m message) {
	for _, e := range l.entries {
		if !e.last.vtec.Known() && e.last.id != m.id && e.last.sent.Before(m.sent) &&
			e.last.zone == m.zone && slices.Contains(m.replaces, e.last.id) {
			e.replaced = true
		}
	}
}

// key finds which event a message is about. Event numbers start again each
// year, and the year that counts is that of the first issuance: an event that
// crosses New Year keeps its number.
func (l *ledger) key(m message) eventKey {
	v, ok := m.vtec.Get()
	if !ok {
		return eventKey{sender: m.warning.Office, event: m.warning.Event, onset: m.warning.Onset, zone: m.zone}
	}
	k := eventKey{
		office: v.Office, phenomenon: v.Phenomenon, significance: v.Significance,
		number: v.Number, year: m.sent.UTC().Year(), zone: m.zone,
	}
	if v.Action == ActionNew {
		return k
	}
	if y := m.firstSent.UTC().Year(); !m.firstSent.IsZero() && y < k.year {
		k.year = y
	}
	if begin, ok := v.Begin.Get(); ok && begin.Year() < k.year {
		k.year = begin.Year()
	}
	if l.entries[k] == nil {
		before := k
		before.year--
		if e := l.entries[before]; e != nil && !e.endedBy(m.sent) {
			return before
		}
	}
	return k
}

func (e *entry) endedBy(at time.Time) bool {
	end, ok := e.last.warning.Ends.Get()
	return ok && end.Before(at)
}

// over tells whether the message ends its event, whatever time it gives.
func (m message) over() bool {
	v, ok := m.vtec.Get()
	if !ok {
		return m.withdrawn
	}
	// Without an end "expired" can only mean now.
	return v.terminal() || v.Action == ActionExpire && !m.warning.Ends.Known()
}

// standing is an event in force or coming.
type standing struct {
	models.Warning
	// unmentioned says that the last answer of the feed lacked it.
	unmentioned bool
	passesBy    bool
}

// current answers what is in force or coming at a time, by onset.
func (l *ledger) current(at time.Time) []standing {
	var out []standing
	for _, e := range l.entries {
		if !e.last.relevant || e.replaced || e.last.over() {
			continue
		}
		w := e.last.warning
		w.Onset = e.onset
		if end, ok := w.Ends.Get(); ok {
			if !at.Before(end) {
				continue
			}
			if end.Before(w.Onset) { // can't be: count it from its issue
				w.Onset = w.Issued
				if end.Before(w.Issued) {
					w.Onset = end
				}
			}
		}
		out = append(out, standing{w, e.missed > 0, e.last.passesBy})
	}
	slices.SortFunc(out, func(a, b standing) int {
		return cmp.Or(a.Onset.Compare(b.Onset), cmp.Compare(a.Zone, b.Zone), cmp.Compare(a.Event, b.Event),
			cmp.Compare(a.VTEC, b.VTEC), a.Issued.Compare(b.Issued), cmp.Compare(a.URL, b.URL))
	})
	return out
}

func warningsOf(all []standing) []models.Warning {
	out := make([]models.Warning, 0, len(all))
	for _, s := range all {
		out = append(out, s.Warning)
	}
	return out
}

func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}
