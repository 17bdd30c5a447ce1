package nws

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"forecastd/internal/fetch"
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
	// undated says that the message gives no time at all, so that sent is when
	// it was fetched; begins that it says when the event begins, and ends that
	// it says when the event ends, and not only when its text does.
	undated, begins, ends bool
	// doubtful says that it was sent in the future: it is followed while no
	// other is known, and takes no other's place.
	doubtful bool
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
	last  message // the newest
	onset time.Time
	// life names the event where its office went on with it under another
	// number.
	life string
	seen bool
	// missed counts the complete answers in a row without it, and missedAt is
	// when the last that counted was made.
	missed   int
	missedAt time.Time
	// replaced says that a newer message without VTEC, or the same event under
	// another number, took its place, and withdrawn that it withdrew it.
	replaced, withdrawn bool
}

// ledger follows events through the issuances about them. Feeds hold several
// generations of one event, mark cancelled ones by nothing but the VTEC
// action, and lose events for a while; what counts is the newest issuance
// that was ever seen. The zero ledger is empty. It is not for concurrent use.
//
// Its memory is bounded by what three answers of a feed hold: an event that
// two complete answers in a row do not mention is forgotten. Its work grows
// with the number of messages and no faster.
type ledger struct {
	entries map[eventKey]*entry
	// doubted are the messages of the last answer that came from the future
	// when they were first seen: they do not become sound by waiting.
	doubted map[string]bool
}

const (
	// gone is how many complete answers in a row have to lack an event before
	// it counts as over although nobody said so: feeds are served from stale
	// copies.
	gone = models.WarningGoneAfter
	// apart is how long after the first of them the second has to have been
	// made.
	apart = models.WarningGoneApart
	// skew is how far ahead of the service's own clock a message may be sent.
	skew = fetch.Skew
)

// apply takes in the messages of one complete answer of a feed, made at a
// time.
func (l *ledger) apply(messages []message, made time.Time) {
	before := make(map[eventKey]bool, len(l.entries))
	for k := range l.entries {
		before[k] = true
	}
	l.add(messages, made)
	l.renumber(before)
	for k, e := range l.entries {
		if e.seen {
			e.missed, e.missedAt = 0, time.Time{}
			continue
		}
		if e.missed > 0 && made.Sub(e.missedAt) < apart {
			continue // the same state of the feed, asked twice
		}
		e.missedAt = made
		if e.missed++; e.missed >= gone {
			delete(l.entries, k)
		}
	}
}

// add takes in messages, the oldest first. Of two sent in the same minute the
// one that keeps the event in force wins. Messages sent after made are
// doubted.
func (l *ledger) add(messages []message, made time.Time) {
	if l.entries == nil {
		l.entries = map[eventKey]*entry{}
	}
	for _, e := range l.entries {
		e.seen = false
	}
	ordered, doubted := slices.Clone(messages), map[string]bool{}
	for i := range ordered {
		m := &ordered[i]
		if m.sent.After(made.Add(skew)) || l.doubted[m.id] {
			m.doubtful, doubted[m.id] = true, true
			if m.warning.Onset.Equal(m.sent) {
				m.warning.Onset = made // it gives no beginning of its own
			}
		}
	}
	l.doubted = doubted
	slices.SortStableFunc(ordered, func(a, b message) int {
		return cmp.Or(-compareBool(a.doubtful, b.doubtful), a.sent.Compare(b.sent), -compareBool(a.over(), b.over()))
	})
	plain := map[issue][]*entry{}
	for _, e := range l.entries {
		if !e.last.vtec.Known() {
			plain[e.last.issue()] = append(plain[e.last.issue()], e)
		}
	}
	for _, m := range ordered {
		k := l.key(m, made)
		e := l.entries[k]
		if e == nil {
			e = &entry{}
			l.entries[k] = e
		}
		e.seen = true
		if !e.last.sent.IsZero() && !m.newerThan(e.last) {
			continue // an older generation
		}
		if m.undated && e.last.undated && !e.last.sent.IsZero() {
			m.sent, m.warning.Issued, m.warning.From.Issued = e.last.sent, e.last.warning.Issued, e.last.warning.From.Issued
		}
		e.onset = onset(m, e)
		e.replaced = e.replaced && e.last.id == m.id
		e.last = m
		if m.vtec.Known() {
			continue
		}
		if m.id != "" {
			plain[m.issue()] = append(plain[m.issue()], e)
		}
		for _, id := range m.replaces {
			for _, old := range plain[issue{id, m.zone}] {
				if old.last.id == id && id != m.id && old.last.sent.Before(m.sent) {
					old.replaced, old.withdrawn = true, m.over()
				}
			}
			delete(plain, issue{id, m.zone})
		}
	}
}

// issue tells the messages of one issuance about a zone.
type issue struct{ id, zone string }

func (m message) issue() issue { return issue{m.id, m.zone} }

// series are the events of one kind in one zone, whatever their numbers.
type series struct{ office, phenomenon, significance, zone string }

// renumber finds the events that an answer brings under a new number: the old
// number is no longer listed, and the new one's time meets the old one's.
// Some offices count on with every issue.
func (l *ledger) renumber(before map[eventKey]bool) {
	missing := map[series]*entry{}
	for k := range before {
		e := l.entries[k]
		if e.seen || k.office == "" || e.last.over() || e.replaced {
			continue
		}
		kind := series{k.office, k.phenomenon, k.significance, k.zone}
		if other := missing[kind]; other == nil || other.last.sent.Before(e.last.sent) {
			missing[kind] = e
		}
	}
	if len(missing) == 0 {
		return
	}
	var fresh []eventKey
	for k, e := range l.entries {
		if e.seen && !before[k] && !e.last.over() {
			fresh = append(fresh, k)
		}
	}
	slices.SortFunc(fresh, func(a, b eventKey) int { return cmp.Or(cmp.Compare(a.year, b.year), cmp.Compare(a.number, b.number)) })
	for _, k := range fresh {
		e, old := l.entries[k], missing[series{k.office, k.phenomenon, k.significance, k.zone}]
		if old == nil || old.replaced || !e.meets(old) {
			continue
		}
		e.life = old.name()
		if v, ok := e.last.vtec.Get(); ok && !v.Begin.Known() && old.onset.Before(e.onset) {
			e.onset = old.onset // under way
		}
		old.replaced = true
	}
}

// meets tells whether two events overlap or touch.
func (e *entry) meets(o *entry) bool {
	reaches := func(a, b *entry) bool {
		end, ok := a.last.warning.Ends.Get()
		return !ok || !end.Before(b.onset)
	}
	return reaches(e, o) && reaches(o, e)
}

// name is the name of the event through its life.
func (e *entry) name() string {
	if v, ok := e.last.vtec.Get(); ok && e.life == "" {
		return fmt.Sprintf("%s.%s.%s.%04d", v.Office, v.Phenomenon, v.Significance, v.Number)
	}
	return e.life
}

// newerThan tells whether m takes the place of old: it was sent later, or at
// the same time and does not end what old keeps in force. What came from the
// future takes the place of nothing but its like.
func (m message) newerThan(old message) bool {
	switch {
	case m.doubtful != old.doubtful:
		return old.doubtful
	case m.sent.Equal(old.sent):
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

// key finds which event a message is about. Event numbers start again each
// year, and the year that counts is that of the first issuance: an event that
// crosses New Year keeps its number.
func (l *ledger) key(m message, made time.Time) eventKey {
	v, ok := m.vtec.Get()
	if !ok {
		k := eventKey{sender: m.warning.Office, event: m.warning.Event, zone: m.zone}
		if m.begins {
			k.onset = m.warning.Onset
		}
		return k
	}
	sent := m.sent
	if m.doubtful && sent.After(made) {
		sent = made
	}
	k := eventKey{
		office: v.Office, phenomenon: v.Phenomenon, significance: v.Significance,
		number: v.Number, year: sent.UTC().Year(), zone: m.zone,
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
		if e := l.entries[before]; e != nil && !e.endedBy(sent) {
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
		w := e.warning()
		if end, ok := w.Ends.Get(); ok && !e.last.ends && (end.Before(w.Onset) || !at.Before(end)) {
			// Only its text has run out, or was to before it began, and it is
			// listed all the same.
			w.Ends = models.Unknown[time.Time]()
		}
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
		out = append(out, standing{w, !e.seen, e.last.passesBy})
	}
	slices.SortFunc(out, func(a, b standing) int { return byOnset(a.Warning, b.Warning) })
	return out
}

// recall takes in what was known of the feed before a restart.
func (l *ledger) recall(kept models.WarningsKept) {
	if l.entries == nil {
		l.entries = map[eventKey]*entry{}
	}
	for _, w := range kept.Alive {
		m := message{
			sent: w.Issued, zone: w.Zone, relevant: true, warning: w.Warning, ends: w.Ends.Known(),
			undated: w.Event == unreadableEvent, begins: w.Event != unreadableEvent,
		}
		if v := ParseVTEC(w.VTEC); len(v) > 0 {
			m.vtec, m.ends = models.Known(v[0]), true
		}
		l.entries[l.key(m, w.Issued)] = &entry{last: m, onset: w.Onset, life: w.Life, missed: w.Missed, missedAt: w.MissedAt}
	}
}

// warning is what people read of an event.
func (e *entry) warning() models.Warning {
	w := e.last.warning
	w.Onset, w.Life = e.onset, e.life
	return w
}

// over answers what products have said is over, by onset.
func (l *ledger) over() []models.WarningOver {
	var out []models.WarningOver
	for _, e := range l.entries {
		if !e.last.relevant {
			continue
		}
		o := models.WarningOver{Warning: e.warning()}
		v, coded := e.last.vtec.Get()
		switch {
		case e.replaced && !e.withdrawn, coded && v.Action == ActionUpgrade:
			o.End = models.EndReplaced
		case coded && v.Action == ActionExpire && e.last.over():
			o.End = models.EndExpired
		case e.replaced, e.last.over():
			o.End = models.EndCancelled
		default:
			continue
		}
		out = append(out, o)
	}
	slices.SortFunc(out, func(a, b models.WarningOver) int { return byOnset(a.Warning, b.Warning) })
	return out
}

func byOnset(a, b models.Warning) int {
	return cmp.Or(a.Onset.Compare(b.Onset), cmp.Compare(a.Zone, b.Zone), cmp.Compare(a.Event, b.Event),
		cmp.Compare(a.VTEC, b.VTEC), a.Issued.Compare(b.Issued), cmp.Compare(a.URL, b.URL))
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
