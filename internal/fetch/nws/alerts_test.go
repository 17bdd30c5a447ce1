package nws

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
)

// captured is when the real feed was saved: 15:55 -06:00.
const captured = "2025-12-15T21:55"

func realFeed(t testing.TB) Feed {
	t.Helper()
	f, err := ReadAlerts(t.Context(), obs(t, "nws_alerts_active_2025-12-15_subset.geojson"), Area{})
	require.NoError(t, err)
	return f
}

// brief writes a warning as "GL.W 2025-12-16T00:00 to 2025-12-16T12:00".
func brief(w models.Warning) string {
	name := w.Event
	if w.VTEC != "" {
		name = fmt.Sprintf("%s.%s %s", w.Phenomenon, w.Significance, strings.Split(w.VTEC, ".")[5])
	}
	end := "further notice"
	if e, ok := w.Ends.Get(); ok {
		end = e.Format("02T15:04")
	}
	return fmt.Sprintf("%s %s to %s", name, w.Onset.Format("02T15:04"), end)
}

func briefs(ws []models.Warning) []string {
	out := []string{}
	for _, w := range ws {
		out = append(out, brief(w))
	}
	return out
}

// Reduce answers what is in force or coming at a time, for the zones asked
// for, one warning a zone, by onset. It looks at one answer of the feed only.
//
// The newest issuance about an event decides, and one that cancels or
// upgrades it ends it whatever its times say; without VTEC, events are told
// apart by sender, name, zone and onset. A product with a polygon that
// reaches none of the positions is answered all the same if its zone is asked
// for; one whose zone is not asked for is answered if its polygon does. An
// event ends at its own end, never when its text is to be replaced, but for
// products without VTEC that give no other time (NWSI101701); these are held
// on while they are listed.
func Reduce(feed Feed, asked Area, at time.Time) []models.Warning {
	var l ledger
	l.add(asked.messages(feed, at), at)
	return warningsOf(l.current(at))
}

func TestParseAlertsRealFeed(t *testing.T) {
	f := realFeed(t)
	require.Len(t, f.Alerts, 36)
	require.Empty(t, f.Notes)

	a := f.Alerts[24] // Miami's advisory for the Atlantic
	require.Equal(t, "Small Craft Advisory", a.Event)
	require.Equal(t, "NWS Miami FL", a.SenderName)
	require.Equal(t, []string{"AMZ650", "AMZ651", "AMZ670", "AMZ671"}, a.Zones)
	require.Len(t, a.Names, 4)
	require.Contains(t, a.Names[1], "Deerfield Beach to Ocean Reef")
	require.Equal(t, models.Known(utc(t, "2025-12-15T17:24")), a.Sent)
	require.Len(t, a.VTEC, 1)
	require.NotEmpty(t, a.References)
	require.Nil(t, a.Areas)

	require.Empty(t, f.Alerts[12].VTEC, "an air quality alert has none")
	require.False(t, f.Alerts[12].Ends.Known())
	require.Empty(t, f.Alerts[30].Instruction, "null in the feed")
}

// TestReduceRealFeed: what the feed means for zones and times, each read off
// the file by eye.
func TestReduceRealFeed(t *testing.T) {
	f := realFeed(t)
	for _, c := range []struct {
		name, at string
		zones    []string
		want     []string
	}{
		{"extended, past its text's expiry", "2025-12-16T03:00", []string{"AMZ651"}, []string{"SC.Y 0035 15T17:24 to 17T00:00"}},
		{"one event ends at other times elsewhere: the lake", captured, []string{"AMZ610"}, []string{"SC.Y 0035 15T17:24 to 16T00:00"}},
		{"… the Gulf", captured, []string{"GMZ656"}, []string{"SC.Y 0035 15T17:24 to 16T06:00"}},
		{"the lake just before its end", "2025-12-15T23:59", []string{"AMZ610"}, []string{"SC.Y 0035 15T17:24 to 16T00:00"}},
		{"the lake at its end", "2025-12-16T00:00", []string{"AMZ610"}, []string{}},
		{"all three zones, one warning each", captured, []string{"AMZ651", "AMZ610", "GMZ656"}, []string{
			"SC.Y 0035 15T17:24 to 16T00:00", "SC.Y 0035 15T17:24 to 17T00:00", "SC.Y 0035 15T17:24 to 16T06:00",
		}},
		{"will expire, still in force, and the next one to come", captured, []string{"LMZ740"}, []string{
			"SC.Y 0113 15T21:52 to 15T22:00", "SC.Y 0114 16T16:00 to 17T09:00",
		}},
		{"expired", "2025-12-15T22:00", []string{"LMZ740"}, []string{"SC.Y 0114 16T16:00 to 17T09:00"}},
		{"cancelled, its old end ahead", captured, []string{"HIZ023"}, []string{}},
		{"cancelled with a begin ahead", captured, []string{"FLZ010"}, []string{}},
		{"upgraded", captured, []string{"FLZ007"}, []string{}},
		{"gale and hazardous seas now, the next gale to come", captured, []string{"PZZ350"}, []string{
			"GL.W 0033 15T21:04 to 16T00:00", "SE.W 0047 15T21:04 to 16T00:00", "GL.W 0034 17T00:00 to 17T12:00",
		}},
		{"between the two gales", "2025-12-16T12:00", []string{"PZZ350"}, []string{"GL.W 0034 17T00:00 to 17T12:00"}},
		{"the neighbour has the seas alone", captured, []string{"PZZ356"}, []string{"SE.W 0048 17T00:00 to 17T12:00"}},
		{"a watch whose text expires before it begins", "2025-12-16T12:00", []string{"LHZ362"}, []string{"GL.A 0022 17T05:00 to 17T17:00"}},
		{"zones added and time changed", captured, []string{"ANZ050"}, []string{"SC.Y 0100 15T17:57 to 16T10:00"}},
		{"without code, until its text expires", captured, []string{"CAZ371"}, []string{"Air Quality Alert 15T19:35 to 16T19:45"}},
		{"without code, after, and listed all the same", "2025-12-16T19:45", []string{"CAZ371"}, []string{"Air Quality Alert 15T19:35 to further notice"}},
		{"storm to come", captured, []string{"PKZ750"}, []string{"SR.W 2148 16T14:00 to 17T02:00"}},
		{"freezing spray", captured, []string{"PKZ012"}, []string{"UP.W 9261 15T16:00 to 16T14:00"}},
		{"one office, three ends", "2025-12-16T07:00", []string{"AMZ550", "AMZ570", "AMZ555"}, []string{
			"SC.Y 0050 15T17:35 to 17T00:00", "SC.Y 0050 15T17:35 to 16T15:00",
		}},
		{"nothing for a zone that is not in the feed", captured, []string{"AMZ630"}, []string{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := Reduce(f, Area{Zones: c.zones}, utc(t, c.at))
			require.Equal(t, c.want, briefs(got))
		})
	}
}

func TestReduceKeepsTheWords(t *testing.T) {
	got := Reduce(realFeed(t), Area{Zones: []string{"AMZ651"}}, utc(t, captured))
	require.Len(t, got, 1)
	w := got[0]
	require.Equal(t, "Small Craft Advisory", w.Event)
	require.Equal(t, "/O.EXT.KMFL.SC.Y.0035.000000T0000Z-251217T0000Z/", w.VTEC)
	require.Equal(t, "AMZ651", w.Zone)
	require.Contains(t, w.ZoneName, "Deerfield Beach to Ocean Reef")
	require.Equal(t, "NWS Miami FL", w.Office)
	require.Equal(t, utc(t, "2025-12-15T17:24"), w.Issued)
	require.True(t, strings.HasPrefix(w.Headline, "Small Craft Advisory issued December 15 at 12:24PM EST until December 16"), w.Headline)
	require.True(t, strings.HasPrefix(w.Text, "* WHAT..."), "line breaks and all")
	require.Contains(t, w.Text, "\n")
	require.Contains(t, w.Instruction, "should avoid navigating in hazardous conditions.")
	require.True(t, strings.HasPrefix(w.URL, "https://api.weather.gov/alerts/urn:oid:"))
	require.True(t, w.InForce(utc(t, captured)))
}

func TestReduceSpecialMarineWarning(t *testing.T) {
	f, err := ReadAlerts(t.Context(), obs(t, "nws_alert_special_marine_warning_KMFL_2025-08-21.geojson"), Area{})
	require.NoError(t, err)
	now := utc(t, "2025-08-21T18:00")
	inside := models.Position{Lat: 26.6, Lon: -79.95}
	port, ground := models.Position{Lat: 26.08, Lon: -80.11}, models.Position{Lat: 26.05, Lon: -80.05}
	beyond := models.Position{Lat: 26.6, Lon: -79.6}
	want := []string{"MA.W 0296 21T17:54 to 21T19:00"}
	for _, c := range []struct {
		name string
		area Area
		at   time.Time
		want []string
	}{
		{"by zone", Area{Zones: []string{"AMZ650"}}, now, want},
		{"by zone, the polygon passes the boat by", Area{Zones: []string{"AMZ650"}, Positions: []models.Position{port, ground}}, now, want},
		{"by polygon", Area{Zones: []string{"AMZ651"}, Positions: []models.Position{port, inside}}, now, want},
		{"by the way across it", Area{Zones: []string{"AMZ651"}, Positions: []models.Position{{Lat: 26.6, Lon: -80.3}, beyond}}, now, want},
		{"neither", Area{Zones: []string{"AMZ651"}, Positions: []models.Position{port, ground}}, now, []string{}},
		{"over", Area{Zones: []string{"AMZ650"}}, utc(t, "2025-08-21T19:00"), []string{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := Reduce(f, c.area, c.at)
			require.Equal(t, c.want, briefs(got))
			if len(got) > 0 {
				require.Len(t, got[0].Area, 8)
				require.Equal(t, models.Position{Lat: 26.27, Lon: -79.76}, got[0].Area[0])
			}
		})
	}
}

func TestParseAlertsRefuses(t *testing.T) {
	for name, body := range map[string]string{
		"not JSON":      `nope`,
		"empty":         ``,
		"cut short":     `{"type":"FeatureCollection","features":[{"type":"Fea`,
		"problem":       `{"title":"Unexpected Problem","status":500,"detail":"An unexpected problem has occurred."}`,
		"one feature":   `{"type":"Feature","features":[]}`,
		"no features":   `{"type":"FeatureCollection"}`,
		"null features": `{"type":"FeatureCollection","features":null}`,
		"wrong type":    `{"type":"FeatureCollection","features":{}}`,
		"array":         `[]`,
		"null":          `null`,
	} {
		t.Run(name, func(t *testing.T) {
			_, err := ReadAlerts(t.Context(), []byte(body), Area{})
			require.ErrorContains(t, err, "read alerts")
		})
	}
	f, err := ReadAlerts(t.Context(), []byte(`{"type":"FeatureCollection","features":[]}`), Area{})
	require.NoError(t, err)
	require.Empty(t, f.Alerts)
}

// made is an alert of our own making.
type made struct {
	ID, VTEC, Sent, Onset, Ends, Expires string
	Event, Status, Type, Urgency         string
	Zones                                []string
	Refs                                 []string
}

func feedOf(t testing.TB, alerts ...made) []byte {
	t.Helper()
	features := []any{}
	for _, a := range alerts {
		p := map[string]any{
			"id": a.ID, "event": a.Event, "sent": a.Sent, "status": "Actual", "messageType": "Alert", "urgency": "Expected",
			"senderName": "NWS Nowhere", "geocode": map[string]any{"UGC": a.Zones}, "parameters": map[string]any{},
		}
		if a.VTEC != "" {
			p["parameters"] = map[string]any{"VTEC": []string{a.VTEC}}
		}
		refs := []any{}
		for _, r := range a.Refs {
			refs = append(refs, map[string]string{"identifier": r, "sent": "2025-12-01T00:00:00-00:00"})
		}
		p["references"] = refs
		for k, v := range map[string]string{"onset": a.Onset, "ends": a.Ends, "expires": a.Expires, "status": a.Status, "messageType": a.Type, "urgency": a.Urgency} {
			if v != "" {
				p[k] = v
			}
		}
		features = append(features, map[string]any{"type": "Feature", "id": a.ID, "geometry": nil, "properties": p})
	}
	b, err := json.Marshal(map[string]any{"type": "FeatureCollection", "features": features})
	require.NoError(t, err)
	return b
}

// TestReduceRules: cases of our own making for what the real feed lacks.
func TestReduceRules(t *testing.T) {
	zone := []string{"AMZ651"}
	gale := func(id, action, times, sent string) made {
		return made{ID: id, Event: "Gale Warning", VTEC: "/O." + action + ".KMFL.GL.W.0007." + times + "/", Sent: sent, Zones: zone}
	}
	statement := func(id, sent, onset, expires string) made {
		return made{ID: id, Event: "Special Weather Statement", Sent: sent, Onset: onset, Expires: expires, Zones: zone}
	}
	with := func(a made, f func(*made)) made { f(&a); return a }
	const at = "2026-01-10T12:00"
	for _, c := range []struct {
		name   string
		alerts []made
		want   []string
	}{
		{"newest generation wins, whatever the order", []made{
			gale("b", "CON", "000000T0000Z-260110T2100Z", "2026-01-10T09:00:00Z"),
			gale("a", "NEW", "260110T0600Z-260110T1800Z", "2026-01-09T20:00:00Z"),
		}, []string{"GL.W 0007 10T06:00 to 10T21:00"}},
		{"cancelled beats all sent before", []made{
			gale("c", "CAN", "000000T0000Z-260110T2100Z", "2026-01-10T10:00:00Z"),
			gale("a", "NEW", "260110T0600Z-260110T1800Z", "2026-01-09T20:00:00Z"),
			gale("b", "CON", "000000T0000Z-260110T2100Z", "2026-01-10T09:00:00Z"),
		}, []string{}},
		{"added again after it was cancelled", []made{
			gale("c", "CAN", "000000T0000Z-260110T2100Z", "2026-01-10T10:00:00Z"),
			gale("d", "EXA", "000000T0000Z-260110T2100Z", "2026-01-10T11:00:00Z"),
		}, []string{"GL.W 0007 10T11:00 to 10T21:00"}},
		{"two in the same minute: in force", []made{
			gale("c", "CON", "000000T0000Z-260110T2100Z", "2026-01-10T10:00:00Z"),
			gale("d", "CAN", "000000T0000Z-260110T2100Z", "2026-01-10T10:00:00Z"),
		}, []string{"GL.W 0007 10T10:00 to 10T21:00"}},
		{"until further notice, its text expired", []made{
			with(gale("a", "NEW", "260110T0600Z-000000T0000Z", "2026-01-09T20:00:00Z"), func(a *made) { a.Expires = "2026-01-10T04:00:00Z" }),
		}, []string{"GL.W 0007 10T06:00 to further notice"}},
		{"a time of 1970 falls back on what stands beside it", []made{
			with(gale("a", "CON", "700101T0000Z-700101T0000Z", "2026-01-10T09:00:00Z"), func(a *made) { a.Ends = "2026-01-10T20:00:00Z" }),
		}, []string{"GL.W 0007 10T09:00 to 10T20:00"}},
		{"no readable end at all: never over by the text's expiry", []made{
			with(gale("a", "CON", "000000T0000Z-700101T0000Z", "2026-01-10T09:00:00Z"), func(a *made) { a.Expires = "2026-01-10T11:00:00Z" }),
		}, []string{"GL.W 0007 10T09:00 to further notice"}},
		{"crosses New Year and keeps its number", []made{
			gale("a", "NEW", "251231T1200Z-260101T1200Z", "2025-12-31T03:00:00Z"),
			gale("b", "EXT", "000000T0000Z-260110T1800Z", "2026-01-01T03:00:00Z"),
		}, []string{"GL.W 0007 31T12:00 to 10T18:00"}},
		{"the same number in the new year is another event", []made{
			gale("a", "EXT", "000000T0000Z-260110T1800Z", "2025-12-31T23:00:00Z"),
			gale("b", "NEW", "260110T1500Z-260111T1800Z", "2026-01-10T03:00:00Z"),
		}, []string{"GL.W 0007 31T23:00 to 10T18:00", "GL.W 0007 10T15:00 to 11T18:00"}},
		{"a warning made after our clock counts", []made{
			gale("a", "NEW", "260110T1300Z-260110T1800Z", "2026-01-10T12:05:00Z"),
		}, []string{"GL.W 0007 10T13:00 to 10T18:00"}},
		{"a test is none", []made{
			with(gale("a", "NEW", "260110T0600Z-260110T1800Z", "2026-01-09T20:00:00Z"), func(a *made) { a.Status = "Test" }),
			with(gale("b", "NEW", "260110T0600Z-260110T1800Z", "2026-01-09T20:00:00Z"), func(a *made) { a.VTEC = "/T" + a.VTEC[2:] }),
		}, []string{}},
		{"a code that can't be read: by name", []made{
			with(gale("a", "ZZZ", "260110T0600Z-260110T1800Z", "2026-01-10T06:00:00Z"), func(a *made) { a.Ends = "2026-01-10T18:00:00Z" }),
		}, []string{"Gale Warning 10T06:00 to 10T18:00"}},
		{"without code: newest of the same onset", []made{
			statement("a", "2026-01-10T09:00:00Z", "2026-01-10T09:00:00Z", "2026-01-10T13:00:00Z"),
			statement("b", "2026-01-10T10:00:00Z", "2026-01-10T09:00:00Z", "2026-01-10T14:00:00Z"),
		}, []string{"Special Weather Statement 10T09:00 to 10T14:00"}},
		{"without code: past", []made{
			with(statement("a", "2026-01-10T09:00:00Z", "2026-01-10T09:00:00Z", "2026-01-10T13:00:00Z"), func(a *made) { a.Urgency = "Past" }),
		}, []string{}},
		{"without code: an update takes the place of what it names", []made{
			statement("a", "2026-01-10T09:00:00Z", "2026-01-10T09:00:00Z", "2026-01-10T13:00:00Z"),
			with(statement("b", "2026-01-10T11:00:00Z", "2026-01-10T11:00:00Z", "2026-01-10T14:00:00Z"), func(a *made) { a.Type, a.Refs = "Update", []string{"a"} }),
		}, []string{"Special Weather Statement 10T11:00 to 10T14:00"}},
		{"without code: a cancel withdraws what it names", []made{
			with(statement("b", "2026-01-10T11:00:00Z", "2026-01-10T11:00:00Z", "2026-01-10T14:00:00Z"), func(a *made) { a.Type, a.Refs = "Cancel", []string{"x", "a"} }),
			statement("a", "2026-01-10T09:00:00Z", "2026-01-10T09:00:00Z", "2026-01-10T13:00:00Z"),
		}, []string{}},
		{"two codes in one product, the watch upgraded", []made{
			with(gale("a", "NEW", "260110T0600Z-260110T1800Z", "2026-01-09T20:00:00Z"), func(a *made) {
				a.VTEC, a.Event = strings.Replace(a.VTEC, "GL.W", "GL.A", 1), "Gale Watch"
			}),
			with(gale("b", "NEW", "260110T0700Z-260110T1900Z", "2026-01-10T02:00:00Z"), func(a *made) {
				a.VTEC = "/O.UPG.KMFL.GL.A.0007.260110T0600Z-260110T1800Z/\n" + a.VTEC
			}),
		}, []string{"GL.W 0007 10T07:00 to 10T19:00"}},
		{"without any time: until it leaves the feed", []made{statement("a", "2026-01-10T09:00:00Z", "", "")}, []string{"Special Weather Statement 10T09:00 to further notice"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, err := ReadAlerts(t.Context(), feedOf(t, c.alerts...), Area{})
			require.NoError(t, err)
			require.Equal(t, c.want, briefs(Reduce(f, Area{Zones: zone}, utc(t, at))))
		})
	}
}

// TestUnreadableAlertCounts: an item that we can't read is not nothing.
func TestUnreadableAlertCounts(t *testing.T) {
	for name, item := range map[string]string{
		"a number":      `7`,
		"null":          `null`,
		"no properties": `{"type":"Feature"}`,
		"wrong types":   `{"type":"Feature","properties":{"event":7,"sent":{},"geocode":[],"parameters":"x","references":1}}`,
	} {
		t.Run(name, func(t *testing.T) {
			f, err := ReadAlerts(t.Context(), []byte(`{"type":"FeatureCollection","features":[`+item+`]}`), Area{})
			require.NoError(t, err)
			got := Reduce(f, Area{Zones: []string{"AMZ651"}}, utc(t, captured))
			require.Len(t, got, 1)
			require.Equal(t, "AMZ651", got[0].Zone)
			require.True(t, got[0].InForce(utc(t, captured)))
		})
	}
}

// TestReduceOrderDoesNotMatter: the feed's order is nobody's promise.
func TestReduceOrderDoesNotMatter(t *testing.T) {
	f := realFeed(t)
	var zones []string
	for _, a := range f.Alerts {
		zones = append(zones, a.Zones...)
	}
	area := Area{Zones: unique(zones)}
	want := Reduce(f, area, utc(t, captured))
	require.NotEmpty(t, want)
	rapid.Check(t, func(t *rapid.T) {
		shuffled := Feed{Alerts: rapid.Permutation(f.Alerts).Draw(t, "alerts")}
		require.Equal(t, want, Reduce(shuffled, area, time.Date(2025, 12, 15, 21, 55, 0, 0, time.UTC)))
	})
}

// TestContains: inside a convex ring is on the same side of all its edges.
func TestContains(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coordinate := rapid.Float64Range(-1, 1)
		a := models.Position{Lat: coordinate.Draw(t, "a lat"), Lon: coordinate.Draw(t, "a lon")}
		b := models.Position{Lat: coordinate.Draw(t, "b lat"), Lon: coordinate.Draw(t, "b lon")}
		c := models.Position{Lat: coordinate.Draw(t, "c lat"), Lon: coordinate.Draw(t, "c lon")}
		p := models.Position{Lat: coordinate.Draw(t, "lat"), Lon: coordinate.Draw(t, "lon")}
		ab, bc, ca := side(a, b, p), side(b, c, p), side(c, a, p)
		const edge = 1e-9 // on an edge either answer is right
		if math.Abs(ab) < edge || math.Abs(bc) < edge || math.Abs(ca) < edge {
			return
		}
		want := ab > 0 == (bc > 0) && bc > 0 == (ca > 0)
		require.Equal(t, want, contains([]models.Position{a, b, c, a}, p))
		if want {
			out := models.Position{Lat: 5, Lon: 5}
			require.True(t, crosses([]models.Position{a, b, c, a}, p, out), "leaving crosses an edge")
		}
	})
}

// TestCrossesAtCorners: a run that leaves through a corner or along an edge has
// been in the area; one on the same line that ends short of it has not.
func TestCrossesAtCorners(t *testing.T) {
	at := func(lat, lon float64) models.Position { return models.Position{Lat: lat, Lon: lon} }
	area := []models.Position{at(26, -80), at(26, -79), at(27, -79), at(27, -80), at(26, -80)}
	require.True(t, crosses(area, at(26.5, -79.5), at(28, -78)), "out through the corner")
	require.True(t, crosses(area, at(25, -80), at(27, -78)), "past a corner that it touches")
	require.True(t, crosses(area, at(26, -81), at(26, -78)), "along an edge")
	require.True(t, crosses(area, at(26, -81), at(26, -80)), "up to a corner")
	require.False(t, crosses(area, at(26, -82), at(26, -81)), "on the line of an edge, short of it")
	require.False(t, crosses(area, at(25, -80.5), at(27, -80.5)), "beside it")
	require.False(t, crosses(area, at(26.2, -79.2), at(26.8, -79.8)), "all inside: contains tells that")
}

func BenchmarkReduce(b *testing.B) {
	body := obs(b, "nws_alerts_active_2025-12-15_subset.geojson")
	at := utc(b, captured)
	for b.Loop() {
		f, err := ReadAlerts(b.Context(), body, Area{})
		require.NoError(b, err)
		Reduce(f, Area{Zones: []string{"AMZ651"}}, at)
	}
}

func FuzzAlerts(f *testing.F) {
	f.Add([]byte(`{"type":"FeatureCollection","features":[]}`))
	f.Add([]byte(`{"type":"FeatureCollection","features":[null,{"properties":{"geocode":{"UGC":["AMZ651"]},"parameters":{"VTEC":["/O.NEW.KMFL.MA.W.0296.250821T1754Z-250821T1900Z/"]}},"geometry":{"type":"Polygon","coordinates":[[[-79.7,26.2],[-80.1,26.3],[-80,26.8],[-79.7,26.2]]]}}]}`))
	area := Area{Zones: []string{"AMZ651"}, Positions: []models.Position{{Lat: 26, Lon: -80}, {Lat: 26, Lon: -79.9}}}
	at := time.Date(2025, 12, 15, 21, 55, 0, 0, time.UTC)
	f.Fuzz(func(t *testing.T, b []byte) {
		feed, err := ReadAlerts(t.Context(), b, area)
		if err != nil {
			return
		}
		require.LessOrEqual(t, len(feed.Alerts), MaxAlerts+1)
		require.LessOrEqual(t, len(area.messages(feed, at)), len(feed.Alerts)*(maxForeign+len(b)/9+1)*maxCodes)
		if feed.Ours == 0 {
			require.Zero(t, feed.Foreign, "an answer about other zones is no answer")
		}
		for _, w := range Reduce(feed, area, at) {
			if end, ok := w.Ends.Get(); ok {
				require.True(t, at.Before(end))
			}
			require.NotEmpty(t, w.Event)
		}
	})
}

func FuzzVTEC(f *testing.F) {
	f.Add("/O.NEW.KMFL.MA.W.0296.250821T1754Z-250821T1900Z/")
	f.Add("/O.CON.KSEW.FL.W.0004.700101T0000Z-000000T0000Z/")
	f.Fuzz(func(t *testing.T, s string) {
		for _, v := range ParseVTEC(s) {
			require.Contains(t, s, v.Raw)
			require.False(t, v.OpenEnd && v.End.Known())
		}
		if zones, _, err := ParseUGC(s); err == nil {
			require.NotEmpty(t, zones)
		}
	})
}
