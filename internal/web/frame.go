package web

import (
	"net/url"
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/words"
)

// Looks of the pages.
const (
	lookAuto  = "auto"
	lookLight = "light"
	lookDark  = "dark"
	lookNight = "night"
	lookSun   = "sun"
)

// goodFor is how long a call is good for at most (trade.md 8).
const goodFor = 12 * time.Hour

// choice is one entry of a list to choose from.
type choice struct {
	Name, Text string
	Chosen     bool
}

// Looks lists the looks to choose from.
func (v *view) Looks() []choice {
	var list []choice
	for _, n := range []string{lookAuto, lookLight, lookDark, lookNight, lookSun} {
		list = append(list, choice{n, "look." + n, n == v.Look})
	}
	return list
}

// Languages lists the languages, each in its own words.
func (v *view) Languages() []choice {
	var list []choice
	for _, l := range words.Languages() {
		list = append(list, choice{string(l), words.NameOf(l), l == v.Reader.Language})
	}
	return list
}

// Measures lists the systems of units.
func (v *view) Measures() []choice {
	var list []choice
	for _, m := range []words.Measures{words.Nautical, words.Metric} {
		list = append(list, choice{string(m), "units." + string(m), m == v.Reader.Measures})
	}
	return list
}

// LookName is the look of this request: one of auto, light, dark and night.
func (v *view) LookName() string {
	switch {
	case v.Night:
		return lookNight
	case v.Look == lookLight, v.Look == lookDark:
		return v.Look
	}
	return lookAuto
}

// Scheme tells the browser what to draw its own controls on.
func (v *view) Scheme() string {
	switch v.LookName() {
	case lookLight:
		return "light"
	case lookDark, lookNight:
		return "dark"
	}
	return "light dark"
}

// sunDown tells whether the sun stands below -6 degrees. The board has the
// twilights of the day at hand; those of the days around it are taken to come
// at the same hour, which is right to two or three minutes.
func (v *view) sunDown() bool {
	b, err := v.Board()
	if err != nil {
		return false
	}
	for _, d := range b.Days {
		for _, t := range d.Trips {
			dawn, ok := t.Call.Sun.CivilDawn.Get()
			dusk, ok2 := t.Call.Sun.CivilDusk.Get()
			if !ok || !ok2 {
				continue
			}
			const day = 24 * time.Hour
			since := v.Now.Sub(dawn) % day
			if since < 0 {
				since += day
			}
			return since >= dusk.Sub(dawn)
		}
	}
	return false
}

// Link is an address of the pages with the port kept, and more put to it by
// pairs of name and value.
func (v *view) Link(path string, pairs ...string) string {
	q := url.Values{}
	if _, err := v.Board(); v.Port != "" && err == nil {
		q.Set("port", v.Port)
	}
	for i := 0; i+1 < len(pairs); i += 2 {
		q.Set(pairs[i], pairs[i+1])
	}
	if len(q) == 0 {
		return path
	}
	return path + "?" + q.Encode()
}

// Back is the page shown, for forms that come back to it.
func (v *view) Back() string {
	if v.Request.Method != "GET" && v.Request.Method != "HEAD" {
		return v.Link("/")
	}
	return v.Request.URL.RequestURI()
}

func (v *view) query() url.Values { return v.Request.URL.Query() }

// ask reads one value of the query.
func (v *view) ask(key string) string { return strings.TrimSpace(v.query().Get(key)) }

// pageLink is an entry of the list of pages.
type pageLink struct {
	Name, Link string
	Here       bool
}

// Pages lists the pages.
func (v *view) Pages() []pageLink {
	var list []pageLink
	add := func(key, path string, here bool) {
		list = append(list, pageLink{v.T(key), v.Link(path), here})
	}
	b, _ := v.Board() // a port that is not there has no day: the links lead home
	path := v.Request.URL.Path
	add(v.dayKey(b), "/", path == "/")
	add("nav.days", "/days", path == "/days" || strings.HasPrefix(path, "/day/"))
	if len(b.Days) > 0 {
		add("nav.hours", "/hours/"+b.Days[0].Date.String(), strings.HasPrefix(path, "/hours/"))
	}
	for _, p := range []string{"drift", "spread", "charters", "bait", "reports", "log", "sources", "score", "print"} {
		add("nav."+p, "/"+p, path == "/"+p)
	}
	if v.Role == Nobody {
		add("nav.login", "/login", path == "/login")
	} else {
		add("login.out", "/login", path == "/login")
	}
	return list
}

// dayKey is the text for the day at hand.
func (v *view) dayKey(b Board) string {
	if !b.Made.IsZero() && b.Next == models.DateOf(v.Now, zoneOf(b)) {
		return "nav.today"
	}
	return "nav.tomorrow"
}

func zoneOf(b Board) *time.Location {
	if b.Port.Zone == nil {
		return time.UTC
	}
	return b.Port.Zone
}

// Harbours lists the ports where there is a choice.
func (v *view) Harbours() []choice {
	ports := v.server.o.Desk.Ports()
	if len(ports) < 2 {
		return nil
	}
	var list []choice
	for i, p := range ports {
		list = append(list, choice{Name: p, Chosen: p == v.Port || v.Port == "" && i == 0})
	}
	return list
}

// Whose names boat and port.
func (v *view) Whose() string {
	b, err := v.Board()
	if err != nil {
		return ""
	}
	for _, d := range b.Days {
		for _, t := range d.Trips {
			if name := t.Call.Boat.Name; name != "" {
				return name + ", " + b.Port.Name
			}
		}
	}
	return b.Port.Name
}

// DemoNotice says that all is invented.
func (v *view) DemoNotice() string { return words.DemoNoticeIn(v.Reader.Language) }

// Age tells when the newest call was made; empty before the first. It is told
// as the script on the page goes on to tell it: with the day of the week, and
// in whole minutes that have passed.
func (v *view) Age() string {
	b, err := v.Board()
	if err != nil || b.Made.IsZero() {
		return ""
	}
	t := v.Tell(models.Date{})
	old := v.Now.Sub(b.Made).Truncate(time.Minute)
	if old <= 0 {
		return v.T("age.now", t.Time(b.Made))
	}
	return v.T("age", t.Time(b.Made), t.Duration(old))
}

// Stale tells that the newest call is too old to go by.
func (v *view) Stale() bool {
	b, err := v.Board()
	return err == nil && !b.Made.IsZero() && v.Now.Sub(b.Made) >= goodFor
}

// MadeStamp is when the newest call was made, for scripts.
func (v *view) MadeStamp() string {
	b, err := v.Board()
	if err != nil || b.Made.IsZero() {
		return ""
	}
	return stamp(b.Made)
}

// Lead stands before a sentence that is English whatever the reader's
// language: it says the gist in his own. An English reader needs none.
func (v *view) Lead(key string) string {
	if v.Reader.Language == words.English {
		return ""
	}
	return v.T(key) + " "
}

// stamp writes an instant for scripts.
func stamp(t time.Time) string { return t.UTC().Format(time.RFC3339) }
