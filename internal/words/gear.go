package words

import (
	"fmt"
	"strings"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// drift tells the first set and where it takes the boat.
func (t Teller) drift(c models.Call) []Section {
	d, ok := c.Drift.Get()
	if !ok {
		return nil
	}
	s := Section{Head: t.say("head.drift"), Lines: []string{t.say("drift.start", d.StartDepth, d.Toward, d.Speed, d.Slip)}, Items: t.sayAll(d.Notes)}
	var more []string
	if across, ok := d.AcrossBand.Get(); ok {
		more = append(more, t.say("drift.across", across))
	}
	if reset, ok := d.ResetEvery.Get(); ok {
		more = append(more, t.say("drift.reset", reset))
	}
	if d.Distance > 0 {
		more = append(more, t.say("drift.made_good", d.Distance))
	}
	if run, ok := d.RunBack.Get(); ok {
		more = append(more, t.say("drift.run_back", run))
	}
	if d.SeaAnchor {
		more = append(more, t.say("drift.sea_anchor"))
	}
	if len(more) > 0 {
		s.Lines = append(s.Lines, capital(strings.Join(more, "; "))+".")
	}
	return []Section{s}
}

// spread is the spread card.
func (t Teller) spread(c models.Call) []Section {
	s, ok := c.Spread.Get()
	if !ok {
		return nil
	}
	kites := t.say("spread.kites_one")
	if s.Kites > 1 {
		kites = t.say("spread.kites_many", s.Kites)
	}
	name := t.Word(s.Kite)
	if s.Helium {
		name = t.say("spread.with_helium", name)
	}
	table := Table{Head: []string{
		t.say("column.position"), t.say("column.side"), t.say("column.behind"), t.say("column.clip"), t.say("column.line_out"), t.say("column.line"), t.say("column.lead"), t.say("column.bait"),
	}}
	for _, b := range s.Positions {
		table.Rows = append(table.Rows, cells(t.Word(b.Position), t.Word(b.Side), t.optLength(b.Behind), t.optLength(b.ClipHeight), t.optLength(b.LineOut), b.Line, b.Lead, t.things(b.Bait)))
	}
	for _, n := range t.sayAll(s.Notes) {
		table.Rows = append(table.Rows, []Cell{{Words: n, Span: len(table.Head)}})
	}
	head := t.say("spread.head", kites, name, s.KiteLine, fmt.Sprintf("%.0f", s.Angle), s.Height)
	if s.KiteLine <= 0 { // the kite is not up: there is no line out
		head = t.say("spread.head_down", kites, name)
	}
	return []Section{{Head: head, Table: &table}}
}

func (t Teller) optLength(l models.Opt[units.Length]) string {
	v, ok := l.Get()
	if !ok {
		return "-"
	}
	return t.Length(v)
}

// things tells names of gear and bait, which are our own words or the
// captain's: each piece of "leader, 30-50 lb" or "kite: heavy" that is a word
// of ours is told in the reader's language.
func (t Teller) things(s string) string {
	if told := t.Word(s); told != s {
		return told
	}
	kind, name, named := strings.Cut(s, ": ")
	if named {
		return t.Word(kind) + ": " + t.Word(name)
	}
	pieces := strings.Split(s, ", ")
	for i := range pieces {
		pieces[i] = t.Word(pieces[i])
	}
	return strings.Join(pieces, ", ")
}
