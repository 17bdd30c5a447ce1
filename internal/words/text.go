package words

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// width is how wide the text is set: it must read on a phone held sideways
// and on paper.
const width = 78

// DemoNotice stands at the head of every output of the demo.
const DemoNotice = "DEMO: invented data. Boat, port, coast, stations and weather are made up."

// Text tells a call for the terminal and the plain part of the e-mail:
// official warnings first, then the call, the hours, the reasons. now is when
// it is read, for the ages of what went in.
func (t Teller) Text(c models.Call, now time.Time) string {
	var p page
	if c.Demo {
		p.line(DemoNotice)
		p.gap()
	}
	t.warnings(&p, c)
	t.verdict(&p, c)
	t.hours(&p, c)
	p.list("Why", t.sayAll(c.Reasons))
	p.list("What would change it", t.sayAll(c.WouldChange))
	p.list("Missing or old", t.sayAll(c.Missing))
	p.list("Since the last call", t.sayAll(c.Changed))
	t.overrides(&p, c)
	t.fishing(&p, c)
	t.firstSet(&p, c)
	t.spread(&p, c)
	if len(c.Load) > 0 {
		p.head("To load tonight")
		t.load(&p, c.Load)
	}
	t.charter(&p, c)
	t.bait(&p, c)
	t.water(&p, c)
	t.officialText(&p, c)
	t.observed(&p, c, now)
	t.sources(&p, c, now)
	p.list("Cautions", t.sayAll(c.Cautions))
	if c.Demo {
		p.gap()
		p.line(DemoNotice)
	}
	return p.String()
}

func (t Teller) sayAll(ps []models.Phrase) []string {
	var out []string
	for _, p := range ps {
		out = append(out, t.Say(p))
	}
	return out
}

func (t Teller) warnings(p *page, c models.Call) {
	list, known := c.Warnings.Get()
	if !known {
		p.head("Official warnings: UNKNOWN")
		p.text("  ", "The warnings feed could not be read. Listen to the official broadcast (weather radio, VHF) before anything else on this page.")
		return
	}
	list = t.onTheDay(list)
	if len(list) == 0 {
		p.head("Official warnings: none in force or coming for the day's zones")
		p.text("  ", "As of the last reading. Official warnings rule: listen to the weather radio.")
		return
	}
	p.head("Official warnings (they rule)")
	for _, w := range list {
		p.line("  %s, %s to %s", strings.ToUpper(w.Event), t.Time(w.Onset), t.until(w))
		var from []string
		if w.Zone != "" {
			from = append(from, strings.TrimSpace(w.Zone+" "+w.ZoneName))
		}
		if w.Office != "" {
			from = append(from, w.Office)
		}
		if !w.Issued.IsZero() {
			from = append(from, "issued "+w.Issued.In(t.zone).Format("Mon 15:04"))
		}
		if len(from) > 0 {
			p.text("  ", strings.Join(from, "; "))
		}
		if w.Text != "" {
			p.verbatim("    | ", w.Text)
		} else if w.Headline != "" {
			p.verbatim("    | ", w.Headline)
		}
		if w.Instruction != "" {
			p.verbatim("    | ", w.Instruction)
		}
	}
}

// onTheDay keeps what holds at any time from the making of the call to the
// end of the day called.
func (t Teller) onTheDay(list []models.Warning) []models.Warning {
	day := t.date.Interval(t.zone)
	var kept []models.Warning
	for _, w := range list {
		if w.During(day) {
			kept = append(kept, w)
		}
	}
	slices.SortStableFunc(kept, func(a, b models.Warning) int { return a.Onset.Compare(b.Onset) })
	return kept
}

func (t Teller) until(w models.Warning) string {
	end, ok := w.Ends.Get()
	if !ok {
		return "further notice"
	}
	return t.Time(end)
}

// Verdict is the call in one line: "kite, back by noon".
func (t Teller) Verdict(c models.Call) string {
	if c.Tactic == models.TacticStayIn {
		return string(models.TacticStayIn)
	}
	var parts []string
	for _, timing := range c.Timing {
		switch at := timing; at {
		case models.BackEarly:
			if back, ok := c.Back.Get(); ok {
				parts = append(parts, "back by "+t.hourName(back))
				continue
			}
			parts = append(parts, string(at))
		case models.StartEarlier, models.StartLater:
			if leave, ok := c.Leave.Get(); ok {
				parts = append(parts, string(at)+" ("+t.Time(leave)+")")
				continue
			}
			parts = append(parts, string(at))
		default:
			parts = append(parts, string(at))
		}
	}
	verdict := strings.Join(append([]string{string(c.Tactic)}, parts...), ", ")
	switch {
	case c.CaptainDecides && c.Trip.Kind == models.Tournament:
		return "captain's decision; if you go: " + verdict
	case c.CaptainDecides:
		return verdict + " (captain decides)"
	}
	return verdict
}

func (t Teller) hourName(at time.Time) string {
	if s := t.Time(at); s != "12:00" {
		return s
	}
	return "noon"
}

func (t Teller) verdict(p *page, c models.Call) {
	var who []string
	for _, s := range []string{c.Boat.Name, c.Port.Name, c.Ground.Name} {
		if s != "" {
			who = append(who, s)
		}
	}
	p.head(t.longDay(c.Date) + ": " + strings.Join(who, ", "))
	p.text("  ", strings.ToUpper(t.Verdict(c)))
	leave, going := c.Leave.Get()
	back, ok := c.Back.Get()
	booked := fmt.Sprintf("booked %s to %s, %s, %s party", c.Trip.Start, c.Trip.End, c.Trip.Kind, c.Trip.Party)
	if going && ok {
		p.text("  ", fmt.Sprintf("Leave %s, back inside %s (%s).", t.Time(leave), t.Time(back), booked))
	} else {
		p.text("  ", "The boat stays in ("+booked+").")
	}
	p.text("  ", t.Sureness(c))
}

// Sureness tells the confidence with the count beside it, and where missing
// inputs take it down, by how much.
func (t Teller) Sureness(c models.Call) string {
	word := strings.ToUpper(string(c.Confidence[:1])) + string(c.Confidence[1:])
	s := fmt.Sprintf("%s: %d of %d courses the weather may take agree", word, c.Agreeing, c.Members)
	if lost := float64(c.Agreeing)/float64(max(c.Members, 1)) - c.Agreement; lost >= 0.05 {
		s += fmt.Sprintf("; what is missing takes that to %.0f in 100", 100*c.Agreement)
	}
	return s + "."
}

func (t Teller) longDay(d models.Date) string {
	return time.Date(d.Year, d.Month, d.Day, 12, 0, 0, 0, time.UTC).Format("Monday 2 January 2006")
}

// hours prints the day as three lanes that run down the page. A longer bar is
// better in every lane, and the word stands beside it.
func (t Teller) hours(p *page, c models.Call) {
	shown := c.Hours
	if len(shown) == 0 {
		return
	}
	p.head("The hours (longer bar is better)")
	p.line("  %-5s  %-9s%-9s%-10s%-12s%-16s%s", "", "kite", "sight", "ride", "do", "wind", "sea")
	var closed, told string
	for _, h := range shown {
		p.line("  %-5s  %-9s%-9s%-10s%-12s%-16s%s", h.At.In(t.zone).Format("15:04"),
			lane(int(h.Kite), h.Kite.String()), lane(int(h.Sight), h.Sight.String()), lane(int(models.RideNo-h.Ride), h.Ride.String()),
			h.Do, t.windOf(h.Conditions), t.seaOf(h.Conditions))
		closed = t.Say(h.Closed)
		if closed != "" && closed != told {
			p.text("         ", "closed: "+closed)
		}
		told = closed
	}
}

// fishing tells what the kite, the baits and the eyes meet in each hour that
// is fished.
func (t Teller) fishing(p *page, c models.Call) {
	head := false
	method := ""
	for _, h := range c.Hours {
		switch h.Do {
		case models.DoKite, models.DoHeliumKite, models.DoSight, models.DoEither:
		default:
			continue
		}
		if !head {
			head = true
			p.head("While fishing: at the kite (lull, mean, gust), under the boat, and the light")
			p.line("  %-5s  %-14s%-16s%-14s%-18s%s", "", "at the kite", "kite", "baits feel", "sun", "looking up-sea")
		}
		x := h.Conditions
		kite := x.KiteName
		if x.KiteHelium {
			kite += " + helium"
		}
		sun := "down"
		if x.SunElevation > 0 {
			sun = fmt.Sprintf("%.0f° up in %s", x.SunElevation, units.Toward(x.SunAzimuth).Point())
		}
		look := "-"
		if from, ok := x.WindFrom.Get(); ok && x.SunElevation > 0 {
			look = lookUpSea(units.Apart(units.From(x.SunAzimuth), from))
		}
		slip := "-"
		if v, ok := x.Slip.Get(); ok {
			slip = t.Speed(v)
		}
		p.line("  %-5s  %-14s%-16s%-14s%-18s%s", h.At.In(t.zone).Format("15:04"), t.aloft(x), kite, slip, sun, look)
		if x.ProfileMethod != "" {
			method = x.ProfileMethod
		}
	}
	if head && method != "" {
		p.text("  ", "Wind carried up to the kite by: "+method+".")
	}
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

func (t Teller) aloft(c models.Conditions) string {
	mean, ok := c.KiteWind.Get()
	if !ok {
		return "unknown"
	}
	number := func(v units.Speed) string {
		if t.reader.Measures == Metric {
			return trim(v.MetresPerSecond(), 0)
		}
		return trim(v.Knots(), 0)
	}
	s := number(mean)
	if l, ok := c.KiteLull.Get(); ok {
		s = number(l) + "-" + s
	}
	if g, ok := c.KiteGust.Get(); ok {
		s += "-" + number(g)
	}
	if t.reader.Measures == Metric {
		return s + " m/s"
	}
	return s + " kn"
}

func lane(level int, word string) string {
	const full = 3
	level = min(max(level, 0), full)
	return strings.Repeat("=", level) + strings.Repeat(".", full-level) + " " + word
}

func (t Teller) windOf(c models.Conditions) string {
	w, ok := c.Wind.Get()
	if !ok {
		return "unknown"
	}
	s := ""
	if f, ok := c.WindFrom.Get(); ok {
		s = f.Point() + " "
	}
	unit := " kn"
	speed, gust := w.Knots(), c.Gust.Or(0).Knots()
	if t.reader.Measures == Metric {
		unit, speed, gust = " m/s", w.MetresPerSecond(), c.Gust.Or(0).MetresPerSecond()
	}
	s += trim(speed, 0)
	if c.Gust.Known() {
		s += "-" + trim(gust, 0)
	}
	return s + unit
}

func (t Teller) seaOf(c models.Conditions) string {
	sea, ok := c.LocalSea.Else(c.Sea).Get()
	if !ok {
		return "unknown"
	}
	s := t.Length(sea)
	if period, ok := c.Period.Get(); ok {
		s += " " + trim(period, 0) + " s"
	}
	return s
}

func (t Teller) overrides(p *page, c models.Call) {
	var lines []string
	for _, o := range c.Overrides {
		lines = append(lines, o.What+" (reason: "+o.Why+")")
	}
	p.list("Overridden by the captain", lines)
}

func (t Teller) charter(p *page, c models.Call) {
	ch, ok := c.Charter.Get()
	if !ok {
		return
	}
	var acts []string
	for _, a := range ch.Actions {
		acts = append(acts, string(a))
	}
	p.head("The charter: " + strings.Join(acts, ", "))
	if by, ok := ch.TellBy.Get(); ok {
		p.line("  Tell the guests by %s.", t.Time(by))
	}
	for _, d := range ch.Offer {
		p.text("  ", fmt.Sprintf("Offer %s: %s.", t.Day(d.Date), t.Say(d.Why)))
	}
	if msg := t.Message(ch); msg != "" {
		p.line("  Draft for the guests (goes out only after you approve it):")
		p.verbatim("    > ", msg)
	}
}

// Message is the draft for the guests.
func (t Teller) Message(ch models.CharterCall) string { return strings.Join(t.sayAll(ch.Message), " ") }

func (t Teller) firstSet(p *page, c models.Call) {
	d, ok := c.Drift.Get()
	if !ok {
		return
	}
	p.head("First set and drift")
	p.text("  ", fmt.Sprintf("Start in %s. Drift %s at %s; the baits feel %s through the water.", t.Length(d.StartDepth), d.Toward.Point(), t.Speed(d.Speed), t.Speed(d.Slip)))
	var more []string
	if across, ok := d.AcrossBand.Get(); ok {
		more = append(more, "across the band in "+Duration(across))
	}
	if reset, ok := d.ResetEvery.Get(); ok {
		more = append(more, "reset every "+Duration(reset))
	}
	if d.Distance > 0 {
		more = append(more, t.Length(d.Distance)+" made good by the end")
	}
	if run, ok := d.RunBack.Get(); ok {
		more = append(more, "run back "+Duration(run))
	}
	if d.SeaAnchor {
		more = append(more, "sea anchor out")
	}
	if len(more) > 0 {
		p.text("  ", capital(strings.Join(more, "; "))+".")
	}
	for _, n := range t.sayAll(d.Notes) {
		p.text("  ", n)
	}
}

func (t Teller) spread(p *page, c models.Call) {
	s, ok := c.Spread.Get()
	if !ok {
		return
	}
	kites := "one kite"
	if s.Kites > 1 {
		kites = fmt.Sprintf("%d kites", s.Kites)
	}
	helium := ""
	if s.Helium {
		helium = " with helium"
	}
	p.head(fmt.Sprintf("Spread: %s, %s%s, %s of line at %.0f°, %s up", kites, s.Kite, helium, t.Length(s.KiteLine), s.Angle, t.Length(s.Height)))
	p.line("  %-12s%-7s%-9s%-9s%-10s%-12s%-9s%s", "position", "side", "behind", "clip up", "line out", "line", "lead", "bait")
	for _, b := range s.Positions {
		p.line("  %-12s%-7s%-9s%-9s%-10s%-12s%-9s%s", b.Position, b.Side, t.optLength(b.Behind), t.optLength(b.ClipHeight), t.optLength(b.LineOut), b.Line, b.Lead, b.Bait)
	}
	for _, n := range t.sayAll(s.Notes) {
		p.text("  ", n)
	}
}

func (t Teller) bait(p *page, c models.Call) {
	b, ok := c.Bait.Get()
	if !ok {
		return
	}
	p.list("Bait", t.sayAll(b.Notes))
}

func (t Teller) water(p *page, c models.Call) {
	var lines []string
	var sun []string
	for _, s := range []struct {
		what string
		at   models.Opt[time.Time]
	}{{"first light", c.Sun.CivilDawn}, {"sunrise", c.Sun.Rise}, {"sunset", c.Sun.Set}, {"last light", c.Sun.CivilDusk}} {
		if at, ok := s.at.Get(); ok {
			sun = append(sun, s.what+" "+t.Time(at))
		}
	}
	if len(sun) > 0 {
		lines = append(lines, capital(strings.Join(sun, ", ")))
	}
	var tides, streams []string
	day := t.date.Interval(t.zone)
	for _, e := range c.Tides {
		if day.Contains(e.At) {
			tides = append(tides, fmt.Sprintf("%s water %s (%s)", e.Kind, t.Time(e.At), t.Length(e.Height)))
		}
	}
	for _, e := range c.Streams {
		if !day.Contains(e.At) {
			continue
		}
		if e.Kind == models.Slack {
			streams = append(streams, "slack "+t.Time(e.At))
			continue
		}
		streams = append(streams, fmt.Sprintf("strongest %s %s (%s)", e.Kind, t.Time(e.At), t.Speed(max(e.Speed, -e.Speed))))
	}
	if len(tides) > 0 {
		lines = append(lines, "Tide: "+strings.Join(tides, ", "))
	}
	if len(streams) > 0 {
		lines = append(lines, "Inlet: "+strings.Join(streams, ", "))
	}
	p.list("Sun, tide and inlet", lines)
}

func (t Teller) officialText(p *page, c models.Call) {
	for _, o := range c.Texts {
		p.head(strings.TrimSpace(fmt.Sprintf("Official forecast, %s %s", o.Zone, o.Name)))
		if !o.Issued.IsZero() {
			p.line("  %s, issued %s", o.Office, o.Issued.In(t.zone).Format("Mon 15:04"))
		}
		if o.Body == "" {
			for _, h := range o.Headlines {
				p.verbatim("    | ", "..."+h+"...")
			}
		}
		p.verbatim("    | ", o.Body)
		if o.StreamEdge != "" && !strings.Contains(wrap(o.Body, math.MaxInt), wrap(o.StreamEdge, math.MaxInt)) {
			p.verbatim("    | ", o.StreamEdge)
		}
	}
}

// observed tells what the stations say now.
func (t Teller) observed(p *page, c models.Call, now time.Time) {
	var lines []string
	for _, o := range c.Observed {
		var parts []string
		if w, ok := o.Wind.Get(); ok {
			s := "wind " + t.Speed(w)
			if f, ok := o.WindFrom.Get(); ok {
				s = "wind " + f.Point() + " " + t.Speed(w)
			}
			if g, ok := o.Gust.Get(); ok {
				s += ", gust " + t.Speed(g)
			}
			parts = append(parts, s)
		}
		if sea, ok := o.Sea.Get(); ok {
			s := "sea " + t.Length(sea)
			if period, ok := o.Period.Get(); ok {
				s += " " + trim(period, 0) + " s"
			}
			parts = append(parts, s)
		}
		if b, ok := o.Pressure.Get(); ok {
			parts = append(parts, t.value(b))
		}
		if w, ok := o.Water.Get(); ok {
			parts = append(parts, "water "+t.Temperature(w))
		}
		if len(parts) > 0 {
			lines = append(lines, fmt.Sprintf("%s, %s ago: %s", o.Station, Duration(now.Sub(o.At)), strings.Join(parts, ", ")))
		}
	}
	p.list("Stations now (wind as measured, at the station's own height)", lines)
}

func (t Teller) sources(p *page, c models.Call, now time.Time) {
	var lines []string
	for _, s := range c.Sources {
		line := strings.TrimSpace(s.Source + " " + s.Detail)
		if !s.Issued.IsZero() {
			line += ", made " + Duration(now.Sub(s.Issued)) + " ago"
		}
		if !s.Fetched.IsZero() && now.Sub(s.Fetched) >= time.Minute {
			line += ", read " + Duration(now.Sub(s.Fetched)) + " ago"
		}
		if !slices.Contains(lines, line) {
			lines = append(lines, line)
		}
	}
	p.list("Sources", lines)
}

func (t Teller) optLength(l models.Opt[units.Length]) string {
	v, ok := l.Get()
	if !ok {
		return "-"
	}
	return t.Length(v)
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// page collects lines of text.
type page struct{ strings.Builder }

func (p *page) line(format string, args ...any) {
	fmt.Fprintln(p, strings.TrimRight(fmt.Sprintf(format, args...), " "))
}

func (p *page) gap() { fmt.Fprintln(p) }

func (p *page) head(s string) {
	if p.Len() > 0 && !strings.HasSuffix(p.String(), "\n\n") {
		p.gap()
	}
	p.text("", s)
}

// text sets a paragraph to the page's width behind a margin.
func (p *page) text(margin, s string) {
	for l := range strings.Lines(wrap(s, width-len(margin))) {
		p.line("%s%s", margin, strings.TrimRight(l, "\n"))
	}
}

// verbatim prints foreign text line by line behind a mark. Lines too long for
// the page go on behind the same mark; control characters are taken out.
func (p *page) verbatim(mark, s string) {
	for l := range strings.Lines(strings.TrimRight(s, "\n \t")) {
		l = printable(strings.TrimRight(l, "\r\n \t"))
		if len([]rune(l)) > width-len(mark) {
			l = wrap(l, width-len(mark))
		}
		for _, piece := range strings.Split(l, "\n") {
			p.line("%s%s", mark, piece)
		}
	}
}

func (p *page) list(head string, items []string) {
	if len(items) == 0 {
		return
	}
	p.head(head)
	for _, i := range items {
		lines := strings.Split(wrap(i, width-4), "\n")
		p.line("  - %s", lines[0])
		for _, l := range lines[1:] {
			p.line("    %s", l)
		}
	}
}

func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' && r != '\t' || r == 0x7f || r >= 0x80 && r < 0xa0 {
			return -1
		}
		return r
	}, s)
}

// wrap breaks text at blanks.
func wrap(s string, width int) string {
	var out strings.Builder
	column := 0
	for i, word := range strings.Fields(s) {
		n := len([]rune(word))
		switch {
		case i == 0:
		case column+1+n > width:
			out.WriteByte('\n')
			column = 0
		default:
			out.WriteByte(' ')
			column++
		}
		out.WriteString(word)
		column += n
	}
	return out.String()
}
