package app_test

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/config"
)

// invented is a coast whose services answer with fresh documents at any time,
// in the services' formats. The weather is a function of the hour alone: a
// forecast that holds. Nothing of it is real.
type invented struct {
	now func() time.Time
	// warned tells of a small craft advisory that is in the feed at an instant.
	warned func(now time.Time) (onset, ends time.Time, ok bool)
	// zones are where it holds; nil means AMZ997.
	zones func(now time.Time) []string
}

// windAt is the wind in knots and where it is from.
func windAt(t time.Time) (kn, from float64) {
	h := float64(t.Unix()) / 3600
	return 13 + 4*math.Sin(h/37) + 2*math.Sin(h/11), math.Mod(180+60*math.Sin(h/53), 360)
}

func (c invented) RoundTrip(r *http.Request) (*http.Response, error) {
	if err := r.Context().Err(); err != nil {
		return nil, err
	}
	switch path := r.URL.Path; {
	case strings.HasPrefix(path, "/alerts/active"):
		return c.json(r, c.alerts())
	case strings.HasPrefix(path, "/gridpoints/XAM/"):
		return c.json(r, c.gridpoint())
	case strings.HasPrefix(path, "/data/realtime2/") && strings.HasSuffix(path, ".txt"):
		return c.respond(r, "text/plain", c.station())
	}
	return response(r, http.StatusNotFound, `{"title":"Not Found","status":404}`), nil
}

func (c invented) json(r *http.Request, v any) (*http.Response, error) {
	b, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	return c.respond(r, "application/geo+json", string(b))
}

func (c invented) respond(r *http.Request, kind, body string) (*http.Response, error) {
	return &http.Response{
		StatusCode: http.StatusOK, Request: r, ContentLength: int64(len(body)), Body: io.NopCloser(strings.NewReader(body)),
		Header: http.Header{"Content-Type": {kind}, "Date": {c.now().UTC().Format(http.TimeFormat)}},
	}, nil
}

func (c invented) gridpoint() any {
	// A new forecast each six hours.
	issued := c.now().UTC().Truncate(6 * time.Hour)
	start := issued.Truncate(time.Hour)
	series := func(unit string, f func(time.Time) float64) any {
		var values []any
		for h := range 7 * 24 {
			at := start.Add(time.Duration(h) * time.Hour)
			values = append(values, map[string]any{"validTime": at.Format("2006-01-02T15:04:05+00:00") + "/PT1H", "value": math.Round(f(at)*100) / 100})
		}
		return map[string]any{"uom": unit, "values": values}
	}
	flat := func(v float64) func(time.Time) float64 { return func(time.Time) float64 { return v } }
	kn := func(t time.Time) float64 { v, _ := windAt(t); return v }
	return map[string]any{"type": "Feature", "properties": map[string]any{
		"updateTime": issued.Format("2006-01-02T15:04:05+00:00"), "validTimes": start.Format("2006-01-02T15:04:05+00:00") + "/P7D", "gridId": "XAM", "gridX": "60", "gridY": "80",
		"windSpeed":     series("wmoUnit:km_h-1", func(t time.Time) float64 { return 1.852 * kn(t) }),
		"windGust":      series("wmoUnit:km_h-1", func(t time.Time) float64 { return 1.852 * 1.25 * kn(t) }),
		"windDirection": series("wmoUnit:degree_(angle)", func(t time.Time) float64 { _, d := windAt(t); return d }),
		"waveHeight":    series("wmoUnit:m", func(t time.Time) float64 { return 0.06 * kn(t) }),
		"wavePeriod":    series("nwsUnit:s", flat(5)), "waveDirection": series("wmoUnit:degree_(angle)", flat(150)),
		"skyCover": series("wmoUnit:percent", flat(25)), "probabilityOfPrecipitation": series("wmoUnit:percent", flat(5)),
		"probabilityOfThunder": series("wmoUnit:percent", flat(3)), "visibility": series("wmoUnit:m", flat(18520)),
		"temperature": series("wmoUnit:degC", flat(24)),
	}}
}

func (c invented) alerts() any {
	features := []any{}
	if c.warned != nil {
		if onset, ends, ok := c.warned(c.now()); ok {
			stamp := func(t time.Time) string { return t.UTC().Format(time.RFC3339) }
			zones, affected := []string{"AMZ997"}, []string{}
			if c.zones != nil {
				zones = c.zones(c.now())
			}
			for _, z := range zones {
				affected = append(affected, "https://api.weather.gov/zones/forecast/"+z)
			}
			features = append(features, map[string]any{"type": "Feature", "id": "urn:invented:" + stamp(onset), "geometry": nil, "properties": map[string]any{
				"id": "urn:invented:" + stamp(onset), "event": "Small Craft Advisory", "status": "Actual", "messageType": "Alert",
				"affectedZones": affected, "geocode": map[string]any{"UGC": zones},
				"sent": stamp(onset.Add(-12 * time.Hour)), "effective": stamp(onset.Add(-12 * time.Hour)), "onset": stamp(onset), "ends": stamp(ends), "expires": stamp(ends),
				"senderName": "NWS Amparo (invented)", "headline": "Small Craft Advisory (invented)", "description": "Invented.",
				"parameters": map[string]any{"VTEC": []string{fmt.Sprintf("/O.NEW.KXAM.SC.Y.%04d.%s-%s/", onset.YearDay(), onset.UTC().Format("060102T1504Z"), ends.UTC().Format("060102T1504Z"))}},
			}})
		}
	}
	return map[string]any{"type": "FeatureCollection", "title": "invented", "updated": c.now().UTC().Format(time.RFC3339), "features": features}
}

func (c invented) station() string {
	var b strings.Builder
	b.WriteString("#YY  MM DD hh mm WDIR WSPD GST  WVHT   DPD   APD MWD   PRES  ATMP  WTMP  DEWP  VIS PTDY  TIDE\n" +
		"#yr  mo dy hr mn degT m/s  m/s     m   sec   sec degT   hPa  degC  degC  degC  nmi  hPa    ft\n")
	at := c.now().UTC().Truncate(10 * time.Minute)
	for range 36 {
		kn, from := windAt(at)
		fmt.Fprintf(&b, "%s %3.0f %4.1f %4.1f   0.8     5    MM  MM 1015.0  24.0  23.6    MM   MM   MM    MM\n", at.Format("2006 01 02 15 04"), from, kn*0.5144, 1.25*kn*0.5144)
		at = at.Add(-10 * time.Minute)
	}
	return b.String()
}

// daemonConfig is the configuration of the invented boat for the daemon, with
// more lines at its end.
func daemonConfig(t testing.TB, more string) *config.Config {
	t.Helper()
	c, err := config.Load("forecastd.yaml", []byte(daemonText+more))
	require.NoError(t, err)
	return c
}

const daemonText = `
ports:
  - name: Port Amparo
    at: 27.2000 N, 79.9000 W
    zone: America/New_York
    shore_normal: 90 deg
    grounds:
      - {name: the Shelf edge, at: "27.2 N, 79.83 W", depth: 150 ft, run: 20 min, gridpoint: {office: XAM, x: 60, y: 80}}
    zones: [{id: AMZ997, for: trip}]
    stations: [{id: XAMP1, for: [wind, upwind], anemometer: 12 m}]
boat: {name: Second Light, kind: center console, length: 39 ft, tower: 20 ft, crew: 3}
kites:
  - {name: light, min: 6 kn, max: 15 kn}
  - {name: all-round, min: 9 kn, max: 22 kn}
people:
  - name: the captain
    role: captain
    address: captain@example.com
    what: [evening call, morning, alerts, drafts, trouble]
sources:
  contact: captain@example.com
  coastal_text: {use: no}
  coops: {use: no}
  gridded: {use: no}
`
