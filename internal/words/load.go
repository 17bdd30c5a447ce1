package words

import (
	"fmt"
	"slices"
	"strings"

	"forecastd/internal/models"
)

// LoadList tells what goes aboard tonight, to tick off by hand.
func (t Teller) LoadList(c models.Call) string {
	s := Section{Head: t.say("load.for", t.LongDay(c.Date), t.Verdict(c)), Ticks: t.ticks(c.Load)}
	if len(c.Load) == 0 {
		s.Lines = []string{t.say("load.nothing")}
	}
	return t.framed(c.Demo, []Section{s, t.loadCautions()})
}

func (t Teller) loadCautions() Section {
	return Section{Head: t.say("head.cautions"), Items: []string{t.say("load.helium"), t.say("load.lifesaving")}}
}

func (t Teller) load(c models.Call) []Section {
	if len(c.Load) == 0 {
		return nil
	}
	return []Section{{Head: t.say("head.load"), Ticks: t.ticks(c.Load)}}
}

// ticks tells one line for each position of the spread with all that goes
// there, and one for each thing that has no position.
func (t Teller) ticks(items []models.LoadItem) []string {
	var out []string
	for i := 0; i < len(items); {
		first := items[i]
		what := []string{t.counted(first)}
		stows := []string{}
		n := 1
		for ; first.Position != "" && i+n < len(items) && items[i+n].Position == first.Position; n++ {
			what = append(what, t.counted(items[i+n]))
		}
		for _, x := range items[i : i+n] {
			if stow := t.Word(x.Stow); stow != "" && !slices.Contains(stows, stow) {
				stows = append(stows, stow)
			}
		}
		i += n
		line := strings.Join(what, "; ")
		if len(stows) > 0 {
			line += " (" + strings.Join(stows, "; ") + ")"
		}
		if first.Position != "" {
			line = t.position(first.Position) + ": " + line
		}
		out = append(out, line)
	}
	return out
}

// position tells a place in the spread: "left long".
func (t Teller) position(s string) string {
	side, position, both := strings.Cut(s, " ")
	if told := t.Word(s); told != s || !both {
		return told
	}
	return t.say("load.position", models.Word(side), models.Word(position))
}

// leader tells a leader with its length.
func (t Teller) leader(b models.BaitPosition) string {
	if l, ok := b.LeaderLength.Get(); ok {
		return b.Leader + ", " + t.Length(l)
	}
	return b.Leader
}

func (t Teller) counted(i models.LoadItem) string {
	told := t.things(i.What)
	if l, ok := i.Length.Get(); ok {
		told += ", " + t.Length(l)
	}
	if i.Count > 1 {
		told = fmt.Sprintf("%d x %s", i.Count, told)
	}
	if i.Short > 0 {
		return t.say("load.short", told, i.Short)
	}
	return told
}
