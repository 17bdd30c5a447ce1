package words

import (
	"fmt"
	"strings"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// hours is the day as three lanes that run down the page. A longer bar is
// better in every lane, and the word stands beside it.
func (t Teller) hours(c models.Call) []Section {
	if len(c.Hours) == 0 {
		return nil
	}
	table := Table{Head: []string{"", t.say("column.do"), t.say("column.kite"), t.say("column.sight"), t.say("column.ride"), t.say("column.wind"), t.say("column.sea")}}
	told := ""
	for _, h := range c.Hours {
		table.Rows = append(table.Rows, []Cell{
			{Words: t.clock(h.At)}, {Words: t.Word(string(h.Do))},
			t.grade(h.Kite.String(), int(h.Kite)), t.grade(h.Sight.String(), int(h.Sight)), t.grade(h.Ride.String(), int(models.RideNo-h.Ride)),
			{Words: t.Wind(h.Conditions)}, {Words: t.Sea(h.Conditions)},
		})
		closed := t.Say(h.Closed)
		if closed != "" && closed != told {
			table.Rows = append(table.Rows, []Cell{{}, {Words: t.say("hours.closed", closed), Span: len(table.Head) - 1}})
		}
		told = closed
	}
	return []Section{{Head: t.say("head.hours"), Table: &table}}
}

func (t Teller) grade(word string, level int) Cell {
	level = min(max(level, 0), fullBar)
	return Cell{Words: t.Word(word), Bar: strings.Repeat(fullBlock, level) + strings.Repeat(emptyBlock, fullBar-level)}
}

// fishing tells what the kite, the baits and the eyes meet in each hour that
// is fished.
func (t Teller) fishing(c models.Call) []Section {
	table := Table{Head: []string{"", t.say("column.aloft"), t.say("column.kite"), t.say("column.slip"), t.say("column.sun"), t.say("column.look")}}
	method := ""
	for _, h := range c.Hours {
		switch h.Do {
		case models.DoKite, models.DoHeliumKite, models.DoSight, models.DoEither:
		case models.DoDock, models.DoInside, models.DoNoGo:
			continue
		}
		x := h.Conditions
		kite := t.Word(x.KiteName)
		if x.KiteHelium {
			kite = t.say("fishing.helium", kite)
		}
		sun, look := t.say("fishing.sun_down"), "-"
		if x.SunElevation > 0 {
			sun = t.say("fishing.sun", fmt.Sprintf("%.0f", x.SunElevation), units.Toward(x.SunAzimuth))
			if from, ok := x.WindFrom.Get(); ok {
				look = t.Word(lookUpSea(units.Apart(units.From(x.SunAzimuth), from)))
			}
		}
		slip := "-"
		if v, ok := x.Slip.Get(); ok {
			slip = t.Speed(v)
		}
		table.Rows = append(table.Rows, cells(t.clock(h.At), t.aloft(x), kite, slip, sun, look))
		if x.ProfileMethod != "" {
			method = x.ProfileMethod
		}
	}
	if len(table.Rows) == 0 {
		return nil
	}
	if method != "" {
		table.Rows = append(table.Rows, []Cell{{Words: t.say("fishing.method", models.Word(method)), Span: len(table.Head)}})
	}
	table.Rows = append(table.Rows, []Cell{{Words: t.say("fishing.fish", t.fish(c)), Span: len(table.Head)}})
	return []Section{{Head: t.say("head.fishing"), Table: &table}}
}

// fish tells whether it is worth being there in the hours that are fished: one
// word, or each with the hour from which it holds.
func (t Teller) fish(c models.Call) string {
	var list []string
	var last models.Fish
	for _, h := range c.Hours {
		switch h.Do {
		case models.DoKite, models.DoHeliumKite, models.DoSight, models.DoEither:
			if h.Fish != last {
				list, last = append(list, t.say("fishing.from", models.Word(h.Fish), h.At)), h.Fish
			}
		case models.DoDock, models.DoInside, models.DoNoGo:
		}
	}
	if len(list) == 1 {
		return t.Word(string(last))
	}
	return strings.Join(list, ", ")
}

// lookUpSea tells where the sun stands for eyes that look to where the wind
// comes from, by the angle between the two.
func lookUpSea(apart float64) string {
	switch {
	case apart < 45:
		return "in the eyes"
	case apart < 100:
		return "to the side"
	}
	return "behind"
}

// aloft is the wind at the kite: lull, mean and gust.
func (t Teller) aloft(c models.Conditions) string {
	mean, ok := c.KiteWind.Get()
	if !ok {
		return t.Word("unknown")
	}
	number, unit := t.speedIn()
	s := number(mean)
	if l, ok := c.KiteLull.Get(); ok {
		s = number(l) + "-" + s
	}
	if g, ok := c.KiteGust.Get(); ok {
		s += "-" + number(g)
	}
	return s + " " + unit
}

// Wind tells an hour's wind in short: "SSW 15-20 kn" is the mean and the
// gusts.
func (t Teller) Wind(c models.Conditions) string {
	w, ok := c.Wind.Get()
	if !ok {
		return t.Word("unknown")
	}
	number, unit := t.speedIn()
	s := number(w)
	if g, ok := c.Gust.Get(); ok {
		s += "-" + number(g)
	}
	if f, ok := c.WindFrom.Get(); ok {
		s = f.Point() + " " + s
	}
	return s + " " + unit
}

// speedIn tells whole speeds in the reader's unit.
func (t Teller) speedIn() (number func(units.Speed) string, unit string) {
	if t.reader.Measures == Metric {
		return func(v units.Speed) string { return trim(v.MetresPerSecond(), 0) }, "m/s"
	}
	return func(v units.Speed) string { return trim(v.Knots(), 0) }, "kn"
}

// Sea tells an hour's sea in short, height and period: "3 ft 5 s".
func (t Teller) Sea(c models.Conditions) string {
	sea, ok := c.LocalSea.Else(c.Sea).Get()
	if !ok {
		return t.Word("unknown")
	}
	return t.heightPeriod(sea, c.Period)
}

func (t Teller) heightPeriod(sea units.Length, period models.Opt[float64]) string {
	s := t.Length(sea)
	if p, ok := period.Get(); ok {
		s += " " + trim(p, 0) + " s"
	}
	return s
}
